"""What must be settled before a release agent is applied to carriers."""

from __future__ import annotations

from datetime import date

from service.domain.case import GraftingCase
from service.domain.patient import AllergyAnswer
from service.evidence.library import Evidence

_ALLERGY_QUESTIONS = {
    AllergyAnswer.PRESENT: ("sulfonamide-allergy",),
    AllergyAnswer.NOT_RECORDED: ("allergy-not-recorded",),
    AllergyAnswer.ABSENT: (),
}


def release_agent_questions(case: GraftingCase, day: int, evidence: Evidence) -> tuple[str, ...]:
    """Codes of the questions: allergy, and the age of a very young infant on that day.

    An imprecise birth date counts as the youngest that it allows.
    """
    questions = _ALLERGY_QUESTIONS[case.record.patient.sulfonamide_allergy]
    youngest_months = whole_months(case.record.patient.birth_date.latest(), case.date_of(day))
    if youngest_months < evidence.value("release-agent-question-months"):
        questions = (*questions, "release-agent-in-young-infant")
    return questions


def whole_months(born: date, when: date) -> int:
    """Completed months from birth to a day."""
    months_per_year = date.max.month
    return (when.year - born.year) * months_per_year + when.month - born.month - (when.day < born.day)
