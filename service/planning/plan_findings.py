"""What is said about a plan beside the plan: findings, each with its place or session."""

from __future__ import annotations

from collections import Counter
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from service.domain.body_region import Region
from service.domain.burn_wound import ZERO
from service.domain.finding import Finding, Severity
from service.domain.graft import WANTS_OVERLAY
from service.domain.plan import SettledPlan
from service.domain.plan_difference import PlanDifference
from service.domain.session import CoverKind, Session
from service.planning.candidates import STOPPED_BEDS
from service.planning.quantities import PlanningQuantities
from service.wording.dates import date_in_words
from service.wording.plan_difference import PLAN_CHANGED, word_plan_changes
from service.wording.rounding import number_in_words, round_need_up

#: Why no session is planned although skin would close what is open.
NO_SKIN_RECORDED = "no-skin-recorded-as-healed"

_ONE = Decimal(1)
_TENTH = Decimal("0.1")


def _of_session(quantities: PlanningQuantities, plan: SettledPlan, session: Session) -> list[Finding]:
    preferences, case = quantities.preferences, quantities.case
    found = []
    excised = sum((e.area_cm2 for e in plan.excisions if e.day == session.day), ZERO)
    placed = sum((p.area_cm2 for p in plan.placements if p.day == session.day), ZERO)
    percent = case.percent_tbsa(max(excised, placed))
    if percent > preferences.value("session-area-soft"):
        found.append(("session-over-soft-area", (("percent_tbsa", str(percent.quantize(_TENTH, ROUND_CEILING))),)))
    if session.procedure_minutes > preferences.value("minutes-warn"):
        found.append(("session-over-warning-minutes", (("minutes", str(session.procedure_minutes)),)))
    if len(session.positions) > 1:
        found.append(("second-position", ()))
    if session.units_to_have_ready > 0:
        found.append(("units-to-have-ready", (("units", str(session.units_to_have_ready)),)))
    left = _skin_left_over(quantities, plan, session)
    if left >= preferences.value("leftover-worth-saying"):
        found.append(("skin-left-over", (("area_cm2", str(left.quantize(_ONE, ROUND_FLOOR))),)))
    severity = {"skin-left-over": Severity.LOW, "second-position": Severity.LOW}
    return [Finding(code, severity.get(code, Severity.MODERATE), values, session=session.ordinal)
            for code, values in found]


def _skin_left_over(quantities: PlanningQuantities, plan: SettledPlan, session: Session) -> Decimal:
    """Harvested skin that the session does not place, after trimming and handling. [cm²]"""
    harvested = sum((h.area_cm2 for h in plan.harvests if h.day == session.day), ZERO)
    kept = harvested * (1 - quantities.evidence.value("handling-loss"))
    return kept - sum((p.skin_cm2 for p in plan.placements if p.day == session.day), ZERO)


def _of_openness(quantities: PlanningQuantities, plan: SettledPlan) -> list[Finding]:
    wounds = {w.wound_id: w for w in quantities.case.wounds}
    found = [Finding("still-open", Severity.HIGH, (("area_cm2", number_in_words(round_need_up(s.area_cm2))),),
                     place=s.wound_id) for s in plan.still_open]
    waiting = [wounds[s.wound_id] for s in plan.still_open if wounds[s.wound_id].bed_state not in STOPPED_BEDS]
    if waiting and _skin_is_short(quantities, plan):
        found.append(Finding("not-enough-skin", Severity.HIGH))
    if not plan.sessions and plan.still_open and quantities.case.limits.blood_ml <= 0:
        found.append(Finding("blood-limit-reached", Severity.HIGH))
    healing = [] if plan.firm_sessions or not waiting else _days_of_unrecorded_healing(quantities)
    if healing:
        first, last = (date_in_words(quantities.case.date_of(day)) for day in (min(healing), max(healing)))
        found.append(Finding(NO_SKIN_RECORDED, Severity.HIGH, (("first_date", first), ("last_date", last))))
    for loss in plan.unreserved:
        area = str(loss.area_cm2.quantize(_ONE, ROUND_CEILING))
        found.append(Finding("loss-not-reserved", Severity.MODERATE, (("area_cm2", area),), place=loss.region_key))
    return found


def _days_of_unrecorded_healing(quantities: PlanningQuantities) -> list[int]:
    """When the skin that is left is expected to have healed; nothing while a site has a harvest of healed skin."""
    left = [(site, p) for site in quantities.case.donor_sites for p in site.parcels
            if p.harvest_count < site.harvests_allowed]
    recorded = Counter()
    for site, parcel in left:
        if parcel.healed_recorded:
            recorded[site.site_id] += parcel.area_cm2
    if max(recorded.values(), default=ZERO) >= quantities.preferences.value("smallest-harvest"):
        return []
    return [parcel.healed_day for _, parcel in left if not parcel.healed_recorded]


