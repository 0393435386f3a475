"""Harvested skin that no graft uses: never lost in silence."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.graft import SkinClass
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.domain.theatre_list import LeftoverSkin
from service.evidence.library import Evidence
from service.schedule.quantities import skin_class_of
from service.wording.rounding import round_supply_down


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


def _fate(case: GraftingCase, plan: SettledPlan, session: Session) -> str:
    if _open_excised_cm2(case, plan, session) > 0:
        return "leftover-on-open-wound"
    if case.age_band is SkinLimitAge.OLD:
        return "leftover-on-donor-site"
    return "leftover-stored"


def _open_excised_cm2(case: GraftingCase, plan: SettledPlan, session: Session) -> Decimal:
    """Bed that is excised and not grafted when the session ends. [cm²]"""
    excised = sum((w.excised_cm2 for w in case.wounds), Decimal(0))
    excised += sum((e.area_cm2 for e in plan.excisions if e.day <= session.day), Decimal(0))
    grafted = sum((p.area_cm2 for p in plan.placements if p.day <= session.day and not p.is_regraft), Decimal(0))
    return excised - grafted
