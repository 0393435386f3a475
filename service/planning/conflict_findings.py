"""What keeps a wound open, or stands against a decision, as findings about the plan."""

from __future__ import annotations

from collections.abc import Callable
from decimal import ROUND_CEILING, Decimal

from service.domain.case import GraftingCase
from service.domain.finding import Finding, Severity
from service.domain.plan import SettledPlan
from service.planning.candidates import STOPPED_BEDS
from service.planning.conflict import Conflict, find_conflict
from service.planning.decisions import unkept_decisions

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
    conflict = find_conflict(case, lambda other, found: closable_open_cm2(other, found) <= 0, choose, most_runs)
    if conflict is None:
        return ()
    if conflict.alone:
        return (Finding("limit-keeps-open", Severity.HIGH, _said("either", conflict.alone, conflict)),)
    if conflict.together:
        return (Finding("limits-keep-open", Severity.HIGH, _said("limits", conflict.together, conflict)),)
    if conflict.best is None:
        return ()
    values = (("limits", " ".join(conflict.tried)), ("area_cm2", _whole(closable_open_cm2(case, conflict.best))),
              ("open_cm2", _whole(still_open)))
    return (Finding("open-without-limits", Severity.HIGH, values),)


def find_behind_decisions(case: GraftingCase, choose: Planner, most_runs: int) -> tuple[Finding, ...]:
    """The smallest set of limits without which every decision could be kept; nothing where none is found."""
    conflict = find_conflict(case, lambda other, found: not unkept_decisions(other, found), choose, most_runs)
    if conflict is None or not (conflict.alone or conflict.together):
        return ()
    if conflict.alone:
        return (Finding("limit-against-decision", Severity.HIGH, _said("either", conflict.alone, conflict)),)
    return (Finding("limits-against-decision", Severity.HIGH, _said("limits", conflict.together, conflict)),)


def _whole(area_cm2: Decimal) -> str:
    return str(area_cm2.quantize(Decimal(1), ROUND_CEILING))


def _said(name: str, limits: tuple[str, ...], conflict: Conflict) -> tuple[tuple[str, str], ...]:
    return (name, " ".join(limits)), ("extent", "complete" if conflict.is_complete else "partial")
