"""Hold a drafted session: book its acts on the course and work out its minutes and blood."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import ceil

from service.domain.graft import NEEDS_OVERLAY, WANTS_OVERLAY, GraftKind
from service.domain.rule import Rule
from service.domain.session import CoverKind, CoverPlacement, Excision, Placement, Session
from service.planning.course import BedCover, Course, GraftDraft
from service.planning.donor_reserve import harvest_act
from service.planning.quantities import PlanningQuantities, cm2
from service.planning.session_filling import SessionDraft, released_by


def hold_session(course: Course, draft: SessionDraft, *, is_regraft: bool = False) -> None:
    """Add the draft's acts to the course. A regraft session is contingent and excises nothing."""
    _harvest(course, draft)
    for graft in draft.grafts:
        _place(course, draft, graft, is_regraft)
    _excise(course, draft)
    if not is_regraft:
        _cover_beds(course, draft)
    for graft in draft.grafts:
        _overlay(course, draft, graft)
    course.sessions.append(_session(course, draft, is_regraft))


def _harvest(course: Course, draft: SessionDraft) -> None:
    was_first = course.is_first_session
    for region, freed in released_by(course, draft).items():
        course.reserve.release_kept(region, freed, draft.day, was_first)
    for (_, thickness), (site, area) in _by_site_and_thickness(draft).items():
        for part in course.reserve.take(site, draft.day, area, thickness, was_first):
            course.harvests.append(harvest_act(part, draft.day, thickness))


def _by_site_and_thickness(draft: SessionDraft) -> dict:
    joined: dict = {}
    for harvest in draft.harvests:
        key = (harvest.site.site_id, harvest.skin_class.thickness)
        _, area = joined.get(key, (harvest.site, 0))
        joined[key] = (harvest.site, area + harvest.area)
    return joined


def _place(course: Course, draft: SessionDraft, graft: GraftDraft, is_regraft: bool) -> None:
    wound_id = graft.wound.wound_id
    is_island = graft.method.kind is GraftKind.ISLAND
    plates = Decimal(graft.skin_hundredths) / course.quantities.plate_hundredths if is_island else None
    course.placements.append(Placement(
        draft.day, wound_id, graft.method, cm2(graft.area), graft.skin_class,
        cm2(graft.skin_hundredths) / 10, plates, is_regraft))
    if graft.wound.loaded is not None:
        course.loaded_days.append((draft.day, graft.wound.loaded))
    if not is_regraft:
        on_bed = graft.area - graft.excised
        course.remaining[wound_id] -= graft.area
        course.open_bed[wound_id] -= on_bed
        course.ahead_bed[wound_id] = max(0, course.ahead_bed[wound_id] - on_bed)


def _overlay(course: Course, draft: SessionDraft, graft: GraftDraft) -> None:
    """Overlay where the method must have one, and where it wants one and stock is left over renewals."""
    spare = course.cover_left - course.bed_under_cover()
    if graft.method in NEEDS_OVERLAY or (graft.method in WANTS_OVERLAY and graft.area <= spare):
        _lay_cover(course, draft.day, graft.wound.wound_id, CoverKind.OVERLAY, graft.area)


def _excise(course: Course, draft: SessionDraft) -> None:
    for wound, area in draft.ahead:
        course.open_bed[wound.wound_id] += area
        course.ahead_bed[wound.wound_id] += area
    for wound_id, area in _excised_by_wound(draft).items():
        if area > 0:
            course.excisions.append(Excision(draft.day, wound_id, cm2(area)))


def _lay_cover(course: Course, day: int, wound_id: str, kind: CoverKind, area: int) -> None:
    until = day + course.quantities.cover_life_days
    course.cover_left -= area
    course.covers.append(CoverPlacement(day, wound_id, kind, cm2(area), until))
    if kind is CoverKind.TEMPORARY:
        course.covers_alive.append(BedCover(wound_id, until))


def _cover_beds(course: Course, draft: SessionDraft) -> None:
    """Cover what was excised ahead; renew cover that would end before half a life has passed."""
    newly_open = {wound.wound_id: area for wound, area in draft.ahead}
    half_life = course.quantities.cover_life_days // 2
    for wound in course.wounds:
        bed = course.ahead_bed[wound.wound_id]
        alive = [c for c in course.covers_alive if c.wound_id == wound.wound_id]
        ends = max((c.until_day for c in alive), default=draft.day)
        is_reached = not wound.reached.isdisjoint(draft.positions)
        needs_renewal = bed > 0 and is_reached and ends < draft.day + half_life
        area = bed if needs_renewal else newly_open.get(wound.wound_id, 0)
        if area > 0:
            _lay_cover(course, draft.day, wound.wound_id, CoverKind.TEMPORARY, area)


def _session(course: Course, draft: SessionDraft, is_contingent: bool) -> Session:
    quantities = course.quantities
    blood = ceil(_blood_ml(quantities, draft))
    beyond = max(0, blood - quantities.allowable_loss_ml)
    return Session(
        ordinal=len(course.sessions) + 1,
        day=draft.day,
        positions=draft.positions,
        is_contingent=is_contingent,
        procedure_minutes=ceil(procedure_minutes(quantities, draft)),
        blood_loss_ml=blood,
        units_to_have_ready=ceil(beyond / quantities.red_cell_unit_ml),
        binding_rules=tuple(rule for rule in Rule if rule in draft.binding),
    )


def _blood_ml(quantities: PlanningQuantities, draft: SessionDraft) -> Fraction:
    """Blood that the session may cost, cautious end, exactly. [mL]"""
    excised = [(g.wound, g.excised) for g in draft.grafts] + draft.ahead
    harvested = sum(h.area for h in draft.harvests)
    return (sum((quantities.excision_ml(wound.place) * area for wound, area in excised), Fraction(0))
            + quantities.blood.harvest_ml * harvested)


def _excised_by_wound(draft: SessionDraft) -> dict[str, int]:
    excised: dict[str, int] = {}
    for wound, area in [(g.wound, g.excised) for g in draft.grafts] + draft.ahead:
        excised[wound.wound_id] = excised.get(wound.wound_id, 0) + area
    return excised


def procedure_minutes(quantities: PlanningQuantities, draft: SessionDraft) -> Fraction:
    """Start to end of the operation: fixed part, area operated on, turns, special areas. [minutes]"""
    minutes = quantities.minutes
    operated = _excised_by_wound(draft)
    for wound_id in operated:
        placed = sum(g.area for g in draft.grafts if g.wound.wound_id == wound_id)
        operated[wound_id] = max(operated[wound_id], placed)
    wounds = [g.wound for g in draft.grafts] + [wound for wound, _ in draft.ahead]
    special = {w.special_region for w in wounds} - {None}
    turns = len(draft.positions) - 1
    return (minutes.fixed + minutes.per_percent * quantities.percent(sum(operated.values()))
            + minutes.turn * turns + minutes.special_area * len(special))
