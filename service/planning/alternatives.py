"""Alternatives: plans that close earlier, in fewer sessions, with less scar, or with less skin."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from math import inf

from service.domain.alternative import Alternative, Goal
from service.domain.course_figures import CourseFigures
from service.domain.plan import SettledPlan
from service.preferences.library import Preferences

Course = tuple[SettledPlan, CourseFigures]
_NEVER = Decimal(inf)


def closure_order(figures: CourseFigures) -> Decimal:
    """Day of closure; a course that leaves something open closes after every other."""
    return _NEVER if figures.closure_day is None else Decimal(figures.closure_day)


_FIGURE: dict[Goal, Callable[[CourseFigures], Decimal]] = {
    Goal.EARLIEST_CLOSURE: closure_order,
    Goal.FEWEST_SESSIONS: lambda figures: Decimal(len(figures.session_days)),
    Goal.LEAST_SCAR: lambda figures: figures.scar_days,
    Goal.MOST_SKIN_KEPT: lambda figures: figures.harvested_cm2,
}


def _respects(figures: CourseFigures) -> tuple[Decimal, ...]:
    """Everything by which one course may better another; less is better in each."""
    return figures.open_cm2, *(figure(figures) for figure in _FIGURE.values())


def is_dominated(figures: CourseFigures, others: Sequence[CourseFigures]) -> bool:
    """Whether another course is nowhere worse and somewhere better."""
    own = _respects(figures)
    rivals = (_respects(other) for other in others)
    return any(rival != own and all(a <= b for a, b in zip(rival, own, strict=True)) for rival in rivals)


def find_alternatives(recommended: CourseFigures, courses: Sequence[Course], preferences: Preferences,
                      is_verified: Callable[[SettledPlan], bool]) -> tuple[Alternative, ...]:
    """The best course for each goal that betters the plan in it, none dominated, each verified.

    Parameters
    ----------
    recommended : figures of the plan; no alternative leaves more open than it
    courses : plans at hand with their figures
    preferences : how much an alternative has to better the figure of its goal, and may cost
    is_verified : the verdict of verification on a plan
    """
    least_gain = preferences.value("alternative-least-gain")
    most_cost = recommended.objective_days * (1 + preferences.value("alternative-most-cost"))
    at_hand = [figures for _, figures in courses]
    good = [course for course in courses if course[1].open_cm2 <= recommended.open_cm2
            and course[1].objective_days <= most_cost
            and not is_dominated(course[1], [recommended, *at_hand])]
    chosen: dict[SettledPlan, tuple[CourseFigures, list[Goal]]] = {}
    for goal, figure in _FIGURE.items():
        best = min(good, default=None, key=lambda c, f=figure: (f(c[1]), c[1].objective_days, c[1].session_days))
        if best is not None and _gains(figure(best[1]), figure(recommended), least_gain):
            chosen.setdefault(best[0], (best[1], []))[1].append(goal)
    return tuple(Alternative(tuple(goals), plan, figures) for plan, (figures, goals) in chosen.items()
                 if is_verified(plan))


def _gains(value: Decimal, of_plan: Decimal, least_gain: Decimal) -> bool:
    """Whether a figure is smaller by the least share; closing at all is always a gain."""
    if of_plan == _NEVER:
        return value < of_plan
    return value < of_plan and of_plan - value >= least_gain * of_plan
