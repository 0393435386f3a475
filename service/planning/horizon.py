"""How far a plan looks ahead: further, as long as that changes its first two sessions or leaves less open.

With too near an end a plan spends on what can be closed by then the skin that a later wound
needs. Where everything closes well before the end, no later day can better the first sessions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from service.domain.case import GraftingCase
from service.domain.finding import Finding, Severity
from service.domain.plan import SettledPlan
from service.domain.plan_difference import CourseOutline
from service.planning.calendar import next_theatre_day
from service.planning.compare_outlines import compare_outlines
from service.planning.conflict_findings import closable_open_cm2
from service.planning.course_outline import outline_course
from service.planning.optimise import OptimisedPlan
from service.preferences.library import Preferences

_FIRST_SESSIONS = 2

#: Plans a case; with the plan of a nearer horizon it is that one unless a better is found.
Plan = Callable[[GraftingCase, SettledPlan | None], OptimisedPlan]


@dataclass(frozen=True)
class FarSeeing:
    """A case with the horizon that its plan needs, and the plan.

    ``from_day``: the horizon at first. ``tried_day``: the furthest one planned for; the same as
    that of the case when there was no reason to look further, or no further day is allowed.
    """

    case: GraftingCase
    found: OptimisedPlan
    from_day: int
    tried_day: int

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a reader has to know: that the horizon was moved, and that moving it again changes nothing."""
        day = self.case.horizon_day
        found = []
        if day > self.from_day:
            found.append(Finding("horizon-moved", Severity.LOW, (
                ("from_days", str(self.from_day)), ("days", str(day)))))
        if self.tried_day > day:
            found.append(Finding("horizon-far-enough", Severity.LOW, (
                ("days", str(day)), ("tried_days", str(self.tried_day)))))
        return tuple(found)


def plan_far_enough(case: GraftingCase, preferences: Preferences, plan: Plan) -> FarSeeing:
    """Plan to the horizon of the case, then further until the first two sessions no longer change.

    Parameters
    ----------
    case : what to plan, with the horizon to begin with
    preferences : steps of the horizon, the furthest one, and from which area on sessions differ
    plan : plans a case
    """
    furthest, step = int(preferences.row("horizon-days").high), preferences.integer("horizon-step")
    from_day, found = case.horizon_day, plan(case, None)
    while case.horizon_day < furthest and _may_be_too_near(case, found.plan, step):
        longer = replace(case, horizon_day=min(case.horizon_day + step, furthest))
        if next_theatre_day(longer, case.horizon_day + 1) is None:
            break
        further = plan(longer, found.plan)
        if not _is_changed(case, found.plan, further.plan, preferences):
            return FarSeeing(case, found, from_day, longer.horizon_day)
        case, found = longer, further
    return FarSeeing(case, found, from_day, case.horizon_day)


def _may_be_too_near(case: GraftingCase, plan: SettledPlan, step: int) -> bool:
    """Whether something is left that a later day might serve, or the last session comes near the end."""
    is_left = bool(plan.unreserved) or closable_open_cm2(case, plan) > 0
    return is_left or max((s.day for s in plan.sessions), default=0) + step > case.horizon_day


def _is_changed(case: GraftingCase, before: SettledPlan, after: SettledPlan, preferences: Preferences) -> bool:
    """Whether the first two sessions are others, or less is left open."""
    outlines = [_first_sessions(case, plan) for plan in (before, after)]
    return after.open_cm2 < before.open_cm2 or bool(
        compare_outlines(*outlines, preferences.value("smallest-harvest")))


def _first_sessions(case: GraftingCase, plan: SettledPlan) -> CourseOutline:
    return CourseOutline(outline_course(case, plan, None).sessions[:_FIRST_SESSIONS])
