"""Why a plan and its sessions are as they are, in words: rules, choices, and what more skin would be worth."""

from __future__ import annotations

from service.domain.method_change import MethodChange, WoundChange
from service.domain.plan import GraftPlan, Reason, SkinPrice
from service.domain.rule import Rule
from service.domain.session import Session
from service.wording.catalogue import fill, load_table
from service.wording.languages import ENGLISH, Words
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.rounding import TENTH, number_in_words, round_need_up, round_supply_down


def word_why(plan: GraftPlan, session: Session, _: Words = ENGLISH) -> list[str]:
    """All that is said about a session: what held it back, what other methods would do, what skin is worth."""
    return [*word_held_back(session, _), *word_method_changes(plan, session, _), *word_skin_prices(plan, session, _)]


def word_held_back(session: Session, _: Words = ENGLISH) -> list[str]:
    """The rules that stopped a session from doing more, in one sentence; nothing where none did.

    Raises ``ValueError`` for a name that is no rule.
    """
    limits = [_word_limit(Rule(rule), session, _) for rule in session.binding_rules]
    words = _("held back by {limit}", limit="; ".join(limits))
    return [f"{_begun(words)}."] if limits else []


def _word_limit(rule: Rule, session: Session, _: Words) -> str:
    """What a rule limits and, where it is a number of the session, how much of it the session comes to."""
    limit = _(load_table("rules")[rule.value]["held_back_by"])
    if rule is Rule.SESSION_BLOOD:
        return _("{limit} (here {load})", limit=limit, load=f"{session.blood_loss_ml:,} mL")
    if rule is Rule.SESSION_MINUTES:
        return _("{limit} (here {load})", limit=limit, load=f"{session.procedure_minutes} min")
    return limit


def word_method_changes(plan: GraftPlan, session: Session, _: Words = ENGLISH) -> list[str]:
    """A sentence for each method and its neighbour, with what the change does on each wound."""
    return [_word_change(change, _) for change in plan.method_changes if change.session == session.ordinal]


def _word_change(change: MethodChange, _: Words) -> str:
    rate = abs(change.days / change.skin_cm2) * 100
    values = {
        "planned": method_in_words(change.planned, _),
        "other": method_in_words(change.other, _),
        "better_or_worse": _("better") if change.days < 0 else _("worse"),
        "days": number_in_words(rate, TENTH),
        "wounds": "; ".join(_word_wound(wound, _) for wound in change.wounds),
    }
    if change.skin_cm2 > 0:
        return _begun(_("{other} instead of {planned} would make closure and scar {days} %TBSA-days {better_or_worse} "
                        "for each 100 cm² more skin: {wounds}.", **values))
    return _begun(_("{other} instead of {planned} would make closure and scar {days} %TBSA-days {better_or_worse} "
                    "for each 100 cm² of skin spared: {wounds}.", **values))


def _word_wound(wound: WoundChange, _: Words) -> str:
    skin = round_need_up(wound.skin_cm2) if wound.skin_cm2 > 0 else round_supply_down(-wound.skin_cm2)
    return _("{place} {skin} cm², {days} %TBSA-days", place=place_in_words(wound.place_key, _),
             skin=number_in_words(skin), days=number_in_words(abs(wound.days), TENTH))


def word_skin_prices(plan: GraftPlan, session: Session, _: Words = ENGLISH) -> list[str]:
    """What 100 cm² of donor skin more would save, site by site; nothing where it was not tried."""
    prices = sorted((p for p in plan.skin_prices if p.day == session.day), key=lambda p: -p.days_per_100_cm2)
    if not prices:
        return []
    return [_("The next 100 cm² of donor skin in this session would save, less the more of it there is: {prices}.",
              prices="; ".join(_word_price(price, _) for price in prices))]


def _word_price(price: SkinPrice, _: Words) -> str:
    return _("{place} {days} %TBSA-days", place=place_in_words(price.site_id, _), days=price.days_per_100_cm2)


def word_reasons(plan: GraftPlan, _: Words = ENGLISH) -> list[str]:
    """Why the course as a whole is as it is, a sentence each."""
    return [_word_reason(reason, _) for reason in plan.reasons]


def _word_reason(reason: Reason, _: Words) -> str:
    values = {name: _(value) for name, value in reason.values}
    return fill(_(load_table("reasons")[reason.code]["text"]), values)


def _begun(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}"
