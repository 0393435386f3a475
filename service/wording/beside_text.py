"""Other plans to choose from, a line each, and what other weights would change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from decimal import Decimal

from service.domain.alternative import Alternative, FirstSession, WeightEffect
from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.course_figures import CourseFigures
from service.wording.catalogue import load_table
from service.wording.dates import date_in_words
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


def word_alternatives(answer: PlanAnswer) -> list[str]:
    """What each alternative is best for, and what it costs."""
    beside = answer.plan.beside
    if beside is None:
        return []
    return [_word_alternative(answer.case, beside.figures, one) for one in beside.alternatives]


def _word_alternative(case: GraftingCase, plan: CourseFigures, alternative: Alternative) -> str:
    titles = [load_table("goals")[goal]["text"] for goal in alternative.goals]
    title = ", ".join([titles[0], *(title[0].lower() + title[1:] for title in titles[1:])])
    return f"{title}: {'; '.join(_compare(case, plan, alternative.figures))}."


def _compare(case: GraftingCase, plan: CourseFigures, other: CourseFigures) -> Iterator[str]:
    """Sessions, closure, skin, scar and cost, each only where it differs."""
    counts = len(other.session_days), len(plan.session_days)
    if counts[0] != counts[1]:
        yield f"{counts[0]} {'session' if counts[0] == 1 else 'sessions'} instead of {counts[1]}"
    if other.closure_day is not None and other.closure_day != plan.closure_day:
        yield f"closed on {date_in_words(case.date_of(other.closure_day))}{_days_apart(plan, other.closure_day)}"
    skin = other.harvested_cm2 - plan.harvested_cm2
    if skin:
        yield f"{need_cm2(abs(skin))} {'more' if skin > 0 else 'less'} skin taken"
    if other.scar_days != plan.scar_days:
        yield f"scar {_number(other.scar_days)} instead of {_number(plan.scar_days)} %TBSA-days"
    cost = other.objective_days - plan.objective_days
    yield (f"{_number(abs(cost))} %TBSA-days {'dearer' if cost > 0 else 'cheaper'} by these weights" if cost
           else "the same cost by these weights")


def _days_apart(plan: CourseFigures, closure_day: int) -> str:
    if plan.closure_day is None:
        return ""
    days = closure_day - plan.closure_day
    return f", {abs(days)} {'day' if abs(days) == 1 else 'days'} {'later' if days > 0 else 'earlier'}"


def _number(value: Decimal) -> str:
    return number_in_words(value, TENTH)


def word_sensitivity(answer: PlanAnswer) -> list[str]:
    """Which weights matter for the first session, and how far that was tried."""
    beside = answer.plan.beside
    if beside is None or beside.sensitivity is None:
        return []
    tried = beside.sensitivity
    if not tried.compared_count:
        return ["No other course at hand starts otherwise and leaves no more open, so no weight could be tried."]
    grouped: dict[FirstSession, list[WeightEffect]] = defaultdict(list)
    for effect in tried.effects:
        grouped[effect.first].append(effect)
    sentences = [
        f"If {_word_weights(effects)}, another first session would be the better one: "
        f"{'; '.join(word_first_session(answer.case, tried.recommended, first))}."
        for first, effects in grouped.items()
    ]
    extent = (f"Tried: {tried.tried_count} weights, each halved and doubled, against {_courses(tried.compared_count)}"
              f"{'' if tried.is_complete else ' that came nearest; others were not compared'}.")
    return [*(sentences or ["No weight, halved or doubled, makes another first session the better one."]), extent]


def _courses(count: int) -> str:
    return "1 other course" if count == 1 else f"{count} other courses"


def _word_weights(effects: Iterable[WeightEffect]) -> str:
    """``one more session or an open day of the hand counted half, or the scar counted double``."""
    effects = list(effects)
    parts = []
    for is_doubled, amount in ((False, "half"), (True, "double")):
        weights = [effect.weight for effect in effects if effect.is_doubled is is_doubled]
        parts += [f"{_either(_name_weights(weights))} counted {amount}"] if weights else []
    return ", or ".join(parts)


def _name_weights(weights: Iterable[str]) -> Iterator[str]:
    """Each weight of the table, then one open day for all regions."""
    regions = []
    for weight in weights:
        name, _, region = weight.partition("/")
        if region:
            regions.append(f"the {place_in_words(region)}")
        else:
            yield load_table("weights")[name]["text"]
    if regions:
        yield f"an open day of {_either(regions)}"


def _either(names: Iterable[str]) -> str:
    """``A``, ``A or B``, ``A, B or C``."""
    *first, last = names
    return f"{', '.join(first)} or {last}" if first else last


def word_first_session(case: GraftingCase, plan: FirstSession, other: FirstSession) -> Iterator[str]:
    """How one first session differs from the one that is planned."""
    if other.day != plan.day:
        yield "no session" if other.day is None else f"on {date_in_words(case.date_of(other.day))}"
    if other.harvested_cm2 != plan.harvested_cm2:
        yield f"{need_cm2(other.harvested_cm2)} of skin instead of {need_cm2(plan.harvested_cm2)}"
    grafts = _places(w for w, _ in plan.grafted), _places(w for w, _ in other.grafted)
    yield from _word_sets(grafts, "also grafts on the", "no graft on the")
    yield from _word_sets((_methods(plan), _methods(other)), "with", "without")
    yield from _word_sets((_places(plan.sites), _places(other.sites)), "skin also from the", "no skin from the")


def _places(keys: Iterable[str]) -> set[str]:
    return {place_in_words(key.partition(":")[0]) for key in keys}


def _methods(first: FirstSession) -> set[str]:
    return {method_in_words(method) for _, method in first.grafted}


def _word_sets(sets: tuple[set[str], set[str]], added: str, left_out: str) -> Iterator[str]:
    """What the other first session has more and has not, of the one that is planned and the other."""
    plan, other = sets
    for how, names in ((added, other - plan), (left_out, plan - other)):
        if names:
            yield f"{how} {' and '.join(sorted(names))}"
