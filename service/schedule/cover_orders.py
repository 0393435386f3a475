"""Temporary cover to have ready, by date: reserved from stock, else ordered; and what a plan with stock would use."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from service.domain.burn_wound import ZERO, Depth
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind, Quantity
from service.domain.graft import WANTS_OVERLAY
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Session
from service.evidence.library import Evidence
from service.wording.dates import date_in_words
from service.wording.rounding import need_cm2

_USED = "The plan uses it in this session."
_WANTED = "No stock is stated. With it, dead tissue could be excised earlier or wide islands overlaid: plan again."


def cover_order_events(case: GraftingCase, plan: SettledPlan, evidence: Evidence) -> Iterator[CareEvent]:
    """One for each session that uses cover; without a stated stock, one for what is missing.

    The stock serves the sessions in their order; what it does not cover is to be ordered.
    """
    stock = case.request.cover_stock_cm2
    left = stock or ZERO
    number = len({r.day for r in case.record.covers})
    for session in plan.firm_sessions:
        used = sum((c.area_cm2 for c in plan.covers if c.day == session.day), ZERO)
        wanted = _missing_cm2(session, case, plan) if stock is None else ZERO
        if used or wanted:
            number += 1
            need = _Need(used + wanted, min(used, left), _USED if used else _WANTED)
            left -= need.from_stock_cm2
            yield _event(number, session, need, case, evidence)


@dataclass(frozen=True)
class _Need:
    """Cover for one session. Areas in cm²."""

    area_cm2: Decimal
    from_stock_cm2: Decimal
    why: str

    @property
    def to_order_cm2(self) -> Decimal:
        return self.area_cm2 - self.from_stock_cm2


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
        ZERO,
    )
    if session != plan.firm_sessions[0]:
        return missing
    excised = sum((e.area_cm2 for e in plan.excisions if e.day <= session.day), ZERO)
    eschar = sum((w.unexcised_cm2 for w in case.wounds if w.depth is Depth.FULL_THICKNESS), ZERO)
    return missing + max(eschar - excised, ZERO)


def _event(number: int, session: Session, need: _Need, case: GraftingCase, evidence: Evidence) -> CareEvent:
    row = evidence.row("cover-order-lead-days")
    day = max(session.day - int(row.value), 0)
    latest = max(session.day - int(row.low), 0)
    quantities = [Quantity("cover-area", need.area_cm2, None, None, "cm2", (row.row_id,))]
    if need.to_order_cm2:
        quantities.append(Quantity("cover-to-order", need.to_order_cm2, None, None, "cm2", ()))
    return CareEvent(
        EventKind.ORDER_COVER,
        "cover-stock",
        number,
        day,
        day,
        latest,
        session.ordinal,
        "",
        quantities=tuple(quantities),
        values=_words(need, date_in_words(case.date_of(latest))),
    )


def _words(need: _Need, by_date: str) -> tuple[tuple[str, str], ...]:
    """Whether to order or only to reserve, how much, and until when."""
    if not need.to_order_cm2:
        act, source, area = "Reserve", " from stock", need.area_cm2
        detail = "Reserve it from the stated stock."
    else:
        act, source, area = "Order", "", need.to_order_cm2
        detail = f"Order {need_cm2(area)} by {by_date}."
        if need.from_stock_cm2:
            detail = f"Reserve {need_cm2(need.from_stock_cm2)} from the stated stock. {detail}"
    return (
        ("act", act), ("source", source), ("area", need_cm2(area)), ("total", need_cm2(need.area_cm2)),
        ("detail", f"{detail} {need.why}"),
    )
