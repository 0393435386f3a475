"""One session of the text answer: when, how, and the acts in tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.dressing import EventKind, Quantity
from service.domain.session import CoverKind, Session
from service.domain.theatre_list import TheatreList
from service.evidence.library import Evidence
from service.wording.dates import date_in_words
from service.wording.findings import word_code
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.reasons import word_reason, word_rule
from service.wording.rounding import TENTH, interval, need_cm2, number_in_words, round_need_up
from service.wording.text_table import Column, heading, paragraph, table
from service.wording.theatre_list import word_leftover, word_step

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
    if listed is not None and not session.is_contingent:
        lines += _list_lines(listed, evidence)
    for text in _why(answer, session):
        lines += paragraph(text, _INDENT)
    return lines


def _needs(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> Iterator[str]:
    if session.is_contingent:
        yield (
            "Only if grafts fail. Skin is kept for it; it has no date of its own in the tasks, and "
            "reading the grafts decides whether it is needed."
        )
    room = "" if listed is None else f", in the room {_estimate(listed, 'in-room-minutes')}"
    surgery = f"{session.procedure_minutes} min" if listed is None else _estimate(listed, "procedure-minutes")
    yield f"Surgery {surgery}{room}. All minutes are estimates."
    blood = "" if listed is None else f" (expected {_find(listed, 'blood-loss').value:,.0f} mL)"
    units = session.units_to_have_ready
    yield (
        f"Blood loss up to {session.blood_loss_ml:,} mL{blood}; have {units} red-cell "
        f"{'unit' if units == 1 else 'units'} ready."
    )
    questions = dict.fromkeys(
        code
        for event in answer.events
        if event.kind is EventKind.CONFIRM_PRECONDITION and event.session == session.ordinal
        for code in event.preconditions
    )
    if questions:
        yield f"Confirm before it: {'; '.join(word_code(code) for code in questions)}."


def _find(listed: TheatreList, name: str) -> Quantity:
    return next(quantity for quantity in listed.quantities if quantity.name == name)


def _estimate(listed: TheatreList, name: str) -> str:
    quantity = _find(listed, name)
    return f"about {number_in_words(round_need_up(quantity.value))} min {interval(quantity.low, quantity.high)}"


def _percent(case: GraftingCase, area_cm2) -> str:
    return number_in_words(round_need_up(case.percent_tbsa(area_cm2), TENTH), TENTH)


def _act_table(columns: list[Column], rows: Iterable[tuple[str, ...]]) -> list[str]:
    rows = list(rows)
    return ["", *table(columns, rows, _INDENT)] if rows else []


def _excisions(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [Column("Excise", 46), Column("Area", 11, True), Column("%TBSA", 6, True)]
    return _act_table(
        columns,
        (
            (place_in_words(e.wound_id), need_cm2(e.area_cm2), _percent(answer.case, e.area_cm2))
            for e in answer.plan.settled.excisions
            if e.day == session.day
        ),
    )


def _harvests(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [
        Column("Take skin from", 25),
        Column("Thickness", 9),
        Column("Area (range)", 23, True),
        Column("Strips", 6, True),
        Column("Harvest", 7, True),
    ]
    if listed is not None:
        return _act_table(
            columns,
            (
                (
                    place_in_words(line.site_id),
                    line.thickness,
                    f"{need_cm2(line.area.value)} {interval(line.area.low, line.area.high)}".strip(),
                    str(line.strips),
                    f"no. {line.harvest_number}",
                )
                for line in listed.harvests
            ),
        )
    return _act_table(
        columns,
        (
            (place_in_words(h.site_id), h.thickness, need_cm2(h.area_cm2), "-", f"no. {h.harvest_number}")
            for h in answer.plan.settled.harvests
            if h.day == session.day
        ),
    )


def _placements(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [
        Column("Regraft" if session.is_contingent else "Graft", 25),
        Column("Method", 12),
        Column("Area", 9, True),
        Column("%TBSA", 5, True),
        Column("Skin", 9, True),
        Column("Plates", 6, True),
    ]
    return _act_table(
        columns,
        (
            (
                place_in_words(p.wound_id),
                method_in_words(p.method),
                need_cm2(p.area_cm2),
                _percent(answer.case, p.area_cm2),
                need_cm2(p.skin_cm2),
                "" if p.plates is None else str(p.plates),
            )
            for p in answer.plan.settled.placements
            if p.day == session.day
        ),
    )


def _covers(answer: PlanAnswer, session: Session, listed: TheatreList | None) -> list[str]:
    columns = [Column("Cover", 27), Column("Kind", 20), Column("Area", 11, True), Column("Lasts until", 14)]
    return _act_table(
        columns,
        (
            (
                place_in_words(c.wound_id),
                _COVERS[c.kind],
                need_cm2(c.area_cm2),
                date_in_words(answer.case.date_of(c.until_day)),
            )
            for c in answer.plan.settled.covers
            if c.day == session.day
        ),
    )


def _list_lines(listed: TheatreList, evidence: Evidence) -> list[str]:
    lines = [""]
    if listed.carriers:
        counts = ", ".join(f"{count} at {ratio}" for ratio, count in listed.carriers)
        lines += paragraph(f"Carriers: {counts}, and {listed.spare_carriers} spare. {_plates(listed)}", _INDENT)
    for leftover in listed.leftovers:
        lines += paragraph(word_leftover(leftover, evidence), _INDENT)
    lines += paragraph("Order of work:", _INDENT)
    for number, step in enumerate(listed.steps, start=1):
        lines += paragraph(f"{number}. {word_step(step)}", _INDENT * 2, _INDENT * 2)
    return lines


def _plates(listed: TheatreList) -> str:
    plates = _find(listed, "plates")
    whole = sum(line.plates_from_whole_squares for line in listed.harvests)
    pieced = sum(line.plates_with_piecing for line in listed.harvests)
    return (
        f"Plates: {plates.value:.0f} {interval(plates.low, plates.high)}; the strips give {whole} as whole "
        f"squares and {pieced} with pieces laid together."
    )


def _why(answer: PlanAnswer, session: Session) -> Iterator[str]:
    rules = [word_rule(rule) for rule in session.binding_rules]
    if rules:
        held = "; ".join(rule.removeprefix("held back by ") for rule in rules)
        yield f"Held back by {held}."
    for reason in answer.plan.reasons:
        if reason.session == session.ordinal:
            yield word_reason(reason)
