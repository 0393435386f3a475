"""Plans that the references are held against: random and frozen cases, each planned once a process."""

from __future__ import annotations

from functools import lru_cache

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from tests.bench.frozen_cases import frozen_cases
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
RANDOM_COUNT = 120


@lru_cache(maxsize=512)
def thumb_plan(name: str) -> tuple[GraftingCase, SettledPlan]:
    """Case and plan of the rule of thumb, by ``random/7`` or the name of a frozen case."""
    kind, number = name.split("/")
    case = random_case(int(number)) if kind == "random" else _frozen()[name]
    return case, plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)


@lru_cache(maxsize=1)
def _frozen() -> dict[str, GraftingCase]:
    return {frozen.name: frozen.case for frozen in frozen_cases()}


def random_names() -> list[str]:
    return [f"random/{seed}" for seed in range(RANDOM_COUNT)]


def synthetic_names() -> list[str]:
    return [name for name in _frozen() if name.startswith("synthetic/")]
