"""Plans that could be chosen instead, and what other weights would change."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from service.domain.course_figures import CourseFigures
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan


class Goal(StrEnum):
    """What an alternative is best for."""

    EARLIEST_CLOSURE = "earliest-closure"
    FEWEST_SESSIONS = "fewest-sessions"
    LEAST_SCAR = "least-scar"
    MOST_SKIN_KEPT = "most-skin-kept"


@dataclass(frozen=True)
class Alternative:
    """A verified plan that no other one at hand betters in every respect."""

    goals: tuple[Goal, ...]
    plan: SettledPlan
    figures: CourseFigures


@dataclass(frozen=True)
class FirstSession:
    """What a first session does, for telling one from another. Places are keys; harvest in cm²."""

    day: int | None
    grafted: frozenset[tuple[str, GraftMethod]]
    excised: frozenset[str]
    sites: frozenset[str]
    harvested_cm2: Decimal


@dataclass(frozen=True)
class WeightEffect:
    """A weight which, halved or doubled within its range, makes another first session the better one.

    ``weight``: key of the preference, or its name where all rows of the name move together.
    """

    weight: str
    is_doubled: bool
    first: FirstSession


@dataclass(frozen=True)
class Sensitivity:
    """Weights tried, courses compared, and the effects found.

    ``compared_count``: other courses that a change of weights could have chosen.
    """

    recommended: FirstSession
    effects: tuple[WeightEffect, ...]
    tried_count: int
    compared_count: int
    is_complete: bool  # false when more courses were at hand than were compared


@dataclass(frozen=True)
class BesidePlan:
    """What stands beside a plan so that people can choose. ``figures`` are those of the plan itself."""

    figures: CourseFigures
    alternatives: tuple[Alternative, ...] = ()
    sensitivity: Sensitivity | None = None
