"""What if, in a few numbers: what a script reads."""

from __future__ import annotations

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.course_figures import CourseFigures
from service.wording.what_if_text import word_conditions, word_difference


def summarise_what_if(answer: PlanAnswer) -> dict:
    """Conditions, difference in words, and both plans; areas in cm², dates as ISO dates, cost in %TBSA-days."""
    what_if = answer.what_if
    return {
        "conditions": word_conditions(what_if.asked),
        "outcome": what_if.plan.outcome,
        "difference": word_difference(answer),
        "plan_of_record": _summarise(answer.case, what_if.recommended),
        "what_if": _summarise(what_if.case, what_if.figures),
    }


def _summarise(case: GraftingCase, figures: CourseFigures | None) -> dict | None:
    if figures is None:
        return None
    return {
        "sessions": [
            {
                "date": case.date_of(day).isoformat(),
                "harvest_cm2": {h.site_id: h.area_cm2 for h in figures.harvests if h.day == day},
            }
            for day in figures.session_days
        ],
        "expected_closure": None if figures.closure_day is None else case.date_of(figures.closure_day).isoformat(),
        "open_cm2": figures.open_cm2,
        "skin_taken_cm2": figures.harvested_cm2,
        "grafted_cm2": {str(method): area for method, area in figures.area_by_method},
        "cost_percent_tbsa_days": figures.objective_days,
    }
