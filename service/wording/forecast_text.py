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
from service.wording.parameter_text import word_parameters
from service.wording.places import place_in_words
from service.wording.rounding import need_cm2, need_cm2_with_interval, number_in_words
from service.wording.text_table import Column, heading, paragraph, table

_OPEN = "still open at end"
_NEARLY_ALL, _HARDLY_ANY = Decimal("0.95"), Decimal("0.05")


def courses_in_words(fraction: Decimal) -> str:
    """A chance as a clinician hears it: in tenths, and never as certain as a number looks. [0-1]"""
    if fraction == 1:
        return "all simulated courses"
    if fraction == 0:
        return "none of the simulated courses"
    if fraction > _NEARLY_ALL:
        return "nearly all simulated courses"
    if fraction < _HARDLY_ANY:
        return "fewer than 1 of 20 simulated courses"
    tenths = min(max((fraction * 10).quantize(Decimal(1), ROUND_HALF_EVEN), Decimal(1)), Decimal(9))
    return f"about {tenths} of 10 simulated courses"


def word_coverage(session: SessionForecast, wanted_fraction: Decimal) -> list[str]:
    """Whether the planned harvest will do, the one that will more surely, and what either error costs."""
    if not session.harvest_cm2:
        return []
    wanted = (wanted_fraction * 10).quantize(Decimal(1), ROUND_CEILING)
    words = [f"This harvest covers what is planned in {courses_in_words(session.covers_fraction)}"]
    if session.harvest_for_wanted_cm2 > session.harvest_cm2:
        words.append(f"; {need_cm2(session.harvest_for_wanted_cm2)} would in {wanted} of 10")
    sentences = ["".join(words) + "."]
    if session.too_little_cm2:
        sentences.append(
            f"In the others about {need_cm2(session.too_little_cm2)} is lacking: another site is opened in the same "
            "session, or wound waits for the next one.")
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


def forecast_rows(case: GraftingCase, forecast: CourseForecast) -> list[tuple[str, str, str]]:
    """Name, middle and range of each quantity of the course."""
    rows = [
        ("Sessions", *_numbers(forecast.sessions, "")),
        ("Last wound closed", *_dates(case, forecast.closure_day)),
        ("Graft lost, all grafts", *_numbers(forecast.failed_cm2, " cm²")),
    ]
    if forecast.cover_days.high:
        rows.append(("Days with bed under cover", *_numbers(forecast.cover_days, "")))
    return rows


def word_course(case: GraftingCase, forecast: CourseForecast) -> str:
    """Sessions and closure in one sentence, as the simulated courses spread."""
    share = (forecast.interval_share * 10).quantize(Decimal(1), ROUND_HALF_EVEN)
    low, high = (number_in_words(value) for value in (forecast.sessions.low, forecast.sessions.high))
    sessions = low if low == high else f"{low} to {high}"
    first, last = forecast.closure_day.low, forecast.closure_day.high
    if first is None:
        closed = "some wound is still open at the end of the plan"
    elif last is None:
        closed = f"closed from {date_in_words(case.date_of(int(first)))} on, or not by the end of the plan"
    else:
        days = [date_in_words(case.date_of(int(day))) for day in (first, last)]
        closed = f"closed between {days[0]} and {days[1]}"
    return f"In {share} of 10 simulated courses: {sessions} {'session' if sessions == '1' else 'sessions'}, {closed}."


def word_interval_share(forecast: CourseForecast) -> str:
    """What low and high mean."""
    share = (forecast.interval_share * 10).quantize(Decimal(1), ROUND_HALF_EVEN)
    return (
        f"In {share} of 10 of {number_in_words(Decimal(forecast.courses_count))} simulated courses a value lies "
        "between low and high. Expansion, take, healing and the size of the burn vary in them; infection and "
        "delay of theatre do not, so a real course may be longer.")


def word_closed_by_horizon(forecast: CourseForecast) -> str:
    return f"Every wound is closed by the end of the plan in {courses_in_words(forecast.closed_fraction)}."


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


def word_need(session: SessionForecast) -> str:
    """``Skin needed: 1,490 cm² (1,261-1,760); planned 1,600 cm².``"""
    need = need_cm2_with_interval(session.needed.median, session.needed.low, session.needed.high)
    return f"Skin needed: {need}; planned {need_cm2(session.harvest_cm2)}."


def _sentences(answer: PlanAnswer, forecast: CourseForecast) -> Iterator[str]:
    yield word_interval_share(forecast)
    yield word_closed_by_horizon(forecast)
    if word_bottleneck(forecast):
        yield word_bottleneck(forecast)
    if word_lapse(forecast):
        yield word_lapse(forecast)


def _numbers(spread: Spread, unit: str) -> tuple[str, str]:
    low, middle, high = (number_in_words(value) for value in (spread.low, spread.median, spread.high))
    return f"{middle}{unit}", f"{low}{unit}" if low == high else f"{low} to {high}{unit}"


def _dates(case: GraftingCase, spread: Spread) -> tuple[str, str]:
    """The middle in full; in the range the year stands once for each end."""
    middle = _OPEN if spread.median is None else date_in_words(case.date_of(int(spread.median)))
    if spread.low is None:
        return middle, ""
    low = case.date_of(int(spread.low)).isoformat()
    return middle, f"{low} or later" if spread.high is None else f"{low} to {case.date_of(int(spread.high))}"
