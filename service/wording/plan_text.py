"""The answer as text for a surgeon: at most 80 columns, no name of the patient."""

from __future__ import annotations

from collections.abc import Iterable

from service.domain.answer import PlanAnswer
from service.domain.finding import Finding, Severity
from service.domain.out_of_scope import REFUSALS
from service.evidence.library import Evidence, load_evidence
from service.wording.beside_text import write_beside
from service.wording.course_text import write_aftercare, write_calendar, write_closure, write_ledger
from service.wording.findings import word_finding
from service.wording.findings_text import write_findings
from service.wording.fluid_text import write_fluid_check
from service.wording.forecast_text import write_forecast
from service.wording.learning_text import write_learning
from service.wording.notes_text import write_cautions, write_sources, write_variants
from service.wording.plan_difference import write_difference
from service.wording.plan_header import TITLE, write_header
from service.wording.reserve_chart import write_reserve_chart
from service.wording.session_text import write_session
from service.wording.text_table import heading, paragraph
from service.wording.theatre_list import word_preparation, word_team
from service.wording.what_if_text import write_what_if


def write_plan_text(answer: PlanAnswer) -> str:
    """Everything a reviewer reads: basis, sessions, reserve, calendar, closure, findings, sources.

    Parameters
    ----------
    answer : PlanAnswer
        A verified plan, or the answer that there is none.

    Returns
    -------
    str
        Lines of at most 80 characters, ending in a line break. Dates as ISO date with weekday.
    """
    if answer.plan.reason_no_plan in REFUSALS:
        return write_refusal_text(Finding(answer.plan.reason_no_plan, Severity.HIGH))
    evidence = load_evidence()
    lines = write_header(answer)
    lines += write_difference(answer)
    lines += write_what_if(answer)
    for session in answer.plan.settled.sessions:
        lines += write_session(answer, session, evidence)
    lines += _preparation(answer, evidence)
    lines += write_ledger(answer)
    lines += write_reserve_chart(answer)
    lines += write_calendar(answer)
    lines += write_aftercare(answer, evidence)
    lines += write_closure(answer)
    lines += write_forecast(answer)
    lines += write_learning(answer.learned)
    lines += write_fluid_check(answer)
    lines += write_findings(answer)
    lines += write_variants(answer)
    lines += write_beside(answer)
    lines += write_sources(answer, evidence)
    lines += write_cautions()
    return "\n".join(lines) + "\n"


def _preparation(answer: PlanAnswer, evidence: Evidence) -> list[str]:
    """The rules of preparation, once for all sessions."""
    codes = dict.fromkeys(code for listed in answer.theatre_lists for code in listed.preparation)
    lines = heading("Theatre: team, room, preparing and placing the grafts") if codes else []
    for sentence in word_team(answer.theatre_lists) if codes else ():
        lines += paragraph(sentence, "  ", "  ")
    for code in codes:
        lines += paragraph(word_preparation(code, evidence), "  ", "  ")
    return lines


def write_refusal_text(refusal: Finding) -> str:
    """Why there is no plan on purpose, in one sentence, and what to do if that is wrong."""
    words = word_finding(refusal)
    lines = [TITLE, "=" * len(TITLE), *paragraph(words.detail), *paragraph(words.mitigation)]
    return "\n".join([*lines, *write_cautions()]) + "\n"


def write_data_required_text(missing: Iterable[str]) -> str:
    """What is missing before a plan can be made, one sentence each, and the cautions."""
    lines = [TITLE, "=" * len(TITLE), *paragraph("No plan yet: the record lacks what planning needs.")]
    lines += heading("Missing")
    for sentence in dict.fromkeys(missing):
        lines += paragraph(sentence, "  ", "  ")
    return "\n".join([*lines, *write_cautions()]) + "\n"
