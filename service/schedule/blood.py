"""Blood that a session is expected to cost, with the range of the evidence."""

from __future__ import annotations

from decimal import Decimal

from service.domain.burn_wound import ZERO
from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.dressing import Quantity
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.evidence.library import Evidence

_CHILDREN = (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD)
_UNDER_TOURNIQUET = "limb-with-tourniquet"


def expected_blood_loss(case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence) -> Quantity:
    """Loss per area times the area excised and harvested, for each end of the range. [mL]

    The upper end is the loss that planning holds the session to, so limbs count as under a
    tourniquet in both when the caller states one.

    References
    ----------
    .. [1] evidence/tables/blood_loss.csv
    """
    areas = _areas_by_row(case, plan, session)
    rows = [(evidence.row("blood-loss-per-cm2", name), area) for name, area in areas.items()]
    low, value, high = (
        sum((area * getattr(row, end) for row, area in rows), ZERO) for end in ("low", "value", "high")
    )
    return Quantity("blood-loss", value, low, high, "mL", tuple(row.row_id for row, _ in rows))


def _areas_by_row(case: GraftingCase, plan: SettledPlan, session: Session) -> dict[str, Decimal]:
    """Areas of the session by the evidence row that says what each cm² costs."""
    age = "child" if case.age_band in _CHILDREN else "adult"
    on_limb = {w.wound_id for w in case.wounds if w.place.facts.is_limb}
    areas = {f"excision-{age}": ZERO, _UNDER_TOURNIQUET: ZERO, f"harvest-{age}": ZERO}
    for excision in plan.excisions:
        if excision.day == session.day:
            is_dry = bool(case.request.limb_tourniquet) and excision.wound_id in on_limb
            areas[_UNDER_TOURNIQUET if is_dry else f"excision-{age}"] += excision.area_cm2
    areas[f"harvest-{age}"] = sum((h.area_cm2 for h in plan.harvests if h.day == session.day), ZERO)
    return {name: area for name, area in areas.items() if area}
