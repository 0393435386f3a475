"""Skin stored after earlier sessions: offered while it is fit to be laid on open wound, never after."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.domain.theatre_list import StoredSkin
from service.evidence.library import Evidence
from service.schedule.leftover_skin import STORED, leftover_skin
from service.schedule.quantities import plate_area_cm2

#: How fit stored skin is, the freshest first. Past the last there is none: it is discarded.
STATES = ("good", "declining", "last-resort")


def state_of_stored_skin(age_days: int, evidence: Evidence) -> str | None:
    """State of a patient's own skin kept cold in saline; ``None`` when it must be discarded.

    References
    ----------
    .. [1] evidence/tables/stored_skin.csv
    """
    return next((s for s in STATES if age_days <= evidence.value("stored-skin-until-days", s)), None)


def stored_skin(
    case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence
) -> Iterator[StoredSkin]:
    """What earlier firm sessions of this plan left in store; less than a plate is not worth it."""
    for earlier in plan.firm_sessions:
        state = state_of_stored_skin(session.day - earlier.day, evidence)
        if earlier.day < session.day and state is not None:
            for left in leftover_skin(case, plan, earlier, evidence):
                if left.fate == STORED and left.area_cm2 >= plate_area_cm2(evidence):
                    yield StoredSkin(earlier.ordinal, left.skin_class, left.area_cm2, session.day - earlier.day, state)
