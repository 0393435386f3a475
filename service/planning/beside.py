"""What stands beside a plan: other plans to choose from, and what other weights would change."""

from __future__ import annotations

from collections.abc import Callable

from service.domain.alternative import BesidePlan
from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.planning.alternatives import find_alternatives
from service.planning.decisions import unkept_decisions
from service.planning.figures import course_figures
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import courses_by_rule_of_thumb
from service.planning.sensitivity import find_sensitivity
from service.preferences.library import Preferences


def look_beside(case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences, *,
                is_verified: Callable[[SettledPlan], bool]) -> BesidePlan:
    """Courses of the rule of thumb weighed against a plan, whoever made it.

    Parameters
    ----------
    case, plan : what was planned, and how
    evidence, preferences : numbers and weights
    is_verified : the verdict of verification; a plan that it refuses is not shown
    """
    quantities = PlanningQuantities(case, evidence, preferences)
    figures = course_figures(quantities, plan)
    if not plan.sessions:
        return BesidePlan(figures)
    played = courses_by_rule_of_thumb(case, evidence, preferences, preferences.integer("courses-beside"))
    courses = [(course, course_figures(quantities, course)) for course in played
               if course != plan and course.open_cm2 <= plan.open_cm2 and not unkept_decisions(case, course)]
    return BesidePlan(
        figures,
        find_alternatives(figures, courses, preferences, is_verified),
        find_sensitivity(case, (plan, figures), courses, evidence, preferences),
    )
