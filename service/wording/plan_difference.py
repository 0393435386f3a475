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
from service.wording.languages import ENGLISH, N_, Words
from service.wording.places import place_in_words
from service.wording.rounding import need_cm2
from service.wording.text_table import heading, paragraph

_STATES = {"healing": N_("still healing"), "excluded": N_("not to be used as a donor site"), "healed": N_("healed")}
_BED_STATES = {
    "ready": N_("ready"), "under-template": N_("under template"), "colonised": N_("colonised"),
    "infected": N_("infected"), "streptococcus": N_("streptococcus"),
}
_DONE = {
    "excise": N_("excised on {place} on {day}: {done} instead of {planned} planned"),
    "harvest": N_("taken from {place} on {day}: {done} instead of {planned} planned"),
    "place": N_("grafted on {place} on {day}: {done} instead of {planned} planned"),
}
_MEASURED = {
    "weight_kg": (N_("weight"), "kg"), "height_cm": (N_("height"), "cm"), "body_surface_m2": (N_("body surface"), "m²"),
    "haemoglobin_g_dl": (N_("haemoglobin"), "g/dL"), "core_temperature_celsius": (N_("core temperature"), "°C"),
    "albumin_g_dl": (N_("albumin"), "g/dL"),
}
_OBSTACLES = {
    Obstacle.DAY_PASSED: N_("no session is recorded on that day, and sessions are planned from tomorrow on"),
    Obstacle.NO_THEATRE: N_("theatre is not stated for that day"),
    Obstacle.NOT_FIT: N_("the patient is recorded as fit for theatre only later"),
}
_AMOUNTS = {
    PlanChangeKind.HARVESTED: N_("skin taken {now} instead of {before}"),
    PlanChangeKind.EXCISED: N_("area excised {now} instead of {before}"),
    PlanChangeKind.GRAFTED: N_("area grafted {now} instead of {before}"),
}
#: The finding that says the same as the section.
PLAN_CHANGED = "plan-changed"


def write_difference(answer: PlanAnswer) -> list[str]:
    """The section of the text answer; nothing when no plan before was sent along."""
    if answer.difference is None:
        return []
    lines = heading("Since the plan before")
    for text in word_plan_difference(answer):
        lines += paragraph(text, "  ", "  ")
    return lines


def word_plan_difference(answer: PlanAnswer, _: Words = ENGLISH) -> list[str]:
    """Which plan it is compared with, what is new in record and request, then each change of the plan.

    Empty when no plan before was sent along.
    """
    difference = answer.difference
    if difference is None:
        return []
    recorded = "; ".join(word_record_change(change, _) for change in difference.recorded)
    return [
        _("Compared with the plan of {day}.", day=date_in_words(difference.earlier.made_on)),
        _("Recorded since: {changes}.", changes=recorded) if recorded else _("Nothing new is recorded since."),
        *_word_asked(answer, difference, _),
        *word_plan_changes(difference, _),
    ]


def _word_asked(answer: PlanAnswer, difference: PlanDifference, _: Words) -> Iterator[str]:
    """What was asked for before, in the words that the plan before kept."""
    before, now = difference.earlier.asked_for, " ".join(word_asked_for(answer))
    if before is not None and before != now:
        yield _("The request asks otherwise. Before: {before}", before=before or _("nothing stated."))


def word_plan_changes(difference: PlanDifference, _: Words = ENGLISH) -> list[str]:
    """What changes by the same cause in one sentence each; last, and said so, what has no established one."""
    if not difference.changes:
        return [_("The plan is as it was for what is still to come.")]
    by_cause: dict[tuple, list[PlanChange]] = {}
    for change in difference.changes:
        by_cause.setdefault(change.causes, []).append(change)
    unclear = by_cause.pop((), [])
    sentences = [f"{_capitalised('; '.join(_word_all(same, _)))}: {_word_causes(causes, _)}."
                 for causes, same in by_cause.items()]
    if unclear:
        sentences.append(_("No single cause is established for this: {changes}.",
                           changes="; ".join(_word_all(unclear, _))))
    return sentences


