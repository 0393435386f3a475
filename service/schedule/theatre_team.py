"""Who is needed in theatre, and which times somebody keeps."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from service.domain.dressing import Quantity
from service.domain.session import Session
from service.domain.theatre_list import TheatreRole, Timer
from service.evidence.library import Evidence, EvidenceRow

#: Required whatever the number of people; no head count is published.
_REQUIRED = ("anaesthetist-throughout", "burn-experience", "named-for-staff-and-equipment", "surgeon-from-arrival")
_TEAM = ("surgeon", "surgical-assistant", "anaesthetist", "anaesthetic-assistant", "scrub", "circulating")


def theatre_roles(session: Session, evidence: Evidence, *, has_islands: bool) -> Iterator[TheatreRole]:
    """Requirements first, then people as estimates."""
    yield from (TheatreRole(code) for code in _REQUIRED)
    extra = (("plate-preparation",) if has_islands else ()) + (("turn",) if len(session.positions) > 1 else ())
    for role in (*_TEAM, *extra):
        yield TheatreRole(role, _quantity("people", evidence.row("theatre-people", role)))


def theatre_timers(evidence: Evidence, *, has_islands: bool, has_excision: bool) -> Iterator[Timer]:
    """Drying of the adhesive, and pads left on an excised bed. [min]"""
    if has_excision:
        yield Timer("haemostasis-pads", _quantity("timer", evidence.row("haemostasis-pad-minutes")))
    if has_islands:
        yield Timer("adhesive-drying", _quantity("timer", evidence.row("adhesive-drying-minutes")))


def _quantity(name: str, row: EvidenceRow) -> Quantity:
    low, high = (None if end is None else Decimal(end) for end in (row.low, row.high))
    return Quantity(name, row.value, low, high, row.unit, (row.row_id,))
