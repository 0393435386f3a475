"""The head of the text answer: what the plan is based on, and what was understood."""

from __future__ import annotations

from decimal import Decimal
from zoneinfo import ZoneInfo

from service.domain.answer import PlanAnswer
from service.domain.body_region import Place
from service.domain.burn_wound import BurnExtent, Depth
from service.domain.case import GraftingCase
from service.domain.patient import Patient
from service.domain.plan import PlanOutcome
from service.wording.asked_for import word_asked_for
from service.wording.dates import date_in_words
from service.wording.findings import word_finding
from service.wording.forecast_text import word_course
from service.wording.languages import ENGLISH, Words
from service.wording.places import surface_in_words
from service.wording.proof import word_proof
from service.wording.reasons import word_reasons
from service.wording.rounding import need_cm2, number_in_words, percent_tbsa, round_need_up
from service.wording.text_table import Column, heading, paragraph, table

TITLE = "GRAFT PLAN: draft proposal for review by a clinician"
HUNDREDTH = Decimal("0.01")
TENTH = Decimal("0.1")
#: An age below is told in completed months. [years]
_YEARS_FROM = 2
_DEPTH_ORDER = {None: 0} | {depth: number for number, depth in enumerate(Depth, start=1)}


def write_header(answer: PlanAnswer) -> list[str]:
    """Title, basis, what was asked for, understood extents and the outcome in one sentence."""
    case = answer.case
    lines = [TITLE, "=" * len(TITLE)]
    for text in _basis(case):
        lines += paragraph(text)
    asked = word_asked_for(answer)
    lines += heading("Asked for") if asked else []
    for text in asked:
        lines += paragraph(text, "  ", "  ")
    lines += heading("Understood: what is burned and what still needs a graft")
    lines += _extents(case)
    lines += heading("Outcome")
    for text in word_outcome(answer):
        lines += paragraph(text)
    return lines


def _basis(case: GraftingCase) -> list[str]:
    as_of = case.request.as_of.astimezone(ZoneInfo(case.request.time_zone))
    injury = case.date_of(case.injury_day)
    weights = {
        "life": "life, the largest area first",
        "function": "function, with face and hands first",
    }
    return [
        f"As of {date_in_words(as_of.date())} {as_of:%H:%M} ({case.request.time_zone}), "
        f"day {-case.injury_day} after the injury of {date_in_words(injury)}.",
        f"Age {word_age(case.age_years)} ({case.age_band.replace('-', ' ')}). "
        f"Body surface {number_in_words(case.body_surface_m2, HUNDREDTH)} m² "
        f"({case.body_surface_formula.replace('-', ' ').title()}).",
        *_converted(case.record.patient),
        f"Burned {percent_tbsa(case.burn_percent_tbsa)} without erythema; "
        f"to be grafted {percent_tbsa(case.graftable_percent_tbsa)}. "
        f"Weights favour {weights[case.weight_set]}.",
    ]


def word_age(age_years: Decimal, _: Words = ENGLISH) -> str:
    """``41.7 years``, and ``8 months`` below two years, as a paediatrician says it. [years]"""
    if age_years < _YEARS_FROM:
        return _.ngettext("{num} month", "{num} months", int(age_years * 12))
    return _("{age} years", age=number_in_words(age_years, TENTH))


def _converted(patient: Patient) -> list[str]:
    """Measurements that came in another unit, in both."""
    measured = (
        ("Weight", patient.weight_kg, "kg"), ("Height", patient.height_cm, "cm"),
        ("Body surface", patient.body_surface_m2, "m²"))
    read = [
        f"{name} {number_in_words(one.value, HUNDREDTH)} {unit}, sent as {one.as_sent}"
        for name, one, unit in measured if one and one.as_sent
    ]
    return [f"{'; '.join(read)}."] if read else []


