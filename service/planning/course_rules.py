"""The rules of a course as rows of the linear model, one function a rule.

Each session limit is multiplied by whether the session is held: without it a fraction of a
session could carry a full load. What is left out here (smallest pieces and harvests, whole
plates and regions, lying after a graft, skin kept for a use, decided harvests) only makes the
model allow more.
"""

from __future__ import annotations

import numpy as np

from service.domain.body_region import Position
from service.domain.graft import GraftKind, GraftMethod, Thickness
from service.planning.course_classes import WoundClass
from service.planning.course_model import Course, Facts, reached_only, session_minutes, session_positions
from service.planning.wound_facts import largest_loss
from service.solver.limits import SEARCH
from service.solver.linear_model import ABSENT


def place_each_wound_once(course: Course) -> None:
    """Grafted and left open add up to the wound."""
    areas = np.array([w.area for w in course.facts.wounds])
    rows = course.model.rows(len(areas), lower=areas, upper=areas)
    course.model.put(rows[course.option_class][:, None], course.grafted, 1)
    course.model.put(rows, course.left_open, 1)


def count_sessions(course: Course) -> None:
    """Sessions up to a slot: what the search over days branches on."""
    rows = course.model.rows(len(course.slots), lower=0, upper=0)
    course.model.put(rows, course.held_up_to, 1)
    course.model.put(rows[1:], course.held_up_to[:-1], -1)
    course.model.put(rows, course.held, -1)


def nothing_without_a_session(course: Course) -> None:
    """Area grafted on a class in a slot ≤ its area, if a session is held."""
    areas = np.array([w.area for w in course.facts.wounds])
    rows = course.model.rows((len(areas), len(course.slots)), upper=0)
    course.model.put(rows[course.option_class], course.grafted, 1)
    course.model.put(rows, course.held[None, :], -areas[:, None])


def session_area(course: Course) -> None:
    """Grafted ≤ limit and excised ≤ limit."""
    limits = course.facts.quantities.case.limits
    percent = course.facts.percent / course.usable
    grafted = course.model.rows(len(course.slots), upper=0)
    course.model.put(grafted, course.grafted, 1)
    course.model.put(grafted, course.held, -10 * float(limits.grafted_cm2) / percent)
    excised = course.model.rows(len(course.slots), upper=0)
    course.model.put(excised, course.grafted, _excises(course)[:, None])
    course.model.put(excised, course.excised, 1)
    course.model.put(excised, course.held, -10 * float(limits.excised_cm2) / percent)


def _excises(course: Course) -> np.ndarray:
    """By option: 1 where grafting excises the same area, else 0."""
    unexcised = np.array([w.unexcised > 0 for w in course.facts.wounds])
    return (course.is_tied & unexcised)[course.option_class].astype(float)


def session_blood(course: Course) -> None:
    """Loss by excision and by harvest ≤ limit."""
    loss = np.array([w.excision_ml for w in course.facts.wounds])
    harvest = float(course.facts.quantities.blood.harvest_ml) * course.facts.percent
    rows = course.model.rows(len(course.slots), upper=0)
    limit = float(course.facts.quantities.case.limits.blood_ml)
    scale = 1 / max(limit, harvest)
    course.model.put(rows, course.grafted, (scale * loss[course.option_class] * _excises(course))[:, None])
    course.model.put(rows, course.excised, scale * loss[:, None])
    for harvested in (course.thin, course.medium):
        course.model.put(rows, harvested, scale * harvest)
    course.model.put(rows, course.held, -scale * limit * course.usable)


def session_minutes_rule(course: Course) -> None:
    """Minutes per area operated on and for special areas ≤ what the day has beyond its fixed part.

    A wound excised and grafted in one session counts once: the larger of both.
    """
    budget = course.facts.quantities.whole_budget
    per_percent = budget.per_tenth_minutes * course.facts.percent
    special = np.array([0 if w.special_area is None else budget.special_minutes / w.special_area
                        for w in course.facts.wounds])
    rows = course.model.rows(len(course.slots), upper=0)
    course.model.put(rows, course.grafted, (per_percent + special)[course.option_class][:, None])
    beyond = _excised_beyond_grafts(course)
    course.model.put(rows, beyond, per_percent)
    course.model.put(rows, course.held, -session_minutes(course) * course.usable)
    course.minutes_rows = rows


