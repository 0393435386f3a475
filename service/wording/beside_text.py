"""Other plans to choose from, a line each, and what other weights would change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from service.domain.alternative import Alternative, FirstSession, Sensitivity, WeightEffect
from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.course_figures import CourseFigures
from service.wording.catalogue import load_table
from service.wording.dates import date_in_words
from service.wording.languages import ENGLISH, N_, Words
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.rounding import TENTH, need_cm2, number_in_words
from service.wording.text_table import heading, paragraph

ALTERNATIVES = "Other plans to choose from"
WEIGHTS = "If other weights counted"


def write_beside(answer: PlanAnswer) -> list[str]:
    """Both sections of the text answer; nothing where nothing stands beside the plan."""
    lines = []
    for title, sentences in ((ALTERNATIVES, word_alternatives(answer)), (WEIGHTS, word_sensitivity(answer))):
        lines += heading(title) if sentences else []
        for text in sentences:
            lines += paragraph(text, "  ", "  ")
    return lines


def word_alternatives(answer: PlanAnswer, _: Words = ENGLISH) -> list[str]:
    """What each alternative is best for, and what it costs."""
    beside = answer.plan.beside
    if beside is None:
        return []
    return [_word_alternative(answer.case, beside.figures, one, _) for one in beside.alternatives]


def _word_alternative(case: GraftingCase, plan: CourseFigures, alternative: Alternative, _: Words) -> str:
    return f"{name_alternative(alternative, _)}: {'; '.join(_compare(case, plan, alternative.figures, _))}."


def name_alternative(alternative: Alternative, _: Words = ENGLISH) -> str:
    """What it is best for: ``Earliest closure, fewest sessions``."""
    first, *others = (_(load_table("goals")[goal]["text"]) for goal in alternative.goals)
    return _.series((first, *map(_.continued, others)))


def _compare(case: GraftingCase, plan: CourseFigures, other: CourseFigures, _: Words) -> Iterator[str]:
    """Sessions, closure, skin, scar and cost, each only where it differs."""
    counts = len(other.session_days), len(plan.session_days)
    if counts[0] != counts[1]:
        yield _.ngettext("{num} session instead of {planned}", "{num} sessions instead of {planned}", counts[0],
                         planned=counts[1])
    if other.closure_day is not None and other.closure_day != plan.closure_day:
        yield _word_closure(date_in_words(case.date_of(other.closure_day)), plan.closure_day, other.closure_day, _)
    skin = other.harvested_cm2 - plan.harvested_cm2
    if skin:
        area = need_cm2(abs(skin))
        yield _("{area} more skin taken", area=area) if skin > 0 else _("{area} less skin taken", area=area)
    if other.scar_days != plan.scar_days:
        yield _("scar {other} instead of {planned} %TBSA-days", other=_number(other.scar_days),
                planned=_number(plan.scar_days))
    yield _word_cost(other.objective_days - plan.objective_days, _)


def _word_cost(cost_days: Decimal, _: Words) -> str:
    days = _number(abs(cost_days))
    if not cost_days:
        return _("as good by these weights")
    return _("{days} %TBSA-days worse by these weights", days=days) if cost_days > 0 else _(
        "{days} %TBSA-days better by these weights", days=days)


def _word_closure(date: str, planned_day: int | None, other_day: int, _: Words) -> str:
    if planned_day is None:
        return _("closed on {date}", date=date)
    days = other_day - planned_day
    if days > 0:
        return _.ngettext("closed on {date}, {num} day later", "closed on {date}, {num} days later", days, date=date)
    return _.ngettext("closed on {date}, {num} day earlier", "closed on {date}, {num} days earlier", -days, date=date)


def _number(value: Decimal) -> str:
    return number_in_words(value, TENTH)


def word_sensitivity(answer: PlanAnswer, _: Words = ENGLISH) -> list[str]:
    """Which weights matter for the first session, and how far that was tried."""
    beside = answer.plan.beside
    if beside is None or beside.sensitivity is None:
        return []
    tried = beside.sensitivity
    if not tried.compared_count:
        return [_("No other course at hand starts otherwise and leaves no more open, so no weight could be tried.")]
    grouped: dict[FirstSession, list[WeightEffect]] = defaultdict(list)
    for effect in tried.effects:
        grouped[effect.first].append(effect)
    sentences = [
        _("If {weights}, another first session would be the better one: {differences}.",
          weights=_word_weights(effects, _),
          differences="; ".join(word_first_session(answer.case, tried.recommended, first, _)))
        for first, effects in grouped.items()
    ]
    none = _("No weight, halved or doubled, makes another first session the better one.")
    return [*(sentences or [none]), _word_extent(tried, _)]


def _word_extent(tried: Sensitivity, _: Words) -> str:
    """How many weights were tried, against how many courses."""
    courses = _.ngettext("{num} other course", "{num} other courses", tried.compared_count)
    if tried.is_complete:
        return _("Tried: {count} weights, each halved and doubled, against {courses}.",
                 count=tried.tried_count, courses=courses)
    return _("Tried: {count} weights, each halved and doubled, against {courses} that came nearest; others were not "
             "compared.", count=tried.tried_count, courses=courses)


def _word_weights(effects: Iterable[WeightEffect], _: Words) -> str:
    """``one more session or an open day of the hand counted half, or the scar counted double``."""
    effects = list(effects)
    parts = []
    for is_doubled, counted in ((False, N_("{weights} counted half")), (True, N_("{weights} counted double"))):
        weights = [effect.weight for effect in effects if effect.is_doubled is is_doubled]
        parts += [_(counted, weights=_.either(_name_weights(weights, _)))] if weights else []
    return _("{first}, or {second}", first=parts[0], second=parts[1]) if len(parts) > 1 else parts[0]


def _name_weights(weights: Iterable[str], _: Words) -> Iterator[str]:
    """Each weight of the table, then one open day for all regions."""
    regions = []
    for weight in weights:
        name, region = (weight.split("/", 1) + [""])[:2]
        if region:
            regions.append(_("the {place}", place=place_in_words(region, _)))
        else:
            yield _(load_table("weights")[name]["text"])
    if regions:
        yield _("an open day of {places}", places=_.either(regions))


def word_first_session(
    case: GraftingCase, plan: FirstSession, other: FirstSession, _: Words = ENGLISH,
) -> Iterator[str]:
    """How one first session differs from the one that is planned."""
    if other.day != plan.day:
        yield _("no session") if other.day is None else _("on {date}", date=date_in_words(case.date_of(other.day)))
    if other.harvested_cm2 != plan.harvested_cm2:
        yield _("{other} of skin instead of {planned}", other=need_cm2(other.harvested_cm2),
                planned=need_cm2(plan.harvested_cm2))
    grafts = [_places((wound for wound, method in first.grafted), _) for first in (plan, other)]
    methods = [{method_in_words(method, _) for wound, method in first.grafted} for first in (plan, other)]
    sites = [_places(first.sites, _) for first in (plan, other)]
    yield from _word_sets(grafts, N_("also grafts on the {places}"), N_("no graft on the {places}"), _)
    yield from _word_sets(methods, N_("with {methods}"), N_("without {methods}"), _)
    yield from _word_sets(sites, N_("skin also from the {places}"), N_("no skin from the {places}"), _)


def _places(keys: Iterable[str], _: Words) -> set[str]:
    return {place_in_words(key.partition(":")[0], _) for key in keys}


def _word_sets(sets: Sequence[set[str]], added: str, left_out: str, _: Words) -> Iterator[str]:
    """What the other first session has more and has not, of the one that is planned and the other."""
    plan, other = sets
    for how, names in ((added, other - plan), (left_out, plan - other)):
        if names:
            named = _.linked(sorted(names))
            yield _(how, places=named, methods=named)
