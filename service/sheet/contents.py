"""The plan sheet: one page for the course, one for each coming session, then calendar and grounds."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.case import GraftingCase
from service.domain.forecast import CourseForecast
from service.domain.plan import Closure
from service.evidence.library import load_evidence
from service.sheet.basis import Basis, bedside_checks, make_basis
from service.sheet.charts import Chart
from service.sheet.course_page import draw_course, draw_donor_course, draw_donor_reserve, draw_wound_course
from service.sheet.session_page import SessionPage, draw_map, make_session_page
from service.wording.beside_text import word_alternatives, word_sensitivity
from service.wording.cautions import CAUTIONS
from service.wording.course_text import calendar_rows
from service.wording.dates import date_in_words
from service.wording.findings import WordedFinding
from service.wording.findings_text import word_findings
from service.wording.forecast_text import forecast_rows, word_closed_by_horizon, word_interval_share
from service.wording.languages import Words
from service.wording.learning_text import word_data, word_learned
from service.wording.notes_text import sources_in_words, word_variant, word_versions
from service.wording.places import place_in_words
from service.wording.plan_difference import PLAN_CHANGED, word_plan_difference
from service.wording.plan_header import extent_rows, word_age, word_outcome
from service.wording.rounding import TENTH, need_cm2, percent_tbsa, round_need_up


@dataclass(frozen=True)
class DrawnSession:
    """A session page with its two maps."""

    page: SessionPage
    date: str
    wound_map: str
    donor_map: str


@dataclass(frozen=True)
class PlanSheet:
    """Everything that the templates print; every text is ready but for its language."""

    case: GraftingCase
    basis: Basis
    checks: list[tuple[str, str]]
    outcome: list[str]
    extents: list[tuple[str, str, str, str]]
    figures: list[tuple[str, str]]
    sessions: list[DrawnSession]
    wound_map: str
    donor_map: str
    timeline: Chart | None
    reserve: Chart | None
    closures: list[tuple[str, str, str]]
    still_open: list[tuple[str, str]]
    calendar: list[tuple[str, str, str, str]]
    forecast: list[tuple[str, str, str]]
    certainty: list[str]
    alternatives: list[str]
    weights: list[str]
    learned: list[str]
    changed: list[str]
    findings: list[WordedFinding]
    sources: list[str]
    versions: list[str]
    cautions: list[str]

    def date(self, day: int) -> str:
        """A planning day as date and weekday."""
        return date_in_words(self.case.date_of(day))


def make_plan_sheet(answer: PlanAnswer, plan_sha256: str, _: Words) -> PlanSheet:
    """Gather and draw what a sheet shows.

    Parameters
    ----------
    answer : PlanAnswer
        A verified plan, or the answer that there is none.
    plan_sha256 : str
        Hash of the answer as it was written.
    _ : callable
        Puts the fixed words of the sheet into the language of the reader.
    """
    case, plan = answer.case, answer.plan
    has_plan = bool(plan.settled.sessions)
    return PlanSheet(
        case=case,
        basis=make_basis(answer, plan_sha256, _),
        checks=bedside_checks(answer, _),
        outcome=word_outcome(answer, _),
        extents=extent_rows(case, _),
        figures=_figures(answer, _),
        sessions=[_draw_session(answer, make_session_page(answer, s, _), _) for s in plan.settled.sessions],
        wound_map=draw_wound_course(answer, "course", _),
        donor_map=draw_donor_course(answer, "course", _),
        timeline=draw_course(answer, _) if has_plan else None,
        reserve=draw_donor_reserve(answer, _) if plan.ledger else None,
        closures=[_closure(case, closure, _) for closure in plan.closures],
        still_open=[(place_in_words(s.wound_id, _), _area(case, s.area_cm2)) for s in plan.settled.still_open],
        calendar=[(date_in_words(case.date_of(d)), *rest) for d, *rest in calendar_rows(answer, _)],
        forecast=forecast_rows(case, plan.forecast, _) if plan.forecast else [],
        certainty=_certainty(plan.forecast, _) if plan.forecast else [],
        alternatives=[*(word_variant(answer, variant, _) for variant in plan.variants), *word_alternatives(answer, _)],
        weights=word_sensitivity(answer, _),
        learned=[f"{word_learned(one, _)} {word_data(one, _)}" for one in answer.learned],
        changed=word_plan_difference(answer, _),
        findings=word_findings((f for f in answer.findings if f.code != PLAN_CHANGED), _),
        sources=sources_in_words(answer, load_evidence()),
        versions=word_versions(answer, _),
        cautions=[_(line) for line in CAUTIONS],
    )


def _certainty(forecast: CourseForecast, _: Words) -> list[str]:
    return [word_interval_share(forecast, _), word_closed_by_horizon(forecast, _)]


def _draw_session(answer: PlanAnswer, page: SessionPage, _: Words) -> DrawnSession:
    name = f"session-{page.ordinal}"
    return DrawnSession(
        page,
        date_in_words(answer.case.date_of(page.day)),
        draw_map(answer, page.wound_marks, f"{name}-wounds", _("What is grafted in this session"), _),
        draw_map(answer, page.donor_marks, f"{name}-donors", _("Where skin is taken in this session"), _),
    )


def _area(case: GraftingCase, area_cm2: Decimal) -> str:
    """A needed area in both units: ``820 cm² (4.2 %TBSA)``."""
    return f"{need_cm2(area_cm2)} ({percent_tbsa(round_need_up(case.percent_tbsa(area_cm2), TENTH))})"


def _figures(answer: PlanAnswer, _: Words) -> list[tuple[str, str]]:
    """The course in a few numbers, areas in both units."""
    case, plan = answer.case, answer.plan
    taken = sum((h.area_cm2 for h in plan.settled.harvests), Decimal(0))
    possible = len(plan.settled.sessions) - len(plan.settled.firm_sessions)
    figures = [
        (_("Burned, without erythema"), percent_tbsa(case.burn_percent_tbsa)),
        (_("To be grafted"), _area(case, sum((w.area_cm2 for w in case.wounds), Decimal(0)))),
        (_("Sessions"), " ".join((
            str(len(plan.settled.firm_sessions)), *(["+", str(possible), _("possible")] if possible else [])))),
        (_("Skin to take, whole course"), _area(case, taken)),
        (_("Age"), word_age(case.age_years, _)),
        (_("Body surface"), f"{case.body_surface_m2:.2f} m²"),
    ]
    last = max((c for c in plan.closures if c.day is not None), key=lambda c: c.day, default=None)
    if plan.closure_day is not None and last is not None:
        figures.append((_("Last wound expected closed"), " ".join(_closure(case, last, _)[1:])))
    return figures


def _closure(case: GraftingCase, closure: Closure, _: Words) -> tuple[str, str, str]:
    place = place_in_words(closure.wound_id, _)
    if closure.day is None:
        return place, "–", ""
    spread = "" if closure.low_day is None else f"({case.date_of(closure.low_day)} … {case.date_of(closure.high_day)})"
    return place, date_in_words(case.date_of(closure.day)), spread
