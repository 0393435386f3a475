"""The course around the sessions: donor reserve, calendar, closure, and what stays open."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.dressing import CareEvent, EventKind
from service.domain.plan import Closure, LedgerEntry
from service.evidence.library import Evidence
from service.wording.catalogue import fill, load_table
from service.wording.dates import date_in_words
from service.wording.languages import ENGLISH, Words
from service.wording.places import listed_in_language, place_in_words
from service.wording.rounding import TENTH, need_cm2, number_in_words, percent_tbsa, round_need_up, round_supply_down
from service.wording.spreads import spread_in_words
from service.wording.text_table import Column, heading, paragraph, table

_IN_THEATRE = frozenset(
    {
        EventKind.EXCISE_WOUND,
        EventKind.HARVEST_SKIN,
        EventKind.PLACE_GRAFT,
        EventKind.PLACE_COVER,
        EventKind.APPLY_SPLINT,
    }
)
_DAYS_A_TABLE = 4


def write_ledger(answer: PlanAnswer) -> list[str]:
    """Usable skin of each donor site on the days that matter, healing skin in parentheses."""
    by_site: dict[str, list[LedgerEntry]] = defaultdict(list)
    for entry in answer.plan.ledger:
        by_site[entry.site_id].append(entry)
    if not by_site:
        return []
    lines = heading("Donor skin in reserve: usable (healing), cm²")
    days = _key_days(answer)
    for start in range(0, len(days), _DAYS_A_TABLE):
        lines += ["", *_ledger_table(answer, by_site, days[start : start + _DAYS_A_TABLE])]
    return lines + paragraph(
        "On the day of a session: after its harvest; a possible session is counted as held. "
        "The last day shown is when everything harvested has healed."
    )


def _ledger_table(answer: PlanAnswer, by_site: dict[str, list[LedgerEntry]], days: list[int]) -> list[str]:
    columns = [Column("Donor site", 22)]
    columns += [Column(answer.case.date_of(day).isoformat(), 12, True) for day in days]
    rows = []
    for site, entries in by_site.items():
        held = [_entry_on(entries, day) for day in days]
        rows.append([place_in_words(site), *(_usable_healing(e.usable_cm2, e.healing_cm2) for e in held)])
    totals = []
    for day in days:
        held = [_entry_on(entries, day) for entries in by_site.values()]
        totals.append(_usable_healing(sum(e.usable_cm2 for e in held), sum(e.healing_cm2 for e in held)))
    return table(columns, [*rows, ["All sites", *totals]])


def _entry_on(entries: list[LedgerEntry], day: int) -> LedgerEntry:
    """The state that holds on a day: the last entry up to it, else the first."""
    return max((e for e in entries if e.day <= day), key=lambda e: e.day, default=entries[0])


def _key_days(answer: PlanAnswer) -> list[int]:
    """The first day of the ledger, each session, and the day after which nothing changes."""
    held = [e.day for e in answer.plan.ledger]
    return sorted({min(held), max(held), *(s.day for s in answer.plan.settled.sessions)})


def _usable_healing(usable_cm2: Decimal, healing_cm2: Decimal) -> str:
    usable = number_in_words(round_supply_down(usable_cm2))
    return f"{usable} ({number_in_words(round_need_up(healing_cm2))})" if healing_cm2 else usable


def write_calendar(answer: PlanAnswer) -> list[str]:
    """What the ward does on each day of the coming task days."""
    coming = calendar_rows(answer)
    if not coming:
        return []
    columns = [Column("Date", 14), Column("What", 22), Column("Where or which", 23), Column("May be done", 14)]
    rows, last = [], None
    for day, what, where, when in coming:
        rows.append(("" if day == last else date_in_words(answer.case.date_of(day)), what, where, when))
        last = day
    lines = heading(f"Ward calendar of the coming {answer.case.request.task_days} days") + table(columns, rows)
    saved = word_saved(answer.disturbances_saved_count)
    return lines + paragraph(f"{saved} Later events are in the FHIR answer.".strip())


def calendar_rows(answer: PlanAnswer, _: Words = ENGLISH) -> list[tuple[int, str, str, str]]:
    """Day, what, where and when it may be done, for the ward in the coming task days."""
    days = answer.case.request.task_days
    coming = [e for e in answer.events if e.kind not in _IN_THEATRE and e.day < days]
    return [
        (day, _join(what, _), where, when)
        for (day, when, where), what in _merge_lines(answer.case, coming, _).items()]


def word_saved(disturbances_saved_count: int) -> str:
    """How many days without an opened dressing merging has won, over the whole course."""
    if not disturbances_saved_count:
        return ""
    days = "1 day" if disturbances_saved_count == 1 else f"{disturbances_saved_count} days"
    return (
        f"Over the whole course dressings are opened on {days} fewer than if each event kept its usual day: "
        "events are moved inside their windows, into theatre where that is near."
    )


def _join(what: list[str], _: Words) -> str:
    first, *others = what
    return "; ".join([first, *map(_.continued, others)])


def _merge_lines(case: GraftingCase, events: list[CareEvent], _: Words) -> dict[tuple[int, str, str], list[str]]:
    """Events for the same places and window share a line."""
    lines: dict[tuple[int, str, str], list[str]] = defaultdict(list)
    for event in events:
        lines[event.day, _when(case, event, _), _where(event, _)].append(_what(event, _))
    return lines


def _what(event: CareEvent, _: Words) -> str:
    """What to do; a short text with its values is one message."""
    words = _(fill(load_table("events")[event.kind]["short"], dict(event.values)))
    if event.priority != "urgent":
        return words
    if event.kind is EventKind.INSPECT_BED:
        return _("{what} (urgent)", what=words)
    return _("{what} (overdue)", what=words)


def _where(event: CareEvent, _: Words) -> str:
    """Places, or the question or amount that the event is about."""
    values = dict(event.values)
    question = values.get("question")
    return _(question) if question else listed_in_language(event.place, _) or values.get("area", "")


def _when(case: GraftingCase, event: CareEvent, _: Words) -> str:
    if event.is_done_in_theatre:
        return _("in session {number}", number=event.session)
    if event.earliest_day == event.latest_day:
        return _("that day")
    first, last = (_.day_month(case.date_of(day)) for day in (event.earliest_day, event.latest_day))
    return _("until {day}", day=last) if event.earliest_day == event.day else _(
        "{first} to {last}", first=first, last=last)


def write_aftercare(answer: PlanAnswer, evidence: Evidence) -> list[str]:
    """Splint, walking, compression and garment after every graft; only when something is grafted."""
    if not answer.plan.settled.firm_sessions:
        return []
    splint, walk, legs, hours, months = (
        evidence.row(name)
        for name in (
            "splint-days",
            "walking-after-leg-graft-days",
            "compression-after-leg-graft-days",
            "pressure-garment-hours-per-day",
            "pressure-garment-months",
        )
    )
    lines = heading("After every graft")
    walking = (
        f"Walk after leg grafts from day {spread_in_words(walk)}, with compression. "
        "A graft across a joint, or on the calf with poor vessels, may need longer."
    )
    for text in (
        f"Splint grafted joints until day {spread_in_words(splint)} after placement.",
        *(() if answer.case.age_band is SkinLimitAge.INFANT else (walking,)),
        f"Compression on grafted legs from day {spread_in_words(legs)}.",
        "Moisturiser daily once a graft has taken and is closed.",
        f"Pressure garments as soon as healed, {spread_in_words(hours)} h a day, for {spread_in_words(months)} months.",
    ):
        lines += paragraph(text, "  ", "  ")
    return lines


def write_closure(answer: PlanAnswer) -> list[str]:
    """Expected closure of each wound with its interval, then what stays open and is not reserved."""
    case, plan = answer.case, answer.plan
    lines = []
    if plan.closures:
        columns = [Column("Wound", 40), Column("Expected", 14), Column("Between", 22)]
        lines += heading("Expected closure")
        lines += table(columns, ((place_in_words(c.wound_id), *_closure(case, c)) for c in plan.closures))
        lines += paragraph("Closed: at least 95 % healed, confirmed by a record. Grafts that fail take longer.")
    if plan.settled.still_open or plan.settled.unreserved:
        lines += heading("Still open")
    for item in plan.settled.still_open:
        percent = round_need_up(case.percent_tbsa(item.area_cm2), TENTH)
        lines += paragraph(
            f"{place_in_words(item.wound_id)}: {need_cm2(item.area_cm2)} ({percent_tbsa(percent)}) "
            "is not grafted by this plan.",
            "  ",
            "  ",
        )
    for item in plan.settled.unreserved:
        lines += paragraph(
            f"{place_in_words(item.region_key)}: for {need_cm2(item.area_cm2)} of expected graft "
            "loss no skin could be kept.",
            "  ",
            "  ",
        )
    return lines


def _closure(case: GraftingCase, closure: Closure) -> tuple[str, str]:
    if closure.day is None:
        return "not reached", ""
    expected = date_in_words(case.date_of(closure.day))
    if closure.low_day is None or closure.high_day is None:
        return expected, ""
    return expected, f"{case.date_of(closure.low_day)}..{case.date_of(closure.high_day)}"