def _extents(case: GraftingCase) -> list[str]:
    columns = [Column("Place", 26), Column("Depth", 22), Column("Recorded", 14, True), Column("To graft", 12, True)]
    total = sum((w.area_cm2 for w in case.wounds), Decimal(0))
    return table(columns, [*extent_rows(case), ("All", "", "", need_cm2(total))])


def extent_rows(case: GraftingCase, _: Words = ENGLISH) -> list[tuple[str, str, str, str]]:
    """Place, depth, what was recorded and what is to be grafted, from head to foot."""
    recorded: dict[tuple[Place, Depth | None], list[str]] = {}
    for extent in case.record.extents:
        recorded.setdefault((extent.place, extent.depth), []).append(_recorded_size(extent, _))
    for wound in case.record.open_wounds:
        recorded.setdefault((wound.place, None), []).append(need_cm2(wound.area_cm2))
    keys = {*recorded, *((w.place, w.depth) for w in case.wounds)}
    return [
        (
            _(surface_in_words(place)),
            _("open wound") if depth is None else _(depth.replace("-", " ")),
            " + ".join(recorded.get((place, depth), ["-"])),
            _to_graft(case, place, depth, _),
        )
        for place, depth in sorted(keys, key=lambda key: (_place_order(key[0]), _DEPTH_ORDER[key[1]]))
    ]


def _place_order(place: Place) -> tuple:
    regions = list(type(place.region))
    return regions.index(place.region), place.side or "", -ord(place.surface[0])


def _recorded_size(extent: BurnExtent, _: Words) -> str:
    if extent.percent_tbsa is not None:
        return f"{extent.percent_tbsa:f} %TBSA"
    return _("{percent} % of it", percent=f"{extent.percent_of_region:f}")


def _to_graft(case: GraftingCase, place: Place, depth: Depth | None, _: Words) -> str:
    area = sum((w.area_cm2 for w in case.wounds if (w.place, w.depth) == (place, depth)), Decimal(0))
    return need_cm2(area) if area else _("none")


def word_outcome(answer: PlanAnswer, _: Words = ENGLISH) -> list[str]:
    """How good the plan is and how large, or why there is none."""
    plan, case = answer.plan, answer.case
    if plan.outcome is PlanOutcome.NO_PLAN:
        return _why_no_plan(answer, _)
    proof = " ".join(word_proof(plan, _))
    return [_size_in_words(answer, case, _), *_simulated(answer, _), *word_reasons(plan, _), proof]


def _simulated(answer: PlanAnswer, _: Words) -> list[str]:
    forecast = answer.plan.forecast
    return [] if forecast is None else [word_course(answer.case, forecast, _)]


def _why_no_plan(answer: PlanAnswer, _: Words) -> list[str]:
    """The findings that stand against a plan, and what to do about each."""
    reasons = [word_finding(f, _) for f in answer.findings if f.code == answer.plan.reason_no_plan]
    return [_("No plan is made."), *(f"{reason.detail} {reason.mitigation}" for reason in reasons)]


def _size_in_words(answer: PlanAnswer, case: GraftingCase, _: Words) -> str:
    plan = answer.plan
    if not case.wounds:
        return _("Nothing needs a graft, so no session is planned.")
    firm = len(plan.settled.firm_sessions)
    possible = len(plan.settled.sessions) - firm
    sessions = _.ngettext("{num} session", "{num} sessions", firm)
    if possible:
        sessions = _("{sessions} and {possible} more only if grafts fail", sessions=sessions, possible=possible)
    if plan.settled.open_cm2:
        percent = round_need_up(case.percent_tbsa(plan.settled.open_cm2), TENTH)
        return _("{sessions}; {percent} ({area}) still open at the end.", sessions=sessions,
                 percent=percent_tbsa(percent), area=need_cm2(plan.settled.open_cm2))
    if plan.closure_day is None:
        return f"{sessions}."
    return _("{sessions}; closed on {date}, day {day} after injury, if no graft fails.", sessions=sessions,
             date=date_in_words(case.date_of(plan.closure_day)), day=plan.closure_day - case.injury_day)
