"""What the workbench shows: what was understood, what can be changed, the plan, and the notes of its next session."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from service.domain.answer import PlanAnswer
from service.domain.search_news import SearchNews
from service.sheet.comparison import ComparedRow, compare_alternatives, compare_plans, name_alternatives
from service.sheet.course_page import draw_course, draw_donor_course, draw_wound_course
from service.sheet.inputs import Inputs
from service.sheet.theatre_list_page import DoneField, done_fields
from service.wording.beside_text import word_alternatives
from service.wording.findings import WordedFinding
from service.wording.findings_text import word_findings
from service.wording.languages import Language, Words, localise
from service.wording.notes_text import word_variant
from service.wording.plan_difference import PLAN_CHANGED, word_plan_difference
from service.wording.plan_header import word_outcome
from service.wording.search_text import word_best, word_gap, word_step


@dataclass(frozen=True)
class ReadPart:
    """What was understood of the record, and what was not, in words."""

    understood: Sequence[str] = ()
    set_aside: Sequence[str] = ()
    notes: Sequence[str] = ()
    missing: Sequence[str] = ()
    wrong: Sequence[str] = ()
    refusal: str = ""


@dataclass(frozen=True)
class ResultPart:
    """A plan beside the one before it, drawn and in numbers; ``fields`` are those of the next session."""

    outcome: Sequence[str]
    titles: Sequence[str]
    rows: Sequence[ComparedRow]
    alternatives: Sequence[str]
    other_titles: Sequence[str]
    other_rows: Sequence[ComparedRow]
    has_sessions: bool
    wound_map: str
    donor_map: str
    timeline: str
    ordinals: Sequence[int]
    changed: Sequence[str]
    findings: Sequence[WordedFinding]
    done_ordinal: int
    done_day: str
    fields: Sequence[DoneField]


@dataclass(frozen=True)
class WorkbenchPage:
    """One state of the page; ``record`` is the request, packed, which the page carries and nobody keeps.

    ``problem``: what did not work, in the language of the page; ``typed``: the fields as they
    were filled in, where one of them cannot be read; ``faults``: what is wrong in the
    request, in English as FHIR answers have it. ``is_closed``: tokens are asked for, which a page cannot send.
    """

    record: str = ""
    is_closed: bool = False
    sample: str = ""
    as_of: str = ""
    curl: str = ""
    problem: Sequence[str] = ()
    typed: Mapping[str, str] = field(default_factory=dict)
    faults: Sequence[str] = ()
    read: ReadPart | None = None
    inputs: Inputs | None = None
    result: ResultPart | None = None


def make_result(answer: PlanAnswer, before: PlanAnswer | None, _: Words) -> ResultPart:
    """The plan, side by side with the one before if there is one."""
    case, plan = answer.case, answer.plan
    sessions = plan.settled.sessions
    first = next(iter(plan.settled.firm_sessions), None)

    return ResultPart(
        outcome=word_outcome(answer, _),
        titles=[_("This plan"), *([_("The plan before")] if before else [])],
        rows=compare_plans([answer, *([before] if before else [])], _),
        alternatives=[*(word_variant(answer, variant, _) for variant in plan.variants), *word_alternatives(answer, _)],
        other_titles=[_("This plan"), *name_alternatives(answer, _)],
        other_rows=compare_alternatives(answer, _),
        has_sessions=bool(sessions),
        wound_map=draw_wound_course(answer, "workbench", _),
        donor_map=draw_donor_course(answer, "workbench", _),
        timeline=draw_course(answer, _).svg if sessions else "",
        ordinals=[s.ordinal for s in sessions],
        changed=word_plan_difference(answer, _),
        findings=word_findings((f for f in answer.findings if f.code != PLAN_CHANGED), _),
        done_ordinal=first.ordinal if first else 0,
        done_day=case.date_of(first.day).isoformat() if first else "",
        fields=list(done_fields(answer, first)) if first else [],
    )


def present_progress(news: SearchNews, language: Language) -> dict[str, str | float | None]:
    """How far a plan has come: what is done, the plan in hand, and the gap as a share."""
    _ = Words(language)
    return {
        "step": word_step(news, _),
        "best": localise(f"{word_best(news, _)}; {word_gap(news, _)}", language),
        "gap": None if news.gap is None else float(news.gap),
    }
