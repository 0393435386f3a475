"""What verification says about a plan that it refuses."""

from __future__ import annotations

from dataclasses import dataclass

from service.domain.rule import Rule


@dataclass(frozen=True)
class Violation:
    """One rule that one subject breaks.

    ``subject`` is the id of the wound, site or region, or ``session-<ordinal>``; ``day`` is the
    planning day on which it happens, ``None`` when the whole plan is meant.
    """

    rule: Rule
    subject: str
    day: int | None = None


def in_reading_order(violations: set[Violation]) -> tuple[Violation, ...]:
    """Rules in their table order, then subjects, then days: the same tuple for the same faults."""
    rank = {rule: place for place, rule in enumerate(Rule)}

    def key(violation: Violation) -> tuple[int, str, bool, int]:
        day = violation.day
        return rank[violation.rule], violation.subject, day is not None, day or 0

    return tuple(sorted(violations, key=key))
