"""All rules, in the order in which they are asked. Every rule runs every time."""

from consolecheck.judging.rules import cooling, identity, load, power, service, temperature, text
from consolecheck.judging.rules.rule import Rule

ALL: tuple[Rule, ...] = (
    *text.RULES,
    *identity.RULES,
    *power.RULES,
    *load.RULES,
    *cooling.RULES,
    *temperature.RULES,
    *service.RULES,
)
IDS = frozenset(rule.id for rule in ALL)
ESSENTIAL = frozenset(
    ("power.status", "cooling.status", "identity.replaced", "text.unread", "text.complete", "text.dialect")
)
"""Rules that no acceptance can make advisory: without them `verified` would mean nothing."""
