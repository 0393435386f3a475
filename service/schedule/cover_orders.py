"""Temporary cover to have ready, by date: what the plan uses, and what it would use if it had it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from service.domain.burn_wound import Depth
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind, Quantity
from service.domain.graft import WANTS_OVERLAY
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Session
from service.evidence.library import Evidence
from service.wording.rounding import need_cm2

_USED = "The plan uses it in this session."
_WANTED = "No stock is stated. With it, dead tissue could be excised earlier or wide islands overlaid: plan again."


def cover_order_events(case: GraftingCase, plan: SettledPlan, evidence: Evidence) -> Iterator[CareEvent]:
    """An order for each session that uses cover; without a stated stock, one for what is missing."""
    done = {r.day for r in case.record.covers}
    number = len(done)
    for session in plan.firm_sessions:
        used = sum((c.area_cm2 for c in plan.covers if c.day == session.day), Decimal(0))
        wanted = _missing_cm2(session, case, plan) if case.request.cover_stock_cm2 is None else Decimal(0)
        if used or wanted:
            number += 1
            yield _event(number, session, used + wanted, _USED if used else _WANTED, evidence)


def _missing_cm2(session: Session, case: GraftingCase, plan: SettledPlan) -> Decimal:
    """Overlay for the wide islands of this session and, in the first, full-thickness burn left unexcised."""
    overlaid = {(c.wound_id, c.day) for c in plan.covers if c.kind is CoverKind.OVERLAY}
    missing = sum(
        (
            p.area_cm2
            for p in plan.placements
            if p.day == session.day
            and not p.is_regraft
            and p.method in WANTS_OVERLAY
            and (p.wound_id, p.day) not in overlaid
        ),
        Decimal(0),
    )
    if session != plan.firm_sessions[0]:
        return missing
    excised = sum((e.area_cm2 for e in plan.excisions if e.day <= session.day), Decimal(0))
    eschar = sum((w.unexcised_cm2 for w in case.wounds if w.depth is Depth.FULL_THICKNESS), Decimal(0))
    return missing + max(eschar - excised, Decimal(0))


def _event(number: int, session: Session, area_cm2: Decimal, detail: str, evidence: Evidence) -> CareEvent:
    row = evidence.row("cover-order-lead-days")
    day = max(session.day - int(row.value), 0)
    latest = max(session.day - int(row.low), 0)
    return CareEvent(
        EventKind.ORDER_COVER,
        "cover-stock",
        number,
        day,
        day,
        latest,
        session.ordinal,
        "",
        quantities=(Quantity("cover-area", area_cm2, None, None, "cm2", (row.row_id,)),),
        values=(("area", need_cm2(area_cm2)), ("detail", detail)),
    )
