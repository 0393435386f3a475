"""The theatre list in words: steps, preparation rules, and what becomes of leftover skin."""

from __future__ import annotations

from collections.abc import Iterable

from service.domain.dressing import Quantity
from service.domain.theatre_list import (
    CarrierShortage,
    LeftoverSkin,
    LikelySurplus,
    ListStep,
    StoredSkin,
    TheatreList,
    Timer,
)
from service.evidence.library import Evidence
from service.wording.catalogue import fill, load_table
from service.wording.forecast_text import courses_in_words
from service.wording.methods import skin_class_in_words
from service.wording.rounding import need_cm2, supply_cm2
from service.wording.spreads import range_in_words, spread_in_words


def word_step(step: ListStep) -> str:
    """One step of the order of work, with its minutes where they are estimated."""
    text = fill(load_table("steps")[step.text_code]["text"], dict(step.values))
    return text if step.minutes is None else f"{text} (about {step.minutes:.0f} min)"


def word_preparation(code: str, evidence: Evidence, first: str = "") -> str:
    """A preparation rule with the numbers of the site configuration."""
    values = {
        "spray_distance_cm": range_in_words(evidence.row("spray-distance-cm")),
        "adhesive_drying_minutes": f"{evidence.value('adhesive-drying-minutes'):f}",
        "room_temperature": spread_in_words(evidence.row("room-temperature")),
        "core_warn": f"{evidence.value('core-temperature', 'warn'):f}",
        "core_stop": f"{evidence.value('core-temperature', 'stop'):f}",
        "two_team_percent": f"{evidence.value('two-team-saving-fraction') * 100:.0f}",
        "stored_skin_plan": f"{evidence.value('stored-skin-days', 'plan'):f}",
        "first": first,
        "stored_skin_hard": f"{evidence.value('stored-skin-days', 'hard'):f}",
    }
    return fill(load_table("preparation")[code]["text"], values)


def word_leftover(leftover: LeftoverSkin, evidence: Evidence) -> str:
    """How much skin of a class is left over, and what becomes of it."""
    skin = f"{supply_cm2(leftover.area_cm2)} ({skin_class_in_words(leftover.skin_class)})"
    return f"Skin left over: {skin}: {word_preparation(leftover.fate, evidence)}."


def word_surplus(surplus: LikelySurplus, evidence: Evidence) -> str:
    """What too much skin costs, and what becomes of it."""
    code = "surplus-stored" if surplus.fate == "leftover-stored" else surplus.fate
    fate = word_preparation(code, evidence, supply_cm2(surplus.first_cm2))
    return (
        f"In {courses_in_words(surplus.courses_fraction)} about {need_cm2(surplus.area_cm2)} is too much, and the "
        f"donor wound larger than it need be: {fate}.")


def word_stored(stored: StoredSkin, evidence: Evidence) -> str:
    """Skin kept cold from an earlier session: how old, how fit, what take to expect of it."""
    take = evidence.value("stored-skin-take", stored.state) * 100
    return (
        f"Stored skin of session {stored.session}: {supply_cm2(stored.area_cm2)} "
        f"({skin_class_in_words(stored.skin_class)}), {_days(stored.age_days)} old, {_word(stored.state)}. "
        f"If not used already, lay it on open wound; expect {take:.0f} % of the usual take. "
        "Only with a label that names this patient, date and time."
    )


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def word_shortage(short: CarrierShortage) -> str:
    """Needed against stock, and what can be done."""
    return (
        f"LIST NOT COMPLETE: {short.needed_count} carriers at {short.ratio} needed with the spare ones, "
        f"{short.stock_count} left in stock. Order carriers, choose another ratio that is in stock, or graft a "
        "smaller area, and plan again."
    )


def word_team(lists: Iterable[TheatreList]) -> list[str]:
    """Requirements in one sentence, then people as estimates, for all sessions together."""
    roles = tuple(dict.fromkeys(role for listed in lists for role in listed.roles))
    required = "; ".join(_word(role.text_code) for role in roles if role.people is None)
    people = "; ".join(f"{_count(role.people)} {_word(role.text_code)}" for role in roles if role.people is not None)
    return [f"Required: {required}.", f"People, an estimate from memory (M): {people}."]


def word_timer(timer: Timer) -> str:
    """``Somebody keeps the time: drying of the adhesive, about 6 min (5-10).``"""
    spread = "" if timer.minutes.low is None else f" ({timer.minutes.low:f}-{timer.minutes.high:f})"
    return f"Somebody keeps the time: {_word(timer.text_code)}, about {timer.minutes.value:f} min{spread}."


def _word(code: str) -> str:
    return load_table("theatre_team")[code]["text"]


def _count(people: Quantity) -> str:
    return f"{people.value:f}" if people.low is None else f"{people.low:f}-{people.high:f}"