def _capitalised(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def _word_causes(causes: tuple[RecordChange | Obstacle, ...], _: Words) -> str:
    return _.linked(
        _(_OBSTACLES[cause]) if isinstance(cause, Obstacle) else word_record_change(cause, _) for cause in causes)


def _word_all(changes: list[PlanChange], _: Words) -> Iterator[str]:
    """Sessions and the end of the course one by one, the areas of a session together."""
    areas: dict[date, list[PlanChange]] = {}
    for change in changes:
        if change.kind in _AMOUNTS:
            areas.setdefault(change.day, []).append(change)
        else:
            yield _word_day(change, _)
    for day, of_day in areas.items():
        told = _.series(_word_area(change, _) for change in of_day)
        yield _("session of {day}, {areas}", day=date_in_words(day), areas=told)


def _word_day(change: PlanChange, _: Words) -> str:
    before, now = (None if day is None else date_in_words(day) for day in (change.earlier_day, change.day))
    if change.kind is PlanChangeKind.MOVED:
        return _("the session of {before} moves to {now}", before=before, now=now)
    if change.kind is PlanChangeKind.DROPPED:
        return _("the session of {before} is no longer planned", before=before)
    if change.kind is PlanChangeKind.ADDED:
        return _("a session is planned on {now} that was not", now=now)
    return _("the course ends on {now} instead of {before}", before=before, now=now)


def _word_area(change: PlanChange, _: Words) -> str:
    amount = _(_AMOUNTS[change.kind], now=_area(change.area_cm2, _), before=_area(change.earlier_cm2, _))
    places = "; ".join(
        _("{place} {now} instead of {before}", place=place_in_words(p, _), now=_area(new, _), before=_area(old, _))
        for p, old, new in change.places)
    return f"{amount}{f' ({places})' if places else ''}"


def _area(area_cm2: Decimal, _: Words) -> str:
    return need_cm2(area_cm2) if area_cm2 else _("none")


def word_record_change(change: RecordChange, _: Words = ENGLISH) -> str:
    """What was recorded, as a clause: ``right thigh was recorded as still healing on 2026-03-05 Thu``."""
    place, values, day = place_in_words(change.place, _), dict(change.values), date_in_words(change.day)
    match change.kind:
        case RecordChangeKind.DONOR_STATE:
            state = _(_STATES[values["state"]])
            return _("{place} was recorded as {state} on {day}", place=place, state=state, day=day)
        case RecordChangeKind.TAKE:
            placed = date_in_words(date.fromisoformat(values["placed"]))
            return _("take of the graft of {placed} on {place} was read as {percent} % on {day}", placed=placed,
                     place=place, percent=values["percent"], day=day)
        case RecordChangeKind.BED:
            state = _(_BED_STATES[values["state"]])
            return _("wound bed of {place} was recorded as {state} on {day}", place=place, state=state, day=day)
        case RecordChangeKind.EXTENT:
            return _("burn of {place} was recorded anew on {day}", place=place, day=day)
        case RecordChangeKind.OPEN_WOUND:
            return _("open wound of {place} was recorded anew on {day}", place=place, day=day)
        case RecordChangeKind.MEASURED:
            name, unit = _MEASURED[values["name"]]
            measured = f"{values['value']} {unit}"
            return _("{name} was measured as {value} on {day}", name=_(name), value=measured, day=day)
        case RecordChangeKind.HELD_ON_OTHER_DAY:
            planned = date_in_words(date.fromisoformat(values["planned"]))
            return _("the session planned for {planned} was held on {day}", planned=planned, day=day)
    done, planned = (_area(Decimal(values[name]), _) for name in ("done_cm2", "planned_cm2"))
    return _(_DONE[values["act"]], place=place, day=day, done=done, planned=planned)
