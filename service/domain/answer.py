"""The whole answer of the core, before anybody translates it."""

from __future__ import annotations

from dataclasses import dataclass

from service.domain.case import GraftingCase
from service.domain.dressing import CareEvent
from service.domain.finding import Finding
from service.domain.fluids import FluidEstimate
from service.domain.learning import Learned
from service.domain.plan import GraftPlan
from service.domain.plan_difference import PlanDifference
from service.domain.theatre_list import TheatreList
from service.domain.what_if import WhatIfAnswer


@dataclass(frozen=True)
class Versions:
    """What the answer was made with: enough to make the same bytes again."""

    software: str
    evidence: str
    evidence_sha256: str
    preferences_sha256: str
    input_sha256: str
    seed: int


@dataclass(frozen=True)
class PlanAnswer:
    """Case, plan, what follows from it, and what is to be said about both.

    ``findings`` joins those of the case and of the plan, most severe first, each once.
    ``fluid_estimate`` stands beside the plan within a day of an hour of injury, else ``None``.
    ``disturbances_saved_count``: days without an opened dressing that merging has won.
    ``what_if``: the plan under other conditions, when the request asked for it.
    ``difference``: from the plan before, when it was sent along.
    """

    case: GraftingCase
    plan: GraftPlan
    events: tuple[CareEvent, ...]
    theatre_lists: tuple[TheatreList, ...]
    findings: tuple[Finding, ...]
    versions: Versions
    fluid_estimate: FluidEstimate | None = None
    disturbances_saved_count: int = 0
    learned: tuple[Learned, ...] = ()
    what_if: WhatIfAnswer | None = None
    difference: PlanDifference | None = None
