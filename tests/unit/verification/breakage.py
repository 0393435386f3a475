"""A valid plan and the same plan broken by one printable step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan


@dataclass(frozen=True)
class Breakage:
    """Case and plan that are accepted, and their twins of which exactly one rule is broken."""

    case: GraftingCase
    plan: SettledPlan
    broken_case: GraftingCase
    broken_plan: SettledPlan


BreakOnce = Callable[[Random], Breakage]


def break_plan(case: GraftingCase, plan: SettledPlan, broken: SettledPlan) -> Breakage:
    """The plan is changed, the case is not."""
    return Breakage(case, plan, case, broken)


def break_case(case: GraftingCase, plan: SettledPlan, broken: GraftingCase) -> Breakage:
    """The case is stricter by one step, the plan stays."""
    return Breakage(case, plan, broken, plan)