def _excised_beyond_grafts(course: Course) -> np.ndarray:
    """Columns of what is excised in a session beyond what is grafted in it, by class and slot."""
    areas = np.array([w.unexcised for w in course.facts.wounds])
    can_be = (course.excised != ABSENT) & (course.facts.cover_stock > 0)
    beyond = course.model.columns(can_be.shape, upper=areas[:, None] * can_be)
    rows = course.model.rows(can_be.shape, upper=0)
    course.model.put(rows, np.where(can_be, course.excised, ABSENT), 1)
    course.model.put(rows, beyond, -1)
    course.model.put(rows[course.option_class], np.where(can_be[course.option_class], course.grafted, ABSENT), -1)
    return beyond


def skin_balance(course: Course) -> None:
    """Skin that grafts need ≤ skin harvested, by thickness; skin for the face from above the clavicle."""
    options = course.options
    for thickness, harvested in ((Thickness.THIN, course.thin), (Thickness.MEDIUM, course.medium)):
        needs = np.array([o.skin if o.thickness is thickness else 0.0 for o in options])
        rows = course.skin_rows[thickness] = course.model.rows(len(course.slots), upper=0)
        course.model.put(rows, course.grafted, needs[:, None] * _with_plates(course))
        course.model.put(rows, harvested, -1)
    face = [w.needs_skin_from_above for w in course.facts.wounds]
    if any(face):
        above = np.array([float(d.above_clavicle) for d in course.facts.donors])
        rows = course.model.rows(len(course.slots), upper=0)
        course.model.put(rows, course.grafted, (course.option_skin * np.array(face)[course.option_class])[:, None])
        course.model.put(rows, course.medium, -above[:, None])


def _with_plates(course: Course) -> np.ndarray:
    """By option and slot: skin over what islands need, for plates that are not used up in later sessions."""
    quantities = course.facts.quantities
    plate = quantities.plate_hundredths / 10 / course.facts.percent
    islands = np.array([o.method.kind is GraftKind.ISLAND for o in course.options], float)
    is_later = (np.arange(len(course.slots)) > 0) & (course.choices.later_margin > 0)
    return 1 + SEARCH.later_plate_share * plate * islands[:, None] * is_later


def donor_regrowth(course: Course) -> None:
    """Skin taken and not healed by a slot ≤ skin that could be taken at all by then."""
    slots, first = course.slots, course.facts.first_session_day
    course.regrowth_rows = np.zeros((len(course.facts.donors), len(slots)), int)
    for d, donor in enumerate(course.facts.donors):
        free = np.array([sum(area for area, free_day, recorded in donor.supply if free_day <= last and (
            recorded or first is None or last > first)) for last in slots.last])
        rows = course.model.rows(len(slots), upper=free * (1 - course.choices.first_margin))
        course.regrowth_rows[d] = rows
        for thickness, harvested in ((Thickness.THIN, course.thin), (Thickness.MEDIUM, course.medium)):
            age = slots.last[:, None] - slots.first[None, :]
            is_healing = (age < donor.healing[thickness]) & (np.arange(len(slots))[None, :] <= np.arange(
                len(slots))[:, None])
            course.model.put(rows[:, None], harvested[d][None, :], is_healing)


def donor_harvest_count(course: Course) -> None:
    """Σ harvested ≤ area times harvests left; what exceeds the fresh skin is a repeat, and heals longer."""
    harvests = np.array([d.harvests for d in course.facts.donors])
    fresh = np.array([d.fresh for d in course.facts.donors])
    repeat = course.model.columns(len(harvests), upper=harvests, cost=[
        max(0.0, d.repeat_cost) for d in course.facts.donors])
    counted = course.model.rows(len(harvests), upper=harvests)
    repeated = course.model.rows(len(harvests), upper=fresh)
    for harvested in (course.thin, course.medium):
        course.model.put(counted[:, None], harvested, 1)
        course.model.put(repeated[:, None], harvested, 1)
    course.model.put(repeated, repeat, -1)


