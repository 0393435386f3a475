"""One session of the text answer: when, how, and the acts in tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.dressing import EventKind, Quantity
from service.domain.session import CoverKind, Session
from service.domain.theatre_list import HarvestLine, TheatreList
from service.evidence.library import Evidence
from service.wording.dates import date_in_words
from service.wording.findings import word_code
from service.wording.forecast_text import word_coverage, word_possible
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.reasons import word_why
from service.wording.rounding import (
    TENTH,
    count_in_words,
    interval,
    need_cm2,
    need_cm2_with_interval,
    number_in_words,
    round_need_up,
)
from service.wording.text_table import Column, heading, paragraph, table
from service.wording.theatre_list import word_leftover, word_shortage, word_step, word_stored, word_surplus, word_timer

_INDENT = "  "
_COVERS = {CoverKind.TEMPORARY: "temporary cover", CoverKind.OVERLAY: "overlay on the graft"}


def write_session(answer: PlanAnswer, session: Session, evidence: Evidence) -> list[str]:
    """The block of one session; a contingent one says first that it may not be needed."""
    case = answer.case
    listed = next((t for t in answer.theatre_lists if t.session == session.ordinal), None)
    kind = "Possible session" if session.is_contingent else "Session"
    lines = heading(
        f"{kind} {session.ordinal}: {date_in_words(case.date_of(session.day))}, "
        f"day {session.day - case.injury_day} after injury, {' then '.join(session.positions)}"
    )
    for text in _needs(answer, session, listed):
        lines += paragraph(text, _INDENT)
    for rows in (_excisions, _harvests, _placements, _covers):
        lines += rows(answer, session, listed)
    if not session.is_contingent:
        lines += _coverage(answer, session, listed, evidence)
    if listed is not None and not session.is_contingent:
        lines += _list_lines(listed, evidence)
    for text in word_why(answer.plan, session):
        lines += paragraph(text, _INDENT)
    return lines


def _needs(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> Iterator[str]:
    forecast = answer.plan.forecast
    if session.is_contingent:
        how_often = f": {word_possible(answer.plan.settled, session, forecast)}" if forecast else ""
        yield (
            f"Only if grafts fail{how_often}. The plan keeps skin and room for it on this day; reading the grafts "
            "decides whether it is needed."
        )
    room = "" if listed is None else f", in the room {_estimate(listed, 'in-room-minutes')}"
    surgery = f"{session.procedure_minutes} min" if listed is None else _estimate(listed, "procedure-minutes")
    yield f"Surgery {surgery}{room}. All minutes are estimates."
    blood = "" if listed is None else f" (expected {_find(listed, 'blood-loss').value:,.0f} mL)"
    yield f"Blood loss up to {session.blood_loss_ml:,} mL{blood}."
    yield f"Red-cell units to have ready: {session.units_to_have_ready}."
    questions = dict.fromkeys(
        code
        for event in answer.events
        if event.kind is EventKind.CONFIRM_PRECONDITION and event.session == session.ordinal
        for code in event.preconditions
    )
    if questions:
        yield f"Confirm before it: {'; '.join(word_code(code) for code in questions)}."


def _coverage(answer: PlanAnswer, session: Session, listed: TheatreList | None, evidence: Evidence) -> list[str]:
    """Whether the harvest will do, and what too little and too much cost."""
    forecast = answer.plan.forecast
    found = None if forecast is None else forecast.of_session(session.ordinal)
    texts = [] if found is None else word_coverage(found, forecast.wanted_fraction)
    if listed is not None and listed.surplus is not None:
        texts.append(word_surplus(listed.surplus, evidence))
    return ["", *(line for text in texts for line in paragraph(text, _INDENT))] if texts else []


def _find(listed: TheatreList, name: str) -> Quantity:
    return next(quantity for quantity in listed.quantities if quantity.name == name)


def _estimate(listed: TheatreList, name: str) -> str:
    quantity = _find(listed, name)
    return f"about {number_in_words(round_need_up(quantity.value))} min {interval(quantity.low, quantity.high)}"


def _percent(case: GraftingCase, area_cm2) -> str:
    return number_in_words(round_need_up(case.percent_tbsa(area_cm2), TENTH), TENTH)


def _act_table(columns: list[Column], rows: list[list[str]], total: list[str]) -> list[str]:
    """Rows of one kind of act, with their total when there are several."""
    if not rows:
        return []
    return ["", *table(columns, [*rows, total] if len(rows) > 1 else rows, _INDENT)]


def _sum_cm2(areas: Iterable[Decimal]) -> Decimal:
    return sum(areas, Decimal(0))


def _excisions(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [Column("Excise", 46), Column("Area", 11, True), Column("%TBSA", 6, True)]
    acts = [e for e in answer.plan.settled.excisions if e.day == session.day]
    rows = [[place_in_words(e.wound_id), need_cm2(e.area_cm2), _percent(answer.case, e.area_cm2)] for e in acts]
    total = _sum_cm2(e.area_cm2 for e in acts)
    return _act_table(columns, rows, ["All", need_cm2(total), _percent(answer.case, total)])


def _harvests(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    if listed is None:
        acts = [h for h in answer.plan.settled.harvests if h.day == session.day]
        rows = [
            [place_in_words(h.site_id), h.thickness, need_cm2(h.area_cm2), "-", f"no. {h.harvest_number}"] for h in acts
        ]
        total = ["All", "", need_cm2(_sum_cm2(h.area_cm2 for h in acts)), "-", ""]
        return _act_table(_harvest_columns(is_mixed=False), rows, total)
    rows = [
        [
            place_in_words(line.site_id),
            line.thickness,
            _with_interval(line.area),
            str(line.strips),
            _harvest_numbers(line),
        ]
        for line in listed.harvests
    ]
    strips = str(sum(line.strips for line in listed.harvests))
    total = ["All", "", _with_interval(_find(listed, "harvest-area")), strips, ""] if rows else []
    is_mixed = any(len(line.areas_by_number) > 1 for line in listed.harvests)
    return _act_table(_harvest_columns(is_mixed=is_mixed), rows, total)


def _harvest_columns(*, is_mixed: bool) -> list[Column]:
    """Wider for harvest numbers where a site gives skin of several."""
    return [
        Column("Take skin from", 17 if is_mixed else 24),
        Column("Thickness", 9),
        Column("Area (range)", 24, True),
        Column("Strips", 6, True),
        Column("Harvest", 14 if is_mixed else 7, True),
    ]


def _harvest_numbers(line: HarvestLine) -> str:
    """``no. 2``, or ``no. 1 (5 cm²) and no. 2`` where the rest has the last number."""
    *first, (last, _) = line.areas_by_number
    parts = ", ".join(f"no. {number} ({need_cm2(area)})" for number, area in first)
    return f"{parts} and no. {last}" if first else f"no. {last}"


def _with_interval(area: Quantity) -> str:
    return need_cm2_with_interval(area.value, area.low, area.high)


def _placements(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [
        Column("Regraft" if session.is_contingent else "Graft", 25),
        Column("Method", 12),
        Column("Area", 9, True),
        Column("%TBSA", 5, True),
        Column("Skin", 9, True),
        Column("Plates", 6, True),
    ]
    acts = [p for p in answer.plan.settled.placements if p.day == session.day]
    rows = [
        [
            place_in_words(p.wound_id),
            method_in_words(p.method),
            need_cm2(p.area_cm2),
            _percent(answer.case, p.area_cm2),
            need_cm2(p.skin_cm2),
            _count(p.plates),
        ]
        for p in acts
    ]
    area = _sum_cm2(p.area_cm2 for p in acts)
    skin = need_cm2(_sum_cm2(p.skin_cm2 for p in acts))
    plates = _count(sum((p.plates or Decimal(0) for p in acts), Decimal(0)))
    return _act_table(columns, rows, ["All", "", need_cm2(area), _percent(answer.case, area), skin, plates])


def _count(number: Decimal | None) -> str:
    return count_in_words(number) if number else ""


def _covers(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [Column("Cover", 27), Column("Kind", 20), Column("Area", 11, True), Column("Lasts until", 14)]
    acts = [c for c in answer.plan.settled.covers if c.day == session.day]
    rows = [
        [
            place_in_words(c.wound_id),
            _COVERS[c.kind],
            need_cm2(c.area_cm2),
            date_in_words(answer.case.date_of(c.until_day)),
        ]
        for c in acts
    ]
    return _act_table(columns, rows, ["All", "", need_cm2(_sum_cm2(c.area_cm2 for c in acts)), ""])


def _list_lines(listed: TheatreList, evidence: Evidence) -> list[str]:
    lines = [""]
    if listed.carriers:
        counts = ", ".join(f"{count} at {ratio}" for ratio, count in listed.carriers)
        lines += paragraph(f"Carriers: {counts}, and {listed.spare_carriers} spare. {_plates(listed)}", _INDENT)
    for short in listed.carriers_short:
        lines += paragraph(word_shortage(short), _INDENT)
    for stored in listed.stored:
        lines += paragraph(word_stored(stored, evidence), _INDENT)
    for leftover in listed.leftovers:
        lines += paragraph(word_leftover(leftover, evidence), _INDENT)
    lines += paragraph("Order of work:", _INDENT)
    for number, step in enumerate(listed.steps, start=1):
        lines += paragraph(f"{number}. {word_step(step)}", _INDENT * 2, _INDENT * 2)
    for timer in listed.timers:
        lines += paragraph(word_timer(timer), _INDENT)
    return lines


def _plates(listed: TheatreList) -> str:
    """Plates with their range, and whether whole squares alone would give them."""
    plates = _find(listed, "plates")
    words = f"Plates: {plates.value:.0f} {interval(plates.low, plates.high)}."
    whole = _find(listed, "plates-from-whole-squares").value
    if whole >= plates.value:
        return words
    waste = _find(listed, "strip-waste").value
    return (
        f"{words} Whole squares alone give {whole:.0f} and waste {waste:.0f} % of a strip: "
        "lay pieces together for the rest."
    )
