"""Fixtures as proof: every dialect against its recorded cases, hand-written claims first."""
