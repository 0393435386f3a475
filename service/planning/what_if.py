"""What if: the plan under other conditions beside the plan of record."""

from __future__ import annotations

from service.domain.case import GraftingCase
from service.domain.course_figures import CourseFigures
from service.domain.plan import GraftPlan, PlanOutcome
from service.domain.what_if import WhatIf, WhatIfAnswer
from service.evidence.library import Evidence
from service.planning.figures import course_figures
from service.planning.quantities import PlanningQuantities
from service.preferences.library import Preferences


def is_better(plan: GraftPlan, other: GraftPlan) -> bool:
    """Less left open, then fewer weighted days; a plan is better than none."""
    if PlanOutcome.NO_PLAN in (plan.outcome, other.outcome):
        return plan.outcome is not PlanOutcome.NO_PLAN and other.outcome is PlanOutcome.NO_PLAN
    return (plan.settled.open_cm2, plan.objective_days) < (other.settled.open_cm2, other.objective_days)


def compare_what_if(asked: WhatIf, recommended: tuple[GraftingCase, GraftPlan], other: tuple[GraftingCase, GraftPlan],
                    evidence: Evidence, preferences: Preferences, *, holds_without: bool) -> WhatIfAnswer:
    """Both plans in figures, by the same weights.

    Parameters
    ----------
    asked : the conditions
    recommended, other : case and verified plan, of record and under the conditions
    evidence, preferences : numbers and weights
    holds_without : whether the other plan is better and keeps every rule without the conditions too
    """

    def figures(case: GraftingCase, plan: GraftPlan) -> CourseFigures | None:
        if plan.outcome is PlanOutcome.NO_PLAN:
            return None
        return course_figures(PlanningQuantities(case, evidence, preferences), plan.settled)

    return WhatIfAnswer(asked, *other, figures(*recommended), figures(*other), holds_without)
