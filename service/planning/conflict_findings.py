"""What keeps a wound open, or stands against a decision, as findings about the plan."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from service.domain.case import GraftingCase
from service.domain.finding import Finding, Severity
from service.domain.plan import SettledPlan
from service.planning.candidates import STOPPED_BEDS
from service.planning.conflict import Conflict, find_conflict
from service.planning.decisions import unkept_decisions
from service.wording.rounding import number_in_words, round_need_up, round_supply_down

Planner = Callable[[GraftingCase], SettledPlan | None]


def closable_open_cm2(case: GraftingCase, plan: SettledPlan) -> Decimal:
    """Area that a plan leaves open and that no bed forbids to graft. [cm²]"""
    stopped = {w.wound_id for w in case.wounds if w.bed_state in STOPPED_BEDS}
    return sum((s.area_cm2 for s in plan.still_open if s.wound_id not in stopped), Decimal(0))


def find_behind_open(case: GraftingCase, plan: SettledPlan, choose: Planner, most_runs: int) -> tuple[Finding, ...]:
    """The smallest set of limits without which every wound would be closed, or that no limit is behind it."""
    still_open = closable_open_cm2(case, plan)
    if still_open <= 0:
        return ()
    is_open = ("open_cm2", number_in_words(round_need_up(still_open)))
    conflict = find_conflict(case, lambda other, found: closable_open_cm2(other, found) <= 0, choose, most_runs)
    if conflict is None:
        return ()
    if conflict.alone:
        values = (is_open, *_said("either", case, conflict.alone, conflict))
        return (Finding("limit-keeps-open", Severity.HIGH, values),)
    if conflict.together:
        values = (is_open, *_said("limits", case, conflict.together, conflict))
        return (Finding("limits-keep-open", Severity.HIGH, values),)
    if conflict.best is None:
        return ()
    values = (("limits", " ".join(conflict.tried)), *_figures(case), is_open,
              ("area_cm2", number_in_words(round_need_up(closable_open_cm2(case, conflict.best)))))
    return (Finding("open-without-limits", Severity.HIGH, values),)


def find_behind_decisions(case: GraftingCase, choose: Planner, most_runs: int) -> tuple[Finding, ...]:
    """The smallest set of limits without which every decision could be kept; nothing where none is found."""
    conflict = find_conflict(case, lambda other, found: not unkept_decisions(other, found), choose, most_runs)
    if conflict is None or not (conflict.alone or conflict.together):
        return ()
    if conflict.alone:
        return (Finding("limit-against-decision", Severity.HIGH, _said("either", case, conflict.alone, conflict)),)
    return (Finding("limits-against-decision", Severity.HIGH, _said("limits", case, conflict.together, conflict)),)


def _said(name: str, case: GraftingCase, limits: tuple[str, ...], conflict: Conflict) -> tuple[tuple[str, str], ...]:
    extent = "complete" if conflict.is_complete else "partial"
    return (name, " ".join(limits)), *_figures(case), ("extent", extent)


def _figures(case: GraftingCase) -> tuple[tuple[str, str], ...]:
    """How high the limits of a session are, for the words of those that are named."""
    limits = case.limits
    supplies = (("blood_ml", limits.blood_ml), ("minutes", Decimal(limits.procedure_minutes)),
                ("excised_cm2", limits.excised_cm2), ("grafted_cm2", limits.grafted_cm2))
    return *((name, number_in_words(round_supply_down(value))) for name, value in supplies), (
        "rest_days", str(limits.rest_days))
