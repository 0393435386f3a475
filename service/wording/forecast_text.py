"""The simulated courses in words: "in about 7 of 10 simulated courses ...", and low to high beside a number."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.forecast import CourseForecast, SessionForecast, Spread
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.wording.dates import date_in_words
from service.wording.languages import ENGLISH, Words
from service.wording.parameter_text import word_parameters
from service.wording.places import place_in_words
from service.wording.rounding import need_cm2, need_cm2_with_interval, number_in_words
from service.wording.text_table import Column, heading, paragraph, table

_NEARLY_ALL, _HARDLY_ANY = Decimal("0.95"), Decimal("0.05")


def courses_in_words(fraction: Decimal, _: Words = ENGLISH) -> str:
    """A chance as a clinician hears it: in tenths, and never as certain as a number looks. [0-1]

    Every sentence puts ``in`` before it, so a language with cases has it in the one that follows.
    """
    if fraction == 1:
        return _("all simulated courses")
    if fraction == 0:
        return _("none of the simulated courses")
    if fraction > _NEARLY_ALL:
        return _("nearly all simulated courses")
    if fraction < _HARDLY_ANY:
        return _("fewer than 1 of 20 simulated courses")
    tenths = min(max((fraction * 10).quantize(Decimal(1), ROUND_HALF_EVEN), Decimal(1)), Decimal(9))
    return _("about {tenths} of 10 simulated courses", tenths=tenths)


def word_coverage(session: SessionForecast, wanted_fraction: Decimal, _: Words = ENGLISH) -> list[str]:
    """Whether the planned harvest will do, the one that will more surely, and what either error costs."""
    if not session.harvest_cm2:
        return []
    wanted = (wanted_fraction * 10).quantize(Decimal(1), ROUND_CEILING)
    courses = courses_in_words(session.covers_fraction, _)
    if session.harvest_for_wanted_cm2 > session.harvest_cm2:
        sentences = [_("This harvest covers what is planned in {courses}; {area} would in {wanted} of 10.",
                       courses=courses, area=need_cm2(session.harvest_for_wanted_cm2), wanted=wanted)]
    else:
        sentences = [_("This harvest covers what is planned in {courses}.", courses=courses)]
    if session.too_little_cm2:
        sentences.append(_(
            "In the others about {area} is lacking: another site is opened in the same session, or part of the "
            "wound waits for the next one.", area=need_cm2(session.too_little_cm2)))
    return sentences


def word_possible(plan: SettledPlan, session: Session, forecast: CourseForecast) -> str:
    """How often a session beyond the firm ones is needed. ``possible, in about 3 of 10 simulated courses``."""
    return f"possible, in {courses_in_words(further_fraction(plan, session, forecast))}"


def further_fraction(plan: SettledPlan, session: Session, forecast: CourseForecast) -> Decimal:
    """Fraction of the courses that hold so many sessions beyond the firm ones. [0-1]"""
    place = [s.ordinal for s in plan.sessions if s.is_contingent].index(session.ordinal)
    return forecast.further_fractions[place] if place < len(forecast.further_fractions) else Decimal(0)


def write_forecast(answer: PlanAnswer) -> list[str]:
    """The course in numbers with low and high, and what most often holds it up."""
    forecast = answer.plan.forecast
    if forecast is None:
        return []
    columns = [Column("In the simulated courses", 30), Column("Middle", 18), Column("Low to high", 28)]
    lines = heading("How sure this is")
    lines += table(columns, forecast_rows(answer.case, forecast))
    for sentence in (*_sentences(answer, forecast), *word_parameters(answer)):
        lines += paragraph(sentence)
    return lines


def forecast_rows(case: GraftingCase, forecast: CourseForecast, _: Words = ENGLISH) -> list[tuple[str, str, str]]:
    """Name, middle and range of each quantity of the course."""
    rows = [
        (_("Sessions"), *_numbers(forecast.sessions, "", _)),
        (_("Last wound closed"), *_dates(case, forecast.closure_day, _)),
        (_("Graft lost, all grafts"), *_numbers(forecast.failed_cm2, " cm²", _)),
    ]
    if forecast.cover_days.high:
        rows.append((_("Days with bed under cover"), *_numbers(forecast.cover_days, "", _)))
    return rows


def word_course(case: GraftingCase, forecast: CourseForecast, _: Words = ENGLISH) -> str:
    """Sessions and closure in one sentence, as the simulated courses spread."""
    low, high = (number_in_words(value) for value in (forecast.sessions.low, forecast.sessions.high))
    sessions = _.ngettext("{num} session", "{num} sessions", int(low)) if low == high else _(
        "{low} to {high} sessions", low=low, high=high)
    return _("In {share} of 10 simulated courses: {sessions}, {closed}.", share=_share(forecast), sessions=sessions,
             closed=_word_closed(case, forecast.closure_day, _))


def _word_closed(case: GraftingCase, closure_day: Spread, _: Words) -> str:
    first, last = (None if day is None else date_in_words(case.date_of(int(day)))
                   for day in (closure_day.low, closure_day.high))
    if first is None:
        return _("some wound is still open at the end of the plan")
    if last is None:
        return _("closed from {day} on, or not by the end of the plan", day=first)
    return _("closed between {first} and {last}", first=first, last=last)


def _share(forecast: CourseForecast) -> Decimal:
    """Of 10 courses, how many lie between low and high."""
    return (forecast.interval_share * 10).quantize(Decimal(1), ROUND_HALF_EVEN)


def word_interval_share(forecast: CourseForecast, _: Words = ENGLISH) -> str:
    """What low and high mean."""
    return _(
        "In {share} of 10 of {count} simulated courses a value lies between low and high. Expansion, take, healing "
        "and the size of the burn vary in them; infection and delay of theatre do not, so a real course may be "
        "longer.", share=_share(forecast), count=number_in_words(Decimal(forecast.courses_count)))


def word_closed_by_horizon(forecast: CourseForecast, _: Words = ENGLISH) -> str:
    return _("Every wound is closed by the end of the plan in {courses}.",
             courses=courses_in_words(forecast.closed_fraction, _))


def word_bottleneck(forecast: CourseForecast) -> str:
    """The donor site that sessions wait for most often; empty where none keeps one waiting."""
    if forecast.bottleneck_site_id is None or forecast.bottleneck_fraction < _HARDLY_ANY:
        return ""
    return (f"The donor site most often not healed in time is {place_in_words(forecast.bottleneck_site_id)}: in "
            f"{courses_in_words(forecast.bottleneck_fraction)}.")


def word_lapse(forecast: CourseForecast) -> str:
    """Beds whose cover ends with no stock to renew it; empty where that does not happen."""
    if not forecast.cover_lapse_fraction:
        return ""
    return ("Cover on an excised bed ends before the bed is grafted, with no stock left to renew it, in "
            f"{courses_in_words(forecast.cover_lapse_fraction)}: have more cover at hand.")


def word_need(session: SessionForecast, _: Words = ENGLISH) -> str:
    """``Skin needed: 1,490 cm² (1,261-1,760); planned 1,600 cm².``"""
    need = need_cm2_with_interval(session.needed.median, session.needed.low, session.needed.high)
    return _("Skin needed: {need}; planned {planned}.", need=need, planned=need_cm2(session.harvest_cm2))


def _sentences(answer: PlanAnswer, forecast: CourseForecast) -> Iterator[str]:
    yield word_interval_share(forecast)
    yield word_closed_by_horizon(forecast)
    if word_bottleneck(forecast):
        yield word_bottleneck(forecast)
    if word_lapse(forecast):
        yield word_lapse(forecast)


def _numbers(spread: Spread, unit: str, _: Words) -> tuple[str, str]:
    low, middle, high = (number_in_words(value) for value in (spread.low, spread.median, spread.high))
    return f"{middle}{unit}", f"{low}{unit}" if low == high else _("{first} to {last}", first=low, last=f"{high}{unit}")


def _dates(case: GraftingCase, spread: Spread, _: Words) -> tuple[str, str]:
    """The middle in full; in the range the year stands once for each end."""
    middle = _("still open at end") if spread.median is None else date_in_words(case.date_of(int(spread.median)))
    if spread.low is None:
        return middle, ""
    low = case.date_of(int(spread.low)).isoformat()
    if spread.high is None:
        return middle, _("{day} or later", day=low)
    return middle, _("{first} to {last}", first=low, last=case.date_of(int(spread.high)).isoformat())
