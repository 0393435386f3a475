"""Narrative: the essential plan for a person, as allowed XHTML. Every text is escaped."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from service.domain.finding import Finding, Severity
from service.domain.session import Session
from service.fhir.write_acts import name_session, word_variants, write_acts, write_session_note
from service.fhir.write_frame import AnswerFrame
from service.wording.beside_text import ALTERNATIVES, WEIGHTS, word_alternatives, word_sensitivity
from service.wording.cautions import CAUTIONS
from service.wording.dates import date_in_words
from service.wording.findings import word_finding
from service.wording.places import place_in_words
from service.wording.plan_difference import PLAN_CHANGED, word_plan_difference
from service.wording.rounding import need_cm2, percent_tbsa

XHTML = "http://www.w3.org/1999/xhtml"

def write_narrative(frame: AnswerFrame) -> dict:
    """Sessions with their acts, expected closure, what stays open, severe findings, cautions."""
    parts = [
        _paragraph(f"Staged grafting plan, proposal as of {date_in_words(frame.case.day_zero)}", bold=True),
        _paragraph(_write_extent(frame)),
        *_write_list("Since the plan before:", word_plan_difference(frame.answer)),
        *(part for s in frame.answer.plan.settled.sessions for part in _write_session(frame, s)),
        _paragraph(_write_closure(frame)),
        *_write_list("Still open at the end of the planned course:", _write_still_open(frame)),
        *_write_list("If an open question turns out otherwise:", word_variants(frame.answer)),
        *_write_list(f"{ALTERNATIVES}:", word_alternatives(frame.answer)),
        *_write_list(f"{WEIGHTS}:", word_sensitivity(frame.answer)),
        *_write_list("To settle or to know first:", (_write_finding(f) for f in _severe(frame))),
        *_write_list("Cautions:", CAUTIONS),
    ]
    return {"status": "generated", "div": f'<div xmlns="{XHTML}">{"".join(parts)}</div>'}


def _paragraph(text: str, *, bold: bool = False) -> str:
    return f"<p><b>{escape(text)}</b></p>" if bold else f"<p>{escape(text)}</p>"


def _write_list(heading: str, lines: Iterable[str]) -> list[str]:
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return [_paragraph(heading, bold=True), f"<ul>{items}</ul>"] if items else []


def _write_extent(frame: AnswerFrame) -> str:
    case = frame.case
    return (
        f"Burned {percent_tbsa(case.burn_percent_tbsa)}, "
        f"to be grafted {percent_tbsa(case.graftable_percent_tbsa)}; "
        f"body surface {case.body_surface_m2:.2f} m²."
    )


def _write_session(frame: AnswerFrame, session: Session) -> list[str]:
    heading = f"{name_session(session)}, {date_in_words(frame.case.date_of(session.day))}"
    acts = write_acts(frame.case, frame.answer.plan.settled, session)
    return [*_write_list(heading, acts), _paragraph(write_session_note(frame.answer.plan, session))]


def _write_closure(frame: AnswerFrame) -> str:
    day = frame.answer.plan.closure_day
    if day is None:
        return "Not every wound is expected to close within the planned horizon."
    when = date_in_words(frame.case.date_of(day))
    return f"Last wound expected to be closed on {when}; closure is confirmed by a record only."


def _write_still_open(frame: AnswerFrame) -> list[str]:
    plan = frame.answer.plan.settled
    return [f"{place_in_words(o.wound_id)}: {need_cm2(o.area_cm2)}" for o in plan.still_open]


def _severe(frame: AnswerFrame) -> list[Finding]:
    return [f for f in frame.answer.findings if f.severity is not Severity.LOW and f.code != PLAN_CHANGED]


def _write_finding(finding: Finding) -> str:
    words = word_finding(finding)
    return f"{words.title}: {words.detail}"
