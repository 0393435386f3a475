"""Grafts with names that last: those on the patient and those that the plan places."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.burn_wound import BurnWound
from service.domain.case import GraftingCase
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from service.domain.session import Placement


@dataclass(frozen=True)
class Graft:
    """One graft on one wound, counted from the first that the wound ever had.

    The count goes on from what the record holds, so that a graft keeps its name once it has
    been placed. ``placement`` and ``session`` are ``None`` for a graft already on the patient;
    ``read_day`` is the day on which its take was recorded.
    """

    key: str
    wound: BurnWound
    method: GraftMethod
    area_cm2: Decimal
    placed_day: int
    is_read: bool
    read_day: int | None
    session: int | None
    placement: Placement | None


def number_grafts(case: GraftingCase, plan: SettledPlan) -> tuple[Graft, ...]:
    """Every graft of the case and of the firm sessions, in the order of the wounds."""
    sessions = {session.day: session.ordinal for session in plan.firm_sessions}
    return tuple(graft for wound in case.wounds for graft in _grafts_of_wound(wound, plan, sessions))


def _grafts_of_wound(wound: BurnWound, plan: SettledPlan, sessions: dict[int, int]) -> list[Graft]:
    placed = sorted(wound.placed, key=lambda g: (g.placed_day, g.method, g.area_cm2))
    planned = sorted(
        (p for p in plan.placements if p.wound_id == wound.wound_id and not p.is_regraft),
        key=lambda p: (p.day, p.method, p.area_cm2),
    )
    grafts = [
        Graft(
            _key(wound, n),
            wound,
            g.method,
            g.area_cm2,
            g.placed_day,
            g.take_fraction is not None,
            g.take_day,
            None,
            None,
        )
        for n, g in enumerate(placed, start=1)
    ]
    return grafts + [
        Graft(_key(wound, n), wound, p.method, p.area_cm2, p.day, False, None, sessions[p.day], p)
        for n, p in enumerate(planned, start=1 + len(placed))
    ]


def _key(wound: BurnWound, number: int) -> str:
    return f"{wound.wound_id}:graft:{number}"
