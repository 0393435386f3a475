"""What if: one Parameters entry at the end of the collection.

Parameters are no request and no record, no server stores them, and nothing of the plan points to
them: whatever a system does with CarePlans and Tasks, it cannot take a what-if for the plan.
"""

from __future__ import annotations

from service.domain.course_figures import CourseFigures
from service.domain.what_if import WhatIfAnswer
from service.fhir.identity import Identity
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame
from service.fhir.write_quantity import write_quantity
from service.wording.what_if_text import NOTICE, word_conditions, word_difference

WHAT_IF = "what-if"
TBSA_DAYS = "%.d"


def write_what_if(frame: AnswerFrame, what_if: WhatIfAnswer) -> tuple[Identity, dict]:
    """Conditions, difference in words, and both plans in figures."""
    parameters = [
        {"name": "notice", "valueString": NOTICE},
        *({"name": "condition", "valueString": words} for words in word_conditions(what_if.asked)),
        {"name": "outcome", "valueCode": str(what_if.plan.outcome)},
        *({"name": "difference", "valueString": words} for words in word_difference(frame.answer)),
        *(
            {"name": name, "part": _write_figures(frame, figures)}
            for name, figures in (("plan-of-record", what_if.recommended), (WHAT_IF, what_if.figures)) if figures
        ),
    ]
    return frame.identify(WHOLE_PATIENT, WHAT_IF), {"resourceType": "Parameters", "parameter": parameters}


def _write_figures(frame: AnswerFrame, figures: CourseFigures) -> list[dict]:
    closed = [] if figures.closure_day is None else [
        {"name": "expected-closure", "valueDate": frame.date(figures.closure_day)}]
    return [
        {"name": "sessions", "valueInteger": len(figures.session_days)},
        *closed,
        {"name": "still-open", "valueQuantity": write_quantity(figures.open_cm2, "cm2")},
        {"name": "skin-taken", "valueQuantity": write_quantity(figures.harvested_cm2, "cm2")},
        {"name": "cost", "valueQuantity": write_quantity(figures.objective_days, TBSA_DAYS)},
        *(
            {"name": "grafted", "part": [
                {"name": "method", "valueCode": str(method)},
                {"name": "area", "valueQuantity": write_quantity(area, "cm2")}]}
            for method, area in figures.area_by_method
        ),
        *(_write_session(frame, figures, day) for day in figures.session_days),
    ]


def _write_session(frame: AnswerFrame, figures: CourseFigures, day: int) -> dict:
    harvests = [
        {"name": "harvest", "part": [
            {"name": "site", "valueString": harvest.site_id},
            {"name": "area", "valueQuantity": write_quantity(harvest.area_cm2, "cm2")}]}
        for harvest in figures.harvests if harvest.day == day
    ]
    return {"name": "session", "part": [{"name": "date", "valueDate": frame.date(day)}, *harvests]}
