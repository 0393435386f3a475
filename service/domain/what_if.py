"""What if: conditions to plan under once more, beside the plan, and the answer to them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from service.domain.graft import GraftMethod

if TYPE_CHECKING:
    from service.domain.case import FixedDecision, GraftingCase
    from service.domain.course_figures import CourseFigures
    from service.domain.plan import GraftPlan


@dataclass(frozen=True)
class WhatIf:
    """Conditions that hold together. ``None`` and empty: as in the request.

    Sites are named by place key (``left-thigh-front``) or by region key (``left-thigh``, every
    surface). A freed site counts as healed and not excluded.
    """

    excluded_sites: tuple[str, ...] = ()
    freed_sites: tuple[str, ...] = ()
    dropped_days: tuple[date, ...] = ()
    cover_stock_cm2: Decimal | None = None
    transfusion_units: int | None = None
    session_area_limit_percent_tbsa: Decimal | None = None
    session_minutes_limit: Decimal | None = None
    methods_unavailable: frozenset[GraftMethod] = frozenset()
    fixed_decisions: tuple[FixedDecision, ...] = ()


@dataclass(frozen=True)
class WhatIfAnswer:
    """The plan under the conditions, never the plan of record.

    ``recommended`` and ``figures`` are what the plan of record and this one amount to; ``None``
    where there is no plan. ``holds_without``: this plan is better and keeps every rule without the
    conditions too, so that it could be chosen as it is.
    """

    asked: WhatIf
    case: GraftingCase
    plan: GraftPlan
    recommended: CourseFigures | None
    figures: CourseFigures | None
    holds_without: bool = False
