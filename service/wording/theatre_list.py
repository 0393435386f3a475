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
from service.wording.languages import ENGLISH, Words
from service.wording.methods import skin_class_in_words
from service.wording.places import listed_in_language
from service.wording.rounding import need_cm2, supply_cm2
from service.wording.spreads import range_in_words, spread_in_words


def word_step(step: ListStep, _: Words = ENGLISH) -> str:
    """One step of the order of work, with its minutes where they are estimated."""
    values = {name: listed_in_language(value, _) for name, value in step.values}
    text = fill(_(load_table("steps")[step.text_code]["text"]), values)
    return text if step.minutes is None else _("{step} (about {minutes} min)", step=text, minutes=f"{step.minutes:.0f}")


def word_preparation(code: str, evidence: Evidence, _: Words = ENGLISH, *, first: str = "") -> str:
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
    return fill(_(load_table("preparation")[code]["text"]), values)


def word_leftover(leftover: LeftoverSkin, evidence: Evidence, _: Words = ENGLISH) -> str:
    """How much skin of a class is left over, and what becomes of it."""
    return _("Skin left over: {area} ({skin}): {fate}.", area=supply_cm2(leftover.area_cm2),
             skin=skin_class_in_words(leftover.skin_class, _), fate=word_preparation(leftover.fate, evidence, _))


def word_surplus(surplus: LikelySurplus, evidence: Evidence, _: Words = ENGLISH) -> str:
    """What too much skin costs, and what becomes of it."""
    code = "surplus-stored" if surplus.fate == "leftover-stored" else surplus.fate
    fate = word_preparation(code, evidence, _, first=supply_cm2(surplus.first_cm2))
    return _("In {courses} about {area} is too much, and the donor wound larger than it need be: {fate}.",
             courses=courses_in_words(surplus.courses_fraction, _), area=need_cm2(surplus.area_cm2), fate=fate)


def word_stored(stored: StoredSkin, evidence: Evidence, _: Words = ENGLISH) -> str:
    """Skin kept cold from an earlier session: how old, how fit, what take to expect of it."""
    return _.ngettext(
        "Stored skin of session {session}: {area} ({skin}), {num} day old, {state}. If not used already, lay it on "
        "open wound; expect {take} % of the usual take. Only with a label that names this patient, date and time.",
        "Stored skin of session {session}: {area} ({skin}), {num} days old, {state}. If not used already, lay it on "
        "open wound; expect {take} % of the usual take. Only with a label that names this patient, date and time.",
        stored.age_days, session=stored.session, area=supply_cm2(stored.area_cm2), state=_word(stored.state, _),
        skin=skin_class_in_words(stored.skin_class, _),
        take=f"{evidence.value('stored-skin-take', stored.state) * 100:.0f}")


def word_shortage(short: CarrierShortage, _: Words = ENGLISH) -> str:
    """Needed against stock, and what can be done."""
    return _(
        "LIST NOT COMPLETE: {needed} carriers at {ratio} needed with the spare ones, {stock} left in stock. Order "
        "carriers, choose another ratio that is in stock, or graft a smaller area, and plan again.",
        needed=short.needed_count, ratio=short.ratio, stock=short.stock_count)


def word_team(lists: Iterable[TheatreList], _: Words = ENGLISH) -> list[str]:
    """Requirements in one sentence, then people as estimates, for all sessions together."""
    roles = tuple(dict.fromkeys(role for listed in lists for role in listed.roles))
    required = "; ".join(_word(role.text_code, _) for role in roles if role.people is None)
    people = "; ".join(f"{_count(role.people)} {_word(role.text_code, _)}" for role in roles if role.people is not None)
    return [_("Required: {roles}.", roles=required), _("People, an estimate from memory (M): {people}.", people=people)]


def word_timer(timer: Timer, _: Words = ENGLISH) -> str:
    """``Somebody keeps the time: drying of the adhesive, about 6 min (5-10).``"""
    spread = "" if timer.minutes.low is None else f" ({timer.minutes.low:f}-{timer.minutes.high:f})"
    return _("Somebody keeps the time: {act}, about {minutes}.", act=_word(timer.text_code, _),
             minutes=f"{timer.minutes.value:f} min{spread}")


def _word(code: str, _: Words) -> str:
    return _(load_table("theatre_team")[code]["text"])


def _count(people: Quantity) -> str:
    return f"{people.value:f}" if people.low is None else f"{people.low:f}-{people.high:f}"
