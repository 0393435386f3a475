"""The rule of thumb: session by session, the most urgent wound first, no wider than needed.

The course is played at each level of expansion, and the one that leaves least open, then
costs least in weighted open days, is kept. It obeys every rule; an optimiser may replace
only this choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.planning.calendar import next_theatre_day
from service.planning.candidates import LADDER
from service.planning.course import Course, Policy, start_course
from service.planning.hold_session import hold_session
from service.planning.losses import reserve_for_losses
from service.planning.objective import weighted_open_days
from service.planning.positions import best_draft
from service.planning.quantities import PlanningQuantities, tenths
from service.planning.session_filling import SessionDraft, aim_by_policy
from service.planning.settle import settle
from service.planning.wound_facts import WoundFacts
from service.preferences.library import Preferences


@dataclass(frozen=True)
class ThumbPlan:
    """A settled course with the policy that made it and what it costs. [%TBSA-days]"""

    plan: SettledPlan
    policy: Policy
    objective_days: Decimal


def _day_to_try(course: Course, day: int | None) -> int | None:
    """The day itself, unless a session on it would leave too little rest before a decided day."""
    if day is None:
        return None
    rest = course.quantities.case.limits.rest_days
    for decided in course.decided_days:
        if day < decided < day + rest:
            return next_theatre_day(course.quantities.case, decided)
    return day


def _is_worth_a_session(course: Course, draft: SessionDraft, policy: Policy, wanted: int, may_wait: bool) -> bool:
    """Big enough, the last of it, decided by the caller, or nothing to wait for."""
    enough = float(course.quantities.percent(draft.grafted)) >= policy.smallest_session_percent
    return enough or draft.grafted >= wanted or not may_wait or draft.day in course.decided_days


def play_course(quantities: PlanningQuantities, wounds: tuple[WoundFacts, ...], policy: Policy) -> Course:
    """Add sessions until nothing plannable is open, nothing more can be done, or the horizon ends."""
    course = start_course(quantities, wounds)
    carry_on(course, policy, quantities.case.first_session_day)
    return course


def carry_on(course: Course, policy: Policy, from_day: int) -> None:
    """Add sessions from a day on, as ``play_course`` does."""
    case = course.quantities.case
    day = next_theatre_day(case, from_day)
    while (day := _day_to_try(course, day)) is not None and (demand := course.demand()):
        draft = best_draft(course, aim_by_policy(course, day, policy, demand))
        event = course.next_event(day)
        later = None if event is None else next_theatre_day(case, event)
        wanted = sum(demand.values())
        if draft is not None and _is_worth_a_session(course, draft, policy, wanted, may_wait=later is not None):
            hold_session(course, draft)
            day = next_theatre_day(case, day + case.limits.rest_days)
        else:
            day = later


def cover_holds(course: Course) -> bool:
    """Whether no bed that the course excised ahead is left when its cover ends, and the stock covers them all."""
    if course.cover_left < 0:
        return False
    open_beds = [wound_id for wound_id, area in course.ahead_bed.items() if area > 0]
    if open_beds:
        return False
    lapses = {}
    for cover in course.covers:
        lapses.setdefault(cover.wound_id, []).append(cover)
    return all(_is_covered_through(course, wound_id) for wound_id in lapses)


def _is_covered_through(course: Course, wound_id: str) -> bool:
    """Replay one wound: on each day its bed excised ahead is at most what is under cover."""
    days = sorted({a.day for acts in (course.excisions, course.placements) for a in acts if a.wound_id == wound_id})
    still_open = Decimal(0)
    for day in range(days[0], days[-1]):
        excised = sum(e.area_cm2 for e in course.excisions if e.wound_id == wound_id and e.day == day)
        placed = sum(p.area_cm2 for p in course.placements
                     if p.wound_id == wound_id and p.day == day and not p.is_regraft)
        still_open = max(Decimal(0), still_open + excised - placed)
        covered = sum(c.area_cm2 for c in course.covers
                      if c.wound_id == wound_id and c.kind == "temporary" and c.day <= day <= c.until_day)
        if still_open > covered:
            return False
    return True


def _changes(quantities: PlanningQuantities, best: ThumbPlan) -> Iterator[dict]:
    """What may better the best level: joints last where skin is short, smaller sessions, excising ahead."""
    if best.plan.open_cm2 > 0:
        yield {"joints_last": True}
    yield {"smallest_session_percent": float(quantities.preferences.value("smallest-session", "late"))}
    if quantities.case.request.cover_stock_cm2:
        yield {"excises_ahead": True}


class _Search:
    """Courses played so far, each policy once."""

    def __init__(self, quantities: PlanningQuantities) -> None:
        self.quantities = quantities
        self.wounds = tuple(WoundFacts(w, quantities) for w in quantities.case.wounds)
        self.pace = float(quantities.preferences.value("smallest-session"))
        self.by_level: dict[int, ThumbPlan] = {}

    def evaluate(self, policy: Policy) -> ThumbPlan | None:
        """Play, reserve for losses, settle; ``None`` when a bed excised ahead would lose its cover."""
        course = play_course(self.quantities, self.wounds, policy)
        if not cover_holds(course):
            return None
        plan = settle(course, reserve_for_losses(course, policy))
        return ThumbPlan(plan, policy, weighted_open_days(self.quantities, plan))

    def at(self, index: int) -> ThumbPlan:
        if index not in self.by_level:
            self.by_level[index] = self.evaluate(Policy(LADDER[index], smallest_session_percent=self.pace))
        return self.by_level[index]

    def first_level(self) -> int:
        """The narrowest level at which one harvest of all free skin would cover what is open."""
        need = sum(w.area for w in self.wounds)
        supply = sum(tenths(s.area_cm2) for s in self.quantities.case.donor_sites) * self.quantities.kept_fraction
        for index, level in enumerate(LADDER):
            if supply * self.quantities.ratio(level) >= need:
                return index
        return len(LADDER) - 1

    def best_level(self) -> ThumbPlan:
        """Walk the ladder from the first level, downhill; wider to the end while anything stays open."""
        index = self.first_level()
        best = self.at(index)
        for step in (-1, 1):
            beside = index + step
            while 0 <= beside < len(LADDER):
                is_better = _rank(self.at(beside)) < _rank(best)
                best = min(best, self.at(beside), key=_rank)
                if not is_better and (step < 0 or best.plan.open_cm2 == 0):
                    break
                beside += step
        return best


def _rank(found: ThumbPlan) -> tuple:
    """Least area open at the horizon first, then the weighted open days; then fewer sessions."""
    return found.plan.open_cm2, found.objective_days, len(found.plan.sessions)


def best_by_rule_of_thumb(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> ThumbPlan:
    """The best course near the narrowest sufficient expansion, then each change that betters it."""
    search = _Search(PlanningQuantities(case, evidence, preferences))
    best = search.best_level()
    for change in _changes(search.quantities, best):
        other = search.evaluate(replace(best.policy, **change))
        if other is not None:
            best = min(best, other, key=_rank)
    return best


def plan_by_rule_of_thumb(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> SettledPlan:
    """The settled plan of the rule of thumb."""
    return best_by_rule_of_thumb(case, evidence, preferences).plan


def courses_by_rule_of_thumb(case: GraftingCase, evidence: Evidence, preferences: Preferences,
                             most: int) -> tuple[SettledPlan, ...]:
    """Courses that other weights may choose from: levels near the sufficient one, small and large sessions.

    Parameters
    ----------
    case, evidence, preferences : what to plan, and with which numbers and judgements
    most : how many courses are played at most; the same courses come in the same order
    """
    search = _Search(PlanningQuantities(case, evidence, preferences))
    first, row = search.first_level(), preferences.row("smallest-session")
    levels = sorted(range(len(LADDER)), key=lambda index: (abs(index - first), index))
    paces = (search.pace, float(row.high), float(preferences.value("smallest-session", "late")))
    policies = [Policy(LADDER[index], smallest_session_percent=pace) for index in levels for pace in paces]
    found = (search.evaluate(policy) for policy in policies[:most])
    return tuple(dict.fromkeys(one.plan for one in found if one is not None))


def widest_by_rule_of_thumb(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> SettledPlan:
    """The course of the widest level that leaves least open: a quick answer to whether a case closes at all."""
    search = _Search(PlanningQuantities(case, evidence, preferences))
    best = search.at(len(LADDER) - 1)
    for change in ({"joints_last": True}, {"excises_ahead": True}):
        if best.plan.open_cm2 == 0:
            break
        best = min(best, search.evaluate(replace(best.policy, **change)) or best, key=_rank)
    return best.plan
