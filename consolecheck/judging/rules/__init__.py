"""All rules, in the order in which they are asked. Every rule runs every time."""

from consolecheck.judging.rules import (
    air,
    cooling,
    figures,
    gainsaid,
    identity,
    job,
    load,
    plausible,
    power,
    seen,
    service,
    settled,
    temperature,
    text,
)
from consolecheck.judging.rules.rule import Rule

ALL: tuple[Rule, ...] = (
    *text.RULES,
    *plausible.RULES,
    *figures.RULES,
    *gainsaid.RULES,
    *job.RULES,
    *identity.RULES,
    *power.RULES,
    *load.RULES,
    *cooling.RULES,
    *temperature.RULES,
    *settled.RULES,
    *air.RULES,
    *service.RULES,
    *seen.RULES,
)
ALONE: tuple[Rule, ...] = job.alone(ALL)
"""Those that are asked where there is no capture before the swap."""
IDS = frozenset(rule.id for rule in (*ALL, *ALONE))
ESSENTIAL = frozenset(
    (
        "power.status",
        "cooling.status",
        "identity.replaced",
        "text.unread",
        "text.complete",
        "text.dialect",
        job.BASELINE.id,
    )
)
"""Rules that no acceptance can make advisory: without them `verified` would mean nothing.

Whether a swap may go without a baseline is a setting of its own, `[job] without_baseline`.
"""
