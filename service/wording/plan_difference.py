"""The difference from the plan before, in words: what was recorded since, what changed, and why."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.plan_difference import (
    Obstacle,
    PlanChange,
    PlanChangeKind,
    PlanDifference,
    RecordChange,
    RecordChangeKind,
)
from service.wording.asked_for import word_asked_for
from service.wording.dates import date_in_words
from service.wording.places import place_in_words
from service.wording.rounding import need_cm2
from service.wording.text_table import heading, paragraph

_STATES = {"healing": "still healing", "excluded": "not to be used as a donor site"}
_DONE = {"excise": "excised on", "harvest": "taken from", "place": "grafted on"}
_MEASURED = {
    "weight_kg": ("weight", "kg"), "height_cm": ("height", "cm"), "body_surface_m2": ("body surface", "m²"),
    "haemoglobin_g_dl": ("haemoglobin", "g/dL"), "core_temperature_celsius": ("core temperature", "°C"),
    "albumin_g_dl": ("albumin", "g/dL"),
}
_OBSTACLES = {
    Obstacle.DAY_PASSED: "no session is recorded on that day, and sessions are planned from tomorrow on",
    Obstacle.NO_THEATRE: "theatre is not stated for that day",
    Obstacle.NOT_FIT: "the patient is recorded as fit for theatre only later",
}
_AMOUNTS = {
    PlanChangeKind.HARVESTED: "skin taken", PlanChangeKind.EXCISED: "area excised",
    PlanChangeKind.GRAFTED: "area grafted",
}
#: The finding that says the same as the section.
PLAN_CHANGED = "plan-changed"
NO_CAUSE = "No single cause is established"


def write_difference(answer: PlanAnswer) -> list[str]:
    """The section of the text answer; nothing when no plan before was sent along."""
    if answer.difference is None:
        return []
    lines = heading("Since the plan before")
    for text in word_plan_difference(answer):
        lines += paragraph(text, "  ", "  ")
    return lines


def word_plan_difference(answer: PlanAnswer) -> list[str]:
    """Which plan it is compared with, what is new in record and request, then each change of the plan."""
    difference = answer.difference
    recorded = [word_record_change(change) for change in difference.recorded]
    return [
        f"Compared with the plan of {date_in_words(difference.earlier.made_on)}.",
        f"Recorded since: {'; '.join(recorded)}." if recorded else "Nothing new is recorded since.",
        *_word_asked(answer, difference),
        *word_plan_changes(difference),
    ]


def _word_asked(answer: PlanAnswer, difference: PlanDifference) -> Iterator[str]:
    before, now = difference.earlier.asked_for, " ".join(word_asked_for(answer))
    if before is not None and before != now:
        yield f"The request asks otherwise. Before: {before or 'nothing stated.'}"


def word_plan_changes(difference: PlanDifference) -> list[str]:
    """What changes by the same cause in one sentence each; last, and said so, what has no established one."""
    if not difference.changes:
        return ["The plan is as it was for what is still to come."]
    by_cause: dict[tuple, list[PlanChange]] = {}
    for change in difference.changes:
        by_cause.setdefault(change.causes, []).append(change)
    unclear = by_cause.pop((), [])
    sentences = [f"{_capitalised('; '.join(_word_all(same)))}: {_word_causes(causes)}."
                 for causes, same in by_cause.items()]
    return [*sentences, *([f"{NO_CAUSE} for this: {'; '.join(_word_all(unclear))}."] if unclear else [])]


def _capitalised(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def _word_causes(causes: tuple[RecordChange | Obstacle, ...]) -> str:
    return " and ".join(
        _OBSTACLES[cause] if isinstance(cause, Obstacle) else word_record_change(cause) for cause in causes)


def _word_all(changes: list[PlanChange]) -> Iterator[str]:
    """Sessions and the end of the course one by one, the areas of a session together."""
    areas: dict[date, list[PlanChange]] = {}
    for change in changes:
        if change.kind in _AMOUNTS:
            areas.setdefault(change.day, []).append(change)
        else:
            yield _word_day(change)
    for day, of_day in areas.items():
        yield f"session of {date_in_words(day)}, {', '.join(map(_word_area, of_day))}"


def _word_day(change: PlanChange) -> str:
    before, now = (None if day is None else date_in_words(day) for day in (change.earlier_day, change.day))
    if change.kind is PlanChangeKind.MOVED:
        return f"the session of {before} moves to {now}"
    if change.kind is PlanChangeKind.DROPPED:
        return f"the session of {before} is no longer planned"
    if change.kind is PlanChangeKind.ADDED:
        return f"a session is planned on {now} that was not"
    return f"the course ends on {now} instead of {before}"


def _word_area(change: PlanChange) -> str:
    amount = f"{_AMOUNTS[change.kind]} {_area(change.area_cm2)} instead of {_area(change.earlier_cm2)}"
    places = "; ".join(f"{place_in_words(p)} {_area(new)} instead of {_area(old)}" for p, old, new in change.places)
    return f"{amount}{f' ({places})' if places else ''}"


def _area(area_cm2: Decimal) -> str:
    return need_cm2(area_cm2) if area_cm2 else "none"


def word_record_change(change: RecordChange) -> str:
    """What was recorded, as a clause: ``right thigh was recorded as still healing on 2026-03-05 Thu``."""
    place, values, day = place_in_words(change.place), dict(change.values), date_in_words(change.day)
    match change.kind:
        case RecordChangeKind.DONOR_STATE:
            return f"{place} was recorded as {_STATES.get(values['state'], values['state'])} on {day}"
        case RecordChangeKind.TAKE:
            placed = date_in_words(date.fromisoformat(values["placed"]))
            return f"take of the graft of {placed} on {place} was read as {values['percent']} % on {day}"
        case RecordChangeKind.BED:
            return f"wound bed of {place} was recorded as {values['state'].replace('-', ' ')} on {day}"
        case RecordChangeKind.EXTENT | RecordChangeKind.OPEN_WOUND:
            thing = "burn" if change.kind is RecordChangeKind.EXTENT else "open wound"
            return f"{thing} of {place} was recorded anew on {day}"
        case RecordChangeKind.MEASURED:
            name, unit = _MEASURED[values["name"]]
            return f"{name} was measured as {values['value']} {unit} on {day}"
        case RecordChangeKind.HELD_ON_OTHER_DAY:
            return f"the session planned for {date_in_words(date.fromisoformat(values['planned']))} was held on {day}"
    done, planned = (_area(Decimal(values[name])) for name in ("done_cm2", "planned_cm2"))
    return f"{_DONE[values['act']]} {place} on {day}: {done} instead of {planned} planned"
