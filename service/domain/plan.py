"""What goes out: the plan and its parts."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from service.domain.burn_wound import ZERO
from service.domain.donor_site import Harvest
from service.domain.finding import Finding
from service.domain.forecast import CourseForecast, ParameterSensitivity
from service.domain.method_change import MethodChange
from service.domain.session import CoverPlacement, Excision, Placement, Session

if TYPE_CHECKING:
    from service.domain.alternative import BesidePlan


class PlanOutcome(StrEnum):
    OPTIMAL = "optimal"
    BEST_FOUND = "best_found"
    RULE_OF_THUMB = "rule_of_thumb"
    NO_PLAN = "no_plan"


class SearchEnd(StrEnum):
    """What ended the search for a plan."""

    WORK = "work"  # all that was to be tried, or the work that is allowed: the same on any machine
    CLOCK = "clock"
    FAULT = "fault"  # the solver failed


@dataclass(frozen=True)
class StillOpen:
    """Area of a wound that the plan does not graft within the horizon."""

    wound_id: str
    area_cm2: Decimal


@dataclass(frozen=True)
class UnreservedLoss:
    """Expected graft loss of a region (both surfaces) for which no skin could be reserved."""

    region_key: str
    area_cm2: Decimal


@dataclass(frozen=True)
class SettledPlan:
    """Sessions and acts in printable steps: what verification checks and everybody reads.

    Every act lies on the day of one of ``sessions``. Placements with ``is_regraft`` and the
    sessions marked contingent hold skin in reserve for expected loss.
    """

    sessions: tuple[Session, ...] = ()
    excisions: tuple[Excision, ...] = ()
    harvests: tuple[Harvest, ...] = ()
    placements: tuple[Placement, ...] = ()
    covers: tuple[CoverPlacement, ...] = ()
    still_open: tuple[StillOpen, ...] = ()
    unreserved: tuple[UnreservedLoss, ...] = ()

    @property
    def firm_sessions(self) -> tuple[Session, ...]:
        return tuple(s for s in self.sessions if not s.is_contingent)

    @property
    def open_cm2(self) -> Decimal:
        return sum((o.area_cm2 for o in self.still_open), ZERO)


@dataclass(frozen=True)
class LedgerEntry:
    """Donor reserve of one site on one day, cm²: usable, healing and spent add up to the site."""

    day: int
    site_id: str
    usable_cm2: Decimal
    healing_cm2: Decimal
    spent_cm2: Decimal


@dataclass(frozen=True)
class Closure:
    """Expected closure of one wound, days from the as-of day. ``day`` is ``None`` if not reached."""

    wound_id: str
    day: int | None
    low_day: int | None
    high_day: int | None


@dataclass(frozen=True)
class Variant:
    """The plan under the other answer to an open question: its size in a few numbers.

    ``question``: ``depth-indeterminate``, ``donor-healed`` or ``take-not-read``;
    ``answer``: what was assumed. ``plan`` is verified like the main one.
    """

    question: str
    answer: str
    plan: SettledPlan
    closure_day: int | None


@dataclass(frozen=True)
class Reason:
    """Why a course is as it is: the code of a sentence in ``wording``, with its values."""

    code: str
    values: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class SkinPrice:
    """What the next 100 cm² of usable skin of a site would save in a session. [%TBSA-days]"""

    site_id: str
    day: int
    days_per_100_cm2: Decimal


@dataclass(frozen=True)
class GraftPlan:
    """The answer of the core.

    ``forecast``: how the plan's quantities spread over simulated courses.
    ``objective_days`` is the weighted open %TBSA-days of the plan and ``bound_days`` a proven
    lower bound for every plan that leaves as little open; ``gap`` is what may be left to gain, as
    a share of the days that a plan can avoid. Both are ``None`` when nothing was proven.
    ``thumb_days`` and ``thumb_open_cm2`` are those of our own rule of thumb, for comparison;
    ``search_end``: what ended the search for a better plan than the rule's.
    """

    outcome: PlanOutcome
    settled: SettledPlan
    reason_no_plan: str = ""  # finding code, when the outcome is no_plan
    objective_days: Decimal | None = None
    gap: Decimal | None = None
    bound_days: Decimal | None = None
    thumb_days: Decimal | None = None
    thumb_open_cm2: Decimal | None = None
    search_end: SearchEnd | None = None
    skin_prices: tuple[SkinPrice, ...] = ()
    closures: tuple[Closure, ...] = ()
    closure_day: int | None = None  # last expected closure; None while something stays open
    ledger: tuple[LedgerEntry, ...] = ()
    reasons: tuple[Reason, ...] = ()
    method_changes: tuple[MethodChange, ...] = ()  # wounds of firm sessions by the next narrower or wider method
    variants: tuple[Variant, ...] = ()
    findings: tuple[Finding, ...] = ()
    forecast: CourseForecast | None = None
    parameter_sensitivity: ParameterSensitivity | None = None
    beside: BesidePlan | None = None  # other plans to choose from; None without a plan
