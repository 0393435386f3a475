"""Plans side by side, in the few numbers that tell them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from service.domain.answer import PlanAnswer
from service.domain.course_figures import CourseFigures
from service.domain.plan import PlanOutcome
from service.wording.beside_text import name_alternative
from service.wording.dates import date_in_words
from service.wording.findings import word_code
from service.wording.languages import Words
from service.wording.rounding import TENTH, need_cm2, number_in_words, percent_tbsa, round_need_up

NONE = "–"


@dataclass(frozen=True)
class ComparedRow:
    """One number of every plan; ``differs`` when they do not all agree."""

    name: str
    values: tuple[str, ...]

    @property
    def differs(self) -> bool:
        return len(set(self.values)) > 1


def compare_plans(answers: Sequence[PlanAnswer], _: Words) -> list[ComparedRow]:
    """A row for each number, a value for each plan in the order given; needs are rounded up."""
    columns = [_numbers(answer, _) for answer in answers]
    return [ComparedRow(name, tuple(column[name] for column in columns)) for name in columns[0]]


def _numbers(answer: PlanAnswer, _: Words) -> dict[str, str]:
    case, plan = answer.case, answer.plan
    firm = plan.settled.firm_sessions
    first = firm[0] if firm else None
    taken = [h for h in plan.settled.harvests if h.day in {s.day for s in firm}]
    return {
        _("Outcome"): _outcome(answer, _),
        _("Sessions"): str(len(firm)),
        _("First session"): date_in_words(case.date_of(first.day)) if first else NONE,
        _("Skin in the first session"): _area(answer, [h.area_cm2 for h in taken if first and h.day == first.day]),
        _("Skin in all sessions"): _area(answer, [h.area_cm2 for h in taken]),
        _("Expected closed on"): NONE if plan.closure_day is None else date_in_words(case.date_of(plan.closure_day)),
        _("Still open at the end"): _area(answer, [s.area_cm2 for s in plan.settled.still_open]),
        _("Weighted open %TBSA-days"): _tenths(plan.objective_days),
        _("Proven gap, %"): NONE if plan.gap is None else _tenths(plan.gap * 100),
    }


def name_alternatives(answer: PlanAnswer, _: Words) -> list[str]:
    """What each alternative is best for."""
    beside = answer.plan.beside
    alternatives = beside.alternatives if beside else ()
    return [name_alternative(one, _) for one in alternatives]


def compare_alternatives(answer: PlanAnswer, _: Words) -> list[ComparedRow]:
    """The plan and its alternatives side by side; none without alternatives."""
    beside = answer.plan.beside
    if beside is None or not beside.alternatives:
        return []
    columns = [_figures(answer, figures, _) for figures in (beside.figures, *(a.figures for a in beside.alternatives))]
    return [ComparedRow(name, tuple(column[name] for column in columns)) for name in columns[0]]


def _figures(answer: PlanAnswer, figures: CourseFigures, _: Words) -> dict[str, str]:
    case, days = answer.case, figures.session_days
    return {
        _("Sessions"): str(len(days)),
        _("First session"): date_in_words(case.date_of(days[0])) if days else NONE,
        _("Skin in the first session"): _area(answer, [figures.harvested_on(days[0])] if days else []),
        _("Skin in all sessions"): _area(answer, [figures.harvested_cm2]),
        _("Expected closed on"): NONE if figures.closure_day is None else date_in_words(
            case.date_of(figures.closure_day)),
        _("Still open at the end"): _area(answer, [figures.open_cm2]),
        _("Scar, %TBSA-days"): _tenths(figures.scar_days),
        _("Weighted open %TBSA-days"): _tenths(figures.objective_days),
    }


def _outcome(answer: PlanAnswer, _: Words) -> str:
    plan = answer.plan
    if plan.outcome is PlanOutcome.NO_PLAN:
        return ": ".join((_("no plan"), *([word_code(plan.reason_no_plan, _)] if plan.reason_no_plan else [])))
    words = {
        PlanOutcome.OPTIMAL: _("proven best"), PlanOutcome.BEST_FOUND: _("best found"),
        PlanOutcome.RULE_OF_THUMB: _("rule of thumb"),
    }
    return words[plan.outcome]


def _area(answer: PlanAnswer, areas_cm2: list[Decimal]) -> str:
    area = sum(areas_cm2, Decimal(0))
    percent = percent_tbsa(round_need_up(answer.case.percent_tbsa(area), TENTH))
    return f"{need_cm2(area)} ({percent})" if area else NONE


def _tenths(value: Decimal | None) -> str:
    """To the next tenth up: the worse side of a cost or a gap."""
    return NONE if value is None else number_in_words(round_need_up(value, TENTH), TENTH)
