"""Harvested skin that no graft uses: never lost in silence."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.forecast import CourseForecast
from service.domain.graft import SkinClass
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.domain.theatre_list import LeftoverSkin, LikelySurplus
from service.evidence.library import Evidence
from service.schedule.quantities import skin_class_of
from service.wording.rounding import round_supply_down

STORED = "leftover-stored"


def leftover_skin(
    case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence
) -> tuple[LeftoverSkin, ...]:
    """What is left of each class after trimming and placing, in whole cm², and its fate.

    Open excised wound of the same session comes first; then, in the old, the donor site; else
    it is stored cold.
    """
    balance: dict[SkinClass, Decimal] = defaultdict(Decimal)
    kept = 1 - evidence.value("handling-loss")
    for harvest in plan.harvests:
        if harvest.day == session.day:
            balance[skin_class_of(harvest, case)] += harvest.area_cm2 * kept
    for placement in plan.placements:
        if placement.day == session.day:
            balance[placement.skin_class] -= placement.skin_cm2
    fate = _fate(case, plan, session)
    whole = ((skin_class, round_supply_down(area)) for skin_class, area in sorted(balance.items()))
    return tuple(LeftoverSkin(skin_class, area, fate) for skin_class, area in whole if area > 0)


def likely_surplus(
    case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence, forecast: CourseForecast | None
) -> LikelySurplus | None:
    """What the simulated courses have left over, decided before the harvest.

    Laid on open wound of the same session; in the old, back on the donor site; stored when the
    next session comes while stored skin is good to plan with; otherwise not harvested: the low
    end of the need first, the rest only when the grafts lie.
    """
    found = None if forecast is None else forecast.of_session(session.ordinal)
    if found is None or not found.too_much_cm2:
        return None
    fate = _fate(case, plan, session)
    if fate == STORED and not _next_session_within(plan, session, evidence.value("stored-skin-days", "plan")):
        fate = "leftover-not-harvested"
    first = min(found.needed.low, found.harvest_cm2)
    return LikelySurplus(found.covers_fraction, found.too_much_cm2, fate, first)


def _next_session_within(plan: SettledPlan, session: Session, days: Decimal) -> bool:
    return any(session.day < later.day <= session.day + days for later in plan.firm_sessions)


def _fate(case: GraftingCase, plan: SettledPlan, session: Session) -> str:
    if _open_excised_cm2(case, plan, session) > 0:
        return "leftover-on-open-wound"
    if case.age_band is SkinLimitAge.OLD:
        return "leftover-on-donor-site"
    return STORED


def _open_excised_cm2(case: GraftingCase, plan: SettledPlan, session: Session) -> Decimal:
    """Bed that is excised and not grafted when the session ends. [cm²]"""
    excised = sum((w.excised_cm2 for w in case.wounds), Decimal(0))
    excised += sum((e.area_cm2 for e in plan.excisions if e.day <= session.day), Decimal(0))
    grafted = sum((p.area_cm2 for p in plan.placements if p.day <= session.day and not p.is_regraft), Decimal(0))
    return excised - grafted
