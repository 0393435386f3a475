"""The rule of thumb on small cases whose right plan a surgeon would write down at once."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Position, Region, Side, Surface
from service.domain.burn_wound import BedRecord, BedState, Depth
from service.domain.case import Act, FixedDecision, KeepFor, PlacementRecord, TheatreDay
from service.domain.graft import GraftKind, GraftMethod
from service.domain.rule import Rule
from service.domain.session import CoverKind
from service.evidence.library import load_evidence
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from tests.records import TODAY, burn, measured, patient, place, record, request

TRUNK = place(Region.ANTERIOR_TRUNK)
BACK = place(Region.POSTERIOR_TRUNK)
HAND = place(Region.HAND, Side.LEFT, Surface.BACK)
FACE = place(Region.FACE)
LIMBS = [place(region, side, surface) for region in (Region.THIGH, Region.LOWER_LEG, Region.UPPER_ARM)
         for side in Side for surface in Surface]


def plan(*extents, record_changes=None, **request_changes):
    case = assess_case(record(*extents, **(record_changes or {})), request(**request_changes),
                       load_evidence(), load_preferences())
    found = plan_by_rule_of_thumb(case, load_evidence(), load_preferences())
    assert verify_plan(case, found, load_evidence(), load_preferences()) == ()
    return case, found


def methods(found):
    return {p.method for p in found.placements if not p.is_regraft}


def test_small_burn_is_one_session_without_islands():
    _, found = plan(burn(TRUNK, "5"))
    assert len(found.firm_sessions) == 1
    assert not any(m.kind is GraftKind.ISLAND for m in methods(found))
    assert found.still_open == ()


def test_hand_and_face_get_sheets_and_the_face_waits():
    case, found = plan(burn(HAND, "1"), burn(FACE, "1"))
    assert methods(found) == {GraftMethod.SHEET}
    face_day = next(p.day for p in found.placements if p.wound_id.startswith("face"))
    assert face_day - case.injury_day == 10  # evidence row face-earliest-day


def test_small_face_takes_skin_from_above_the_clavicle():
    _, found = plan(burn(FACE, "0.5"))
    assert all(p.skin_class.above_clavicle for p in found.placements)


def test_short_skin_is_met_with_islands():
    """Three quarters burned: islands where the region takes them, none on hand or joint."""
    extents = [burn(where, "1.9" if where.region is Region.UPPER_ARM else "3.4") for where in LIMBS]
    case, found = plan(burn(TRUNK, "12"), burn(BACK, "12"), burn(HAND, "1.2"), *extents)
    kinds = {p.wound_id: p.method.kind for p in found.placements if not p.is_regraft}
    assert kinds["anterior-trunk:full-thickness"] is GraftKind.ISLAND
    assert kinds["left-hand-back:full-thickness"] is GraftKind.SHEET
    assert not any(kind is GraftKind.ISLAND for wound, kind in kinds.items() if wound.endswith(":joint"))


def test_no_donor_skin_is_an_answer_and_not_an_error():
    """All skin is kept for a hand: nothing can be harvested, and every wound is named as open."""
    _, found = plan(burn(TRUNK, "13"), burn(BACK, "13"), keep_for=(KeepFor(Region.HAND, Decimal(20000)),))
    assert found.sessions == ()
    assert {s.wound_id for s in found.still_open} == {"anterior-trunk:full-thickness", "posterior-trunk:full-thickness"}


def test_without_stock_nothing_is_excised_that_is_not_closed():
    _, found = plan(burn(TRUNK, "13"), burn(BACK, "13"), cover_stock_cm2=Decimal(0))
    by_day = {}
    for e in found.excisions:
        by_day[e.wound_id, e.day] = e.area_cm2
    for (wound_id, day), area in by_day.items():
        assert area <= sum(p.area_cm2 for p in found.placements if (p.wound_id, p.day) == (wound_id, day))
    assert not found.covers


def test_stock_lets_excision_run_ahead():
    extents = [burn(where, "1.9" if where.region is Region.UPPER_ARM else "3.4") for where in LIMBS]
    extents += [burn(TRUNK, "13"), burn(BACK, "13")]
    _, found = plan(*extents, cover_stock_cm2=Decimal(30000))
    _, bare = plan(*extents)
    assert [c for c in found.covers if c.kind is CoverKind.TEMPORARY]
    assert _excised_by(found, day=14) > _excised_by(bare, day=14)


def _excised_by(found, day):
    return sum(e.area_cm2 for e in found.excisions if e.day <= day)


def test_back_and_front_are_not_grafted_together_without_off_loading():
    case, found = plan(burn(TRUNK, "8"), burn(BACK, "8"),
                       record_changes={"patient": patient(off_loading_available=None)})
    front = {p.day for p in found.placements if p.wound_id.startswith("anterior")}
    back = {p.day for p in found.placements if p.wound_id.startswith("posterior")}
    protect = int(load_evidence().value("protect-days"))
    assert all(abs(f - b) >= protect for f in front for b in back)


def test_streptococcus_stops_the_graft_but_not_the_rest():
    bed = BedRecord(TRUNK, BedState.STREPTOCOCCUS, TODAY, "entry[7]")
    _, found = plan(burn(TRUNK, "5"), burn(HAND, "1"), record_changes={"beds": (bed,)})
    assert {p.wound_id.split(":")[0] for p in found.placements} == {"left-hand-back"}
    assert [s.wound_id for s in found.still_open] == ["anterior-trunk:full-thickness"]


def test_theatre_days_are_kept():
    days = (TheatreDay(date(2026, 3, 9)), TheatreDay(date(2026, 3, 16)))
    case, found = plan(burn(TRUNK, "10"), burn(BACK, "5"), theatre_days=days)
    assert {case.date_of(s.day) for s in found.sessions} <= {d.day for d in days}


def test_decided_day_and_method_are_kept():
    decision = FixedDecision(Act.PLACE, Region.ANTERIOR_TRUNK, None, date(2026, 3, 11), GraftMethod.ISLAND_1_3)
    case, found = plan(burn(TRUNK, "5"), fixed_decisions=(decision,))
    assert {(p.day, p.method) for p in found.placements} == {(7, GraftMethod.ISLAND_1_3)}


def test_blood_limit_binds_and_names_itself():
    low = patient(haemoglobin_g_dl=measured("9"))
    _, found = plan(burn(TRUNK, "13"), record_changes={"patient": low}, transfusion_units=0)
    assert Rule.SESSION_BLOOD in found.sessions[0].binding_rules


def test_contingent_session_holds_skin_for_the_expected_loss():
    _, found = plan(burn(TRUNK, "13"))
    regrafts = [p for p in found.placements if p.is_regraft]
    assert regrafts
    assert {s.is_contingent for s in found.sessions if s.day in {p.day for p in regrafts}} == {True}


def test_indeterminate_burn_is_not_excised_before_demarcation():
    case, found = plan(burn(TRUNK, "5", Depth.INDETERMINATE))
    assert min(e.day for e in found.excisions) - case.injury_day >= 5


@pytest.mark.parametrize("position", list(Position))
def test_every_act_is_reached_from_the_position_of_its_session(position):
    where = BACK if position is Position.PRONE else TRUNK
    _, found = plan(burn(where, "6"))
    assert position in found.sessions[0].positions


def test_tourniquet_lets_more_of_a_limb_into_a_session():
    legs = [burn(where, "4.5") for where in LIMBS if where.region is Region.THIGH]
    legs += [burn(where, "3.3") for where in LIMBS if where.region is Region.LOWER_LEG]
    _, bare = plan(*legs, transfusion_units=2)
    _, bound = plan(*legs, transfusion_units=2, limb_tourniquet=True)
    assert len(bound.firm_sessions) < len(bare.firm_sessions)


def test_watched_burn_is_left_until_its_day():
    watched = burn(TRUNK, "5", Depth.DEEP_PARTIAL, watch_until=date(2026, 3, 12))
    _, found = plan(watched, burn(BACK, "2"))
    assert min(e.day for e in found.excisions if e.wound_id.startswith("anterior")) >= 8
    assert min(e.day for e in found.excisions if e.wound_id.startswith("posterior")) < 8


def test_a_fresh_graft_on_the_back_keeps_the_chest_waiting():
    """Grafted on the back yesterday, not off-loaded: the chest waits for the protect days."""
    yesterday = PlacementRecord(BACK, date(2026, 3, 3), Decimal(400), GraftMethod.MESHED_1_1_5, "entry[9]")
    case, found = plan(burn(TRUNK, "4"), burn(BACK, "2"), record_changes={
        "patient": patient(off_loading_available=None), "placements": (yesterday,)})
    first = min(p.day for p in found.placements if p.wound_id.startswith("anterior"))
    assert first + 1 >= int(load_evidence().value("protect-days"))
    earlier = replace(found, **{acts: tuple(replace(a, day=a.day - 1) for a in getattr(found, acts)) for acts in (
        "sessions", "excisions", "harvests", "placements", "covers")})
    rules = {v.rule for v in verify_plan(case, earlier, load_evidence(), load_preferences())}
    assert Rule.BEARING_SURFACE in rules