def _skin_is_short(quantities: PlanningQuantities, plan: SettledPlan) -> bool:
    """Whether what stays open is more than all harvests still allowed could cover without expansion."""
    allowed = sum((p.area_cm2 * (site.harvests_allowed - p.harvest_count)
                   for site in quantities.case.donor_sites for p in site.parcels
                   if p.harvest_count < site.harvests_allowed), ZERO)
    left = allowed - sum((h.area_cm2 for h in plan.harvests), ZERO)
    kept = sum((k.area_cm2 for k in quantities.case.request.keep_for), ZERO)
    return (left - kept) * (1 - quantities.evidence.value("handling-loss")) < plan.open_cm2


def _of_cover(quantities: PlanningQuantities, plan: SettledPlan) -> list[Finding]:
    overlaid = {(c.wound_id, c.day) for c in plan.covers if c.kind is CoverKind.OVERLAY}
    bare = [p for p in plan.placements if p.method in WANTS_OVERLAY and (p.wound_id, p.day) not in overlaid]
    found = [Finding("wide-islands-without-overlay", Severity.MODERATE)] if bare else []
    if any(c.kind is CoverKind.TEMPORARY for c in plan.covers):
        found.append(Finding("cover-stock-at-hand", Severity.MODERATE))
    if _excision_waits(quantities, plan) and not quantities.case.request.cover_stock_cm2:
        found.append(Finding("excision-waits-for-cover", Severity.MODERATE))
    for wound in quantities.case.wounds:
        if wound.bed_state in STOPPED_BEDS:
            continue  # its cover comes off in any case
        ends = wound.covered_until_day
        if ends is not None and _grafted_by(plan, wound.wound_id, ends) < wound.covered_cm2:
            found.append(Finding("cover-expires", Severity.MODERATE, place=wound.wound_id))
    return found


def _grafted_by(plan: SettledPlan, wound_id: str, day: int) -> Decimal:
    """Area of a wound firmly grafted up to a day. [cm²]"""
    grafts = (p for p in plan.placements if p.wound_id == wound_id and not p.is_regraft)
    return sum((p.area_cm2 for p in grafts if p.day <= day), ZERO)


def _excision_waits(quantities: PlanningQuantities, plan: SettledPlan) -> bool:
    """Whether a burn that could be excised in the first session is left for a later one."""
    if not plan.sessions:
        return False
    first_day = plan.sessions[0].day
    ready = {w.wound_id for w in quantities.case.wounds
             if w.place.region is not Region.FACE and (w.wait_until_day or 0) <= first_day}
    return any(e.day > first_day and e.wound_id in ready for e in plan.excisions)


def _of_donors(quantities: PlanningQuantities, plan: SettledPlan) -> list[Finding]:
    thirds = dict.fromkeys(h.site_id for h in plan.harvests if h.harvest_number > 2)
    found = [Finding("third-harvest", Severity.MODERATE, place=site_id) for site_id in thirds]
    faces = {w.wound_id for w in quantities.case.wounds if w.place.region is Region.FACE}
    if any(p.wound_id in faces and not p.skin_class.above_clavicle for p in plan.placements):
        found.append(Finding("face-skin-below-clavicle", Severity.MODERATE, place=Region.FACE))
    return found


def _of_pace(quantities: PlanningQuantities, plan: SettledPlan, closure_day: int | None) -> list[Finding]:
    """Near-total burns do not close in a few weeks, whatever a plan of expected values says."""
    case, preferences = quantities.case, quantities.preferences
    is_near_total = case.graftable_percent_tbsa >= preferences.value("near-total-from")
    if closure_day is None or not is_near_total:
        return []
    if closure_day - case.injury_day >= preferences.value("near-total-closure-days"):
        return []
    return [Finding("near-total-fast-closure", Severity.MODERATE)]


def find_about_plan(quantities: PlanningQuantities, plan: SettledPlan, closure_day: int | None) -> tuple[Finding, ...]:
    """All findings on a plan."""
    found = [f for session in plan.sessions for f in _of_session(quantities, plan, session)]
    if any(s.is_contingent for s in plan.sessions):
        found.append(Finding("contingent-session", Severity.MODERATE))
    found += _of_openness(quantities, plan) + _of_cover(quantities, plan) + _of_donors(quantities, plan)
    return (*found, *_of_pace(quantities, plan, closure_day), Finding("estimates-from-memory", Severity.LOW))


def find_plan_changed(difference: PlanDifference) -> tuple[Finding, ...]:
    """That the plan is no longer the one before, with each change and its cause in words."""
    if not difference.changes:
        return ()
    changes = " ".join(word_plan_changes(difference)).removesuffix(".")
    values = (("day", date_in_words(difference.earlier.made_on)), ("changes", changes))
    return (Finding(PLAN_CHANGED, Severity.MODERATE, values),)
