"""Verification: does a settled plan keep every rule? Shares no code with the planner.

All arithmetic is rational and exact; nothing is forgiven. A plan that is refused never leaves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.domain.rule import Rule
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.verification import (
    cover,
    decisions,
    donors,
    infection,
    limits,
    losses,
    position,
    sessions,
    skin,
    wounds,
)
from service.verification.form import check_form
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation, in_reading_order

RULES: dict[Rule, Callable[[PlanUnderReview], Iterator[Violation]]] = {
    Rule.PLACE_EACH_WOUND_ONCE: wounds.place_each_wound_once,
    Rule.NOTHING_WITHOUT_A_SESSION: sessions.nothing_without_a_session,
    Rule.THEATRE_DAY: sessions.theatre_day,
    Rule.GRAFT_ON_READY_BED: wounds.graft_on_ready_bed,
    Rule.METHOD_OF_REGION: wounds.method_of_region,
    Rule.WHOLE_REGION: wounds.whole_region,
    Rule.WHOLE_PLATES: skin.whole_plates,
    Rule.SKIN_BALANCE: skin.skin_balance,
    Rule.SKIN_CLASS: skin.skin_class,
    Rule.DONOR_REGROWTH: donors.donor_regrowth,
    Rule.DONOR_HARVEST_COUNT: donors.donor_harvest_count,
    Rule.SMALLEST_PIECE: wounds.smallest_piece,
    Rule.SMALLEST_HARVEST: donors.smallest_harvest,
    Rule.KEEP_FOR: donors.keep_for,
    Rule.SESSION_AREA: limits.session_area,
    Rule.SESSION_BLOOD: limits.session_blood,
    Rule.SESSION_MINUTES: limits.session_minutes,
    Rule.POSITION: position.position,
    Rule.BEARING_SURFACE: position.bearing_surface,
    Rule.REST_BETWEEN_SESSIONS: sessions.rest_between_sessions,
    Rule.COVER_EXCISED_BED: cover.cover_excised_bed,
    Rule.OVERLAY_ON_WIDE_EXPANSION: cover.overlay_on_wide_expansion,
    Rule.INFECTED_BED: infection.infected_bed,
    Rule.FAILED_GRAFTS_COME_BACK: losses.failed_grafts_come_back,
    Rule.FIXED_DECISION: decisions.fixed_decision,
}


def verify_plan(
    case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences
) -> tuple[Violation, ...]:
    """Check a plan against every rule; an empty answer means that it is accepted.

    Parameters
    ----------
    case : GraftingCase
        The case that the plan is for; it is trusted.
    plan : SettledPlan
        The plan; nothing in it is trusted. A malformed plan is refused for its form alone.
    evidence : Evidence
    preferences : Preferences
        With the caller's own values already in.

    Returns
    -------
    tuple of Violation
        Each broken rule with its subject and day, in the order of the rules.

    Raises
    ------
    KeyError
        When a row of evidence or a preference is missing, whatever the plan.
    """
    malformed = set(check_form(plan))
    if malformed:
        return in_reading_order(malformed)
    review = PlanUnderReview(case, plan, evidence, preferences)
    return in_reading_order({fault for check in RULES.values() for fault in check(review)})
