"""The words of a card: a summary that a hurried reader can act on, and the detail behind it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent, EventKind, Quantity
from service.domain.plan import PlanOutcome
from service.domain.session import Session
from service.domain.situation import DueItem, Situation
from service.wording.catalogue import load_table
from service.wording.cautions import CAUTIONS
from service.wording.dates import date_in_words
from service.wording.events import event_title
from service.wording.findings import word_finding
from service.wording.notes_text import word_variant
from service.wording.plan_header import word_outcome
from service.wording.reasons import word_reasons, word_why
from service.wording.rounding import need_cm2, need_cm2_with_interval, number_in_words

#: A summary is shorter than this, https://cds-hooks.hl7.org/2.0/#card-attributes.
SUMMARY_LIMIT = 140
#: More lines than this under one heading are counted, not shown: the link has them all.
_MOST_LINES = 5
_SHORT_DATE = "%m-%d"
_MARKDOWN = re.compile(r"([\\`*_\[\]<>#|~])")


@dataclass(frozen=True)
class DataDay:
    """The day of the newest datum that a card rests on, seen from the as-of day."""

    day: date
    moment: str  # as precisely as it was recorded
    age_days: int


def word_summary(answer: PlanAnswer, headline: DueItem, others_count: int) -> str:
    """One line under ``SUMMARY_LIMIT`` characters: what, how much, when.

    Parameters
    ----------
    answer : PlanAnswer
    headline : DueItem
        The most decisive thing that the reader does not know yet.
    others_count : int
        Further things that are due.
    """
    if headline.session is not None:
        parts = _session_parts(answer, headline.session)
    elif headline.event is not None:
        parts = _event_parts(answer.case, headline)
    else:
        words = word_finding(headline.finding)
        parts = [f"{words.title}.", words.detail]
    return fit_summary(parts, f" {others_count} more due." if others_count else "")


def fit_summary(parts: Iterable[str], ending: str) -> str:
    """As many of the parts as there is room for, the first at any rate, then the ending."""
    first, *rest = parts
    text = first if len(first) < SUMMARY_LIMIT else f"{first[:SUMMARY_LIMIT - 4]}..."
    for part in [*rest, ending.strip()]:
        if part and len(text) + len(part) + 1 < SUMMARY_LIMIT:
            text = f"{text} {part}"
    return text


def _session_parts(answer: PlanAnswer, session: Session) -> list[str]:
    """``Session 2026-03-13 Fri: harvest 1,869 cm² (1,513-2,143), graft 2,396 cm². Red cells ready: 6.``"""
    when = date_in_words(answer.case.date_of(session.day))
    harvested = _find_quantity(answer, session, EventKind.HARVEST_SKIN, "harvest-area")
    grafted = _find_quantity(answer, session, EventKind.PLACE_GRAFT, "graft-area")
    excised = _find_quantity(answer, session, EventKind.EXCISE_WOUND, "excised-area")
    acts = [
        *([f"harvest {_with_interval(harvested)}"] if harvested else []),
        *([f"graft {_with_interval(grafted)}"] if grafted else []),
        *([f"excise {_with_interval(excised)}"] if excised else []),
    ]
    blood = f"Blood loss up to {number_in_words(Decimal(session.blood_loss_ml))} mL."
    return [f"Session on {when}: {', '.join(acts)}.", blood]


def _with_interval(quantity: Quantity) -> str:
    return need_cm2_with_interval(quantity.value, quantity.low, quantity.high)


def _find_quantity(answer: PlanAnswer, session: Session, kind: EventKind, name: str) -> Quantity | None:
    found = (q for e in answer.events if e.kind is kind and e.session == session.ordinal for q in e.quantities)
    return next((quantity for quantity in found if quantity.name == name), None)


def _event_parts(case: GraftingCase, item: DueItem) -> list[str]:
    """``Read graft: right lower leg, front. Due 2026-03-13 Fri (03-12 to 03-19). 420 cm² there.``"""
    title, dates = f"{event_title(item.event)}.", f"{_urgency(item.event)} {_due_dates(case, item.event)}."
    return [title, dates, *([f"{need_cm2(item.treated_cm2)} there."] if item.treated_cm2 else [])]


def _urgency(event: CareEvent) -> str:
    if event.priority == "routine":
        return "Due"
    return "Urgent, due" if event.kind is EventKind.INSPECT_BED else "Overdue, due"


def _due_dates(case: GraftingCase, event: CareEvent) -> str:
    first, last = (case.date_of(day) for day in (event.earliest_day, event.latest_day))
    due = date_in_words(case.date_of(event.day))
    return due if first == last else f"{due} ({first:{_SHORT_DATE}} to {last:{_SHORT_DATE}})"


def word_detail(answer: PlanAnswer, situation: Situation, headline: DueItem, data: DataDay | None) -> str:
    """Plain Markdown: how old the data are, what is due, why, what would change the plan, how sure it is."""
    session = headline.session or next((i.session for i in situation.items if i.session is not None), None)
    blocks = [
        word_data_line(data),
        list_in_markdown("Due", (_due_line(answer, item) for item in situation.items)),
        list_in_markdown("Why", _why(answer, session)),
        list_in_markdown("What would change the plan", _would_change(answer, session)),
        " ".join(map(escape_markdown, (*word_outcome(answer)[:2], *CAUTIONS[:2]))),
    ]
    return "\n\n".join(block for block in blocks if block)


def word_stamp(data: DataDay | None) -> str:
    """``Based on data of 2026-03-12 07:00.``, and how old they are when that is more than a day."""
    if data is None:
        return "Based on data without a date."
    old = f" They are {data.age_days} days old: record what has changed since." if data.age_days > 1 else ""
    return f"Based on data of {data.moment}.{old}"


def word_data_line(data: DataDay | None) -> str:
    """The stamp as Markdown, in bold when the data are old."""
    text = escape_markdown(word_stamp(data))
    return f"**{text}**" if data is None or data.age_days > 1 else text


def escape_markdown(text: str) -> str:
    """The text with every character that Markdown reads as form made plain."""
    return _MARKDOWN.sub(r"\\\1", text)


def list_in_markdown(heading: str, lines: Iterable[str]) -> str:
    """A heading in bold and its lines, the first few of them; nothing when there are none."""
    told = list(dict.fromkeys(lines))
    if not told:
        return ""
    shown = [f"- {escape_markdown(line)}" for line in told[:_MOST_LINES]]
    if len(told) > _MOST_LINES:
        shown.append(f"- and {len(told) - _MOST_LINES} more")
    return "\n".join([f"**{heading}**", "", *shown])


def _due_line(answer: PlanAnswer, item: DueItem) -> str:
    if item.finding is not None:
        words = word_finding(item.finding)
        return f"{words.title}. {words.detail} {words.mitigation}"
    if item.session is not None:
        return " ".join(_session_parts(answer, item.session))
    return " ".join(_event_parts(answer.case, item))


def _why(answer: PlanAnswer, session: Session | None) -> Iterator[str]:
    """What held the session back and why it is as it is, then why the course is."""
    if session is not None:
        yield from word_why(answer.plan, session)
    yield from word_reasons(answer.plan)


def _would_change(answer: PlanAnswer, session: Session | None) -> Iterator[str]:
    """The plan under other answers to open questions, then what is to be confirmed for all or before the session."""
    concerned = {None, session.ordinal if session else None}
    yield from (word_variant(answer, variant) for variant in answer.plan.variants)
    questions = load_table("findings")
    for finding in answer.findings:
        if questions[finding.code]["question"] and finding.session in concerned:
            words = word_finding(finding)
            yield f"{words.detail} {words.mitigation}"


def word_why_no_plan(answer: PlanAnswer) -> list[str]:
    """Each finding that stands against a plan: what it is, and what to do about it."""
    if answer.plan.outcome is not PlanOutcome.NO_PLAN:
        return []
    reasons = [word_finding(f) for f in answer.findings if f.code == answer.plan.reason_no_plan]
    return [f"{reason.detail} {reason.mitigation}" for reason in reasons]


def word_refusal_summary(first: str, count: int) -> str:
    """The summary of the card that says that there is no plan, and why."""
    return fit_summary([f"No plan: {first}"], f"{count - 1} more to settle." if count > 1 else "")


def word_refusal_detail(reasons: Iterable[str], data: DataDay | None) -> str:
    """The reasons as a list, and on which data."""
    stamp = [word_data_line(data)] if data else []
    return "\n\n".join([list_in_markdown("What stands against a plan", reasons), *stamp])