def skin_for_losses(course: Course) -> None:
    """What is lost of grafts needs skin within the harvests left, or stays open to the horizon.

    A region's loss below the smallest that is regrafted heals by dressing. A bound takes the
    straight line from there to the region's largest loss, which is never above what is needed.
    """
    facts, level = course.facts, course.choices.regraft_level
    classes = [w for w in facts.wounds if w.is_reserved]
    if not classes or not facts.donors:
        return
    slope, free = (1.0, 0.0) if level is not None else _least_need(facts, classes)
    is_in = np.array([w.is_reserved for w in facts.wounds])
    needs = np.array([_regraft_skin(w, level) if w.is_reserved else 0.0 for w in facts.wounds])
    least = needs[is_in].min()
    if level is None:
        needs = np.where(is_in, least, 0.0)
    is_in, needs = is_in[course.option_class], needs[course.option_class]
    lost = np.array([1 - o.take for o in course.options])
    day_of_loss = course.slots.last if level is None else course.slots.first
    stays_open = np.array([_days_open_if_lost(facts, classes, day) for day in day_of_loss])
    unreserved = course.model.columns(len(course.slots), upper=sum(w.area for w in classes), cost=stays_open)
    rows = course.model.rows(len(course.slots), upper=0)
    course.model.put(rows, unreserved, 1)
    course.model.put(rows, course.grafted[is_in], -lost[is_in][:, None])
    owed = course.model.columns(1, upper=facts.owed_skin / least, cost=stays_open[:1])  # lost before, not regrafted
    within = course.model.rows(1, upper=sum(d.harvests for d in facts.donors) - facts.owed_skin + free * least)
    for harvested in (course.thin, course.medium):
        course.model.put(within, harvested, 1)
    course.model.put(within, course.grafted[is_in], (slope * lost * needs)[is_in][:, None])
    course.model.put(within, unreserved, -least)
    course.model.put(within, owed, -least)


def _days_open_if_lost(facts: Facts, classes: list[WoundClass], day: int) -> float:
    """Least that a loss without a regraft costs more than one with it. [%TBSA-days per %TBSA]"""
    return max(0.0, min(w.weight * (facts.horizon - facts.quantities.regraft_closure_day(float(day), o.method))
                        for w in classes for o in w.options))


def _regraft_skin(wound: WoundClass, level: GraftMethod | None) -> float:
    """Skin to harvest per area regrafted: by the level of a plan, or as little as any method needs."""
    if level is None:
        return min(o.skin for o in wound.options)
    return wound.wounds[0].at_level(level).harvest_per_area


def _least_need(facts: Facts, classes: list[WoundClass]) -> tuple[float, float]:
    """Slope of the need over the loss of all regions together, and the loss at which it begins. [%TBSA]"""
    quantities = facts.quantities
    largest = {w.place.region_key: float(largest_loss(quantities, w.place.region_key))
               for one in classes for w in one.wounds}
    least = float(quantities.regraft_percent)
    slope = min((loss / (loss - least) for loss in largest.values() if loss > least), default=1.0)
    return slope, slope * least * len(largest)


def graft_on_ready_bed(course: Course) -> None:
    """Bed at the end of a slot: what was there, and excised, less what was grafted."""
    count = len(course.slots)
    ready = np.zeros((len(course.facts.wounds), count))
    ready[:, 0] = [w.ready for w in course.facts.wounds]
    free = [c for c, tied in enumerate(course.is_tied) if not tied]
    if not free:
        return
    rows = np.full((len(course.facts.wounds), count), 0)
    rows[free] = course.model.rows((len(free), count), lower=ready[free], upper=ready[free])
    course.model.put(rows[free], course.bed[free], 1)
    course.model.put(rows[free][:, 1:], course.bed[free][:, :-1], -1)
    course.model.put(rows[free], course.excised[free], -1)
    is_free = ~course.is_tied[course.option_class]
    course.model.put(rows[course.option_class[is_free]], course.grafted[is_free], 1)


def excise_each_wound_once(course: Course) -> None:
    """Excised in all sessions ≤ what was not excised at first, where excision is apart from grafting."""
    apart = _excised_apart(course)
    rows = course.model.rows(int(apart.sum()), upper=np.array([w.unexcised for w in course.facts.wounds])[apart])
    course.model.put(rows[:, None], course.excised[apart], 1)


def _excised_apart(course: Course) -> np.ndarray:
    """By class: whether it may be excised apart from grafting."""
    return (course.excised != ABSENT).any(axis=1)


def cover_excised_bed(course: Course) -> None:
    """Bed excised and not grafted since lies under cover from stock, laid in sessions; a wide mesh needs stock too.

    Cover costs to the end of its life, however soon it is grafted on. That it stays on its wound is left out.
    A course that lets a cover end pays for it as for area left open.
    """
    facts, slots, model = course.facts, course.slots, course.model
    before = sum(area for area, _ in facts.covers)
    stock = facts.cover_stock
    ahead = stock if course.choices.excises_ahead else 0.0
    open_bed = _newly_open(course, ahead + before)
    laid = model.columns(len(slots), upper=ahead, cost=_cost_of_cover(course))
    bare = model.columns(len(slots), upper=before, cost=course.choices.open_cost)
    until = np.append(slots.first[1:], facts.horizon) - 1
    is_earlier = slots.first[None, :] <= slots.first[:, None]
    serves = is_earlier & (until[:, None] - slots.last[None, :] <= facts.quantities.cover_life_days)
    rows = model.rows(len(slots), upper=[sum(area for area, end in facts.covers if end >= day) for day in until])
    model.put(rows, open_bed, 1)
    model.put(rows, bare, -1)
    model.put(rows[:, None], laid[None, :], -serves.astype(float))
    in_session = model.rows(len(slots), upper=0)
    model.put(in_session, laid, 1)
    model.put(in_session, course.held, -ahead)
    used = model.rows(1, upper=stock)
    model.put(used, laid, 1)
    model.put(used, course.grafted, np.array([o.needs_overlay for o in course.options], float)[:, None])


