"""Temporary cover and templates on the patient: looked at, renewed or removed, found ready."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind
from service.evidence.library import Evidence
from service.schedule.infected_beds import INFECTED
from service.schedule.windows import Window, is_past, keep_from_today, read_window
from service.wording.places import place_in_words


@dataclass(frozen=True)
class _Cover:
    """Temporary cover on one wound, from ``day`` through ``until_day``; area in cm²."""

    wound: BurnWound
    number: int
    day: int
    until_day: int
    area_cm2: Decimal


def cover_check_events(case: GraftingCase, plan: SettledPlan, evidence: Evidence) -> Iterator[CareEvent]:
    """A look at each piece of temporary cover, and its end of life where no graft has replaced it."""
    check_row, life_row = evidence.row("cover-check-days"), evidence.row("cover-life")
    lead_days = int(evidence.value("theatre-merge-days"))
    for cover in _covers(case, plan):
        check = cover.day + int(check_row.value)
        if 0 <= check < min(cover.until_day, _replaced_day(cover, plan)):
            look = Window(check, check, cover.until_day, (check_row.row_id, life_row.row_id))
            yield _event(EventKind.CHECK_COVER, cover.wound, cover.number, look)
        if cover.until_day < _replaced_day(cover, plan):
            life = Window(cover.until_day - lead_days, cover.until_day, cover.until_day, (life_row.row_id,))
            yield _event(EventKind.RENEW_COVER, cover.wound, cover.number, life)


def _covers(case: GraftingCase, plan: SettledPlan) -> Iterator[_Cover]:
    """Cover that stays on the patient first, then what the plan lays, counted for each wound."""
    for wound in case.wounds:
        recorded = sorted({case.day_of(r.day) for r in case.record.covers if r.place == wound.place})
        comes_off = wound.bed_state in INFECTED
        if wound.covered_cm2 and wound.covered_until_day is not None and not comes_off:
            laid_day = max(recorded, default=wound.covered_until_day)
            yield _Cover(wound, len(recorded), laid_day, wound.covered_until_day, wound.covered_cm2)
        planned = sorted((c for c in plan.covers if c.wound_id == wound.wound_id and c.kind is CoverKind.TEMPORARY),
                         key=lambda c: c.day)
        for number, cover in enumerate(planned, start=1 + len(recorded)):
            yield _Cover(wound, number, cover.day, cover.until_day, cover.area_cm2)


def _replaced_day(cover: _Cover, plan: SettledPlan) -> int:
    """Day by which grafts have taken the place of the cover; the day after its life if they have not."""
    grafted = Decimal(0)
    for placement in sorted((p for p in plan.placements if not p.is_regraft), key=lambda p: p.day):
        if placement.wound_id == cover.wound.wound_id and cover.day < placement.day <= cover.until_day:
            grafted += placement.area_cm2
            if grafted >= cover.area_cm2:
                return placement.day
    return cover.until_day + 1


def template_events(case: GraftingCase, plan: SettledPlan, evidence: Evidence) -> Iterator[CareEvent]:
    """A look at each bed under a template, from the day on which it should be ready."""
    days = evidence.row("template-graft-days")
    slack = read_window(days).latest - read_window(days).earliest
    for wound in case.wounds:
        if wound.bed_state is BedState.UNDER_TEMPLATE and wound.ready_from_day is not None:
            ready = wound.ready_from_day
            first_graft = min((p.day for p in plan.placements if p.wound_id == wound.wound_id), default=ready + slack)
            window = Window(ready, ready, max(min(first_graft, ready + slack), ready), (days.row_id,))
            yield _event(EventKind.CHECK_TEMPLATE, wound, 1, window,
                         (("graft_days", f"{days.low:f}-{days.high:f}"),))


def _event(kind: EventKind, wound: BurnWound, number: int, window: Window, values: tuple = ()) -> CareEvent:
    kept = keep_from_today(window)
    return CareEvent(
        kind, wound.wound_id, number, kept.day, kept.earliest, kept.latest, None, place_in_words(wound.place.key),
        priority="urgent" if is_past(window) else "routine", values=values, series=f"{wound.wound_id}:{kind}",
        sources=window.sources,
    )