def _cost_of_cover(course: Course) -> np.ndarray:
    """To the end of its life, or of the plan, by the slot it is laid in. [%TBSA-days per %TBSA]"""
    facts = course.facts
    days = np.minimum(facts.quantities.cover_life_days, facts.horizon - course.slots.last)
    return float(facts.quantities.preferences.value("cover-weight")) * days


def _newly_open(course: Course, most: float) -> np.ndarray:
    """Columns, by class and slot, of bed newly open at its end: before, and excised, less grafted."""
    before = np.array([w.newly_open for w in course.facts.wounds])
    counts = _excised_apart(course) | (before > 0)
    shape = int(counts.sum()), len(course.slots)
    open_bed = course.model.columns(shape, upper=most)
    rows, at_first = np.zeros(course.excised.shape, int), np.arange(len(course.slots)) == 0
    rows[counts] = course.model.rows(shape, upper=-before[counts][:, None] * at_first)
    is_counted = counts[course.option_class]
    course.model.put(rows[counts], course.excised[counts], 1)
    course.model.put(rows[course.option_class[is_counted]], course.grafted[is_counted], -1)
    course.model.put(rows[counts][:, 1:], open_bed[:, :-1], 1)
    course.model.put(rows[counts], open_bed, -1)
    return open_bed


def rest_between_sessions(course: Course) -> None:
    """At most one session within the days of rest, where slots are single days."""
    slots, rest = course.slots, course.facts.quantities.case.limits.rest_days
    span = slots.last[None, :] - slots.first[:, None]
    later = np.arange(len(slots))[None, :] >= np.arange(len(slots))[:, None]
    together = (span < rest) & later
    crowded = together.sum(axis=1) > 1
    rows = course.model.rows(int(crowded.sum()), upper=1)
    course.model.put(rows[:, None], course.held[None, :], together[crowded])


def position(course: Course) -> None:
    """Where a session has one position: what is reached lying supine only, or prone only, excludes the other."""
    single = session_positions(course.facts, course.slots) == 1
    if not single.any():
        return
    facts, budget = course.facts, course.facts.quantities.whole_budget
    most_graft = budget.graft / course.facts.percent
    most_skin = sum(d.area for d in facts.donors)
    lying = {p: course.model.columns(len(course.slots), upper=np.where(single, course.slots.most, 0)) for p in Position}
    one = course.model.rows(len(course.slots), upper=0)
    course.model.put(one, course.held, np.where(single, -1.0, 0.0))
    for pose, columns in lying.items():
        course.model.put(one, columns, 1)
        wounds, sites = reached_only(facts, pose)
        rows = course.model.rows(len(course.slots), upper=0)
        course.model.put(rows, course.grafted, (wounds[course.option_class][:, None] & single).astype(float))
        course.model.put(rows, columns, -most_graft)
        rows = course.model.rows(len(course.slots), upper=0)
        for harvested in (course.thin, course.medium):
            course.model.put(rows, harvested, (sites[:, None] & single).astype(float))
        course.model.put(rows, columns, -most_skin)


def open_at_most(course: Course) -> None:
    """One row for the area left open: its bound is the area that a plan leaves, more is dear beyond any plan."""
    areas = sum(w.area for w in course.facts.wounds)
    dearest = max((w.weight for w in course.facts.wounds), default=1.0) * course.facts.horizon
    excess = course.model.columns(1, upper=areas, cost=10 * dearest)
    row = course.model.rows(1)
    course.model.put(row, course.left_open, 1)
    course.model.put(row, excess, -1)
    course.open_row = int(row[0])


RULES = (
    place_each_wound_once, count_sessions, nothing_without_a_session, session_area, session_blood,
    session_minutes_rule, skin_balance, donor_regrowth, donor_harvest_count, skin_for_losses, graft_on_ready_bed,
    excise_each_wound_once, cover_excised_bed, rest_between_sessions, position, open_at_most,
)


def add_rules(course: Course) -> Course:
    for rule in RULES:
        rule(course)
    return course
