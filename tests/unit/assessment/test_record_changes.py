"""What was recorded since the plan before, and the record as it would be without it."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from service.assessment.done_sessions import HeldSession, match_sessions
from service.assessment.record_changes import find_record_changes
from service.domain.body_region import Place, Region, Side, Surface
from service.domain.case import Act, BurnRecord, HarvestRecord, PlacementRecord
from service.domain.donor_site import DonorState, DonorStateRecord
from service.domain.graft import GraftMethod
from service.domain.plan_difference import CourseOutline, EarlierCourse, RecordChangeKind, SessionOutline
from tests.records import record as burn_record

MADE_ON = date(2026, 3, 4)
THIGH = Place(Region.THIGH, Side.RIGHT, Surface.FRONT)
LEG = Place(Region.LOWER_LEG, Side.LEFT, Surface.FRONT)
TOLERANCE = Decimal(40)


def day(number: int) -> date:
    return date(2026, 3, number)


def planned(number: int, skin: int = 300) -> SessionOutline:
    return SessionOutline(day(number), Decimal(skin), ((Act.HARVEST, THIGH.key, Decimal(skin)),))


def earlier(*sessions: SessionOutline) -> EarlierCourse:
    return EarlierCourse(MADE_ON, CourseOutline(sessions))


def harvested(number: int, area: int = 300, place: Place = THIGH) -> HarvestRecord:
    return HarvestRecord(place, day(number), Decimal(area), Decimal("0.2"), f"harvest-{number}-{place.key}")


def changes(record: BurnRecord, *sessions: SessionOutline):
    before = earlier(*sessions)
    return find_record_changes(before, record, *match_sessions(before, record), TOLERANCE)


def test_a_day_of_surgery_belongs_to_the_session_planned_for_it_else_to_the_first_left():
    before = earlier(planned(5), planned(9), planned(14))
    record = replace(burn_record(), harvests=(harvested(5), harvested(11)))
    held, pending = match_sessions(before, record)
    assert held == (HeldSession(planned(5), day(5)), HeldSession(planned(9), day(11)))
    assert pending == (planned(14),)


def test_what_was_done_before_the_plan_or_on_its_day_was_known_to_it():
    before = earlier(planned(9))
    record = replace(burn_record(), harvests=(harvested(2), harvested(4)))
    assert match_sessions(before, record) == ((), (planned(9),))


def test_a_session_of_the_day_of_the_plan_is_held_then():
    record = replace(burn_record(), harvests=(harvested(4),))
    assert match_sessions(earlier(planned(4)), record) == ((HeldSession(planned(4), day(4)),), ())


def test_done_as_planned_is_nothing_new():
    assert changes(replace(burn_record(), harvests=(harvested(5, 320),)), planned(5)) == ()


def test_less_than_planned_and_the_record_as_planned():
    record = replace(burn_record(), harvests=(harvested(5, 200),))
    (change,) = changes(record, planned(5))
    assert (change.kind, change.place, dict(change.values)["done_cm2"]) == (
        RecordChangeKind.DONE_OTHERWISE, THIGH.key, "200")
    assert change.records_without[0].harvests == (replace(record.harvests[0], area_cm2=Decimal(300)),)


def test_from_a_site_that_was_not_planned_and_nothing_from_the_one_that_was():
    record = replace(burn_record(), harvests=(harvested(5, 300, LEG),))
    left_out, added = sorted(changes(record, planned(5)), key=lambda c: c.place != THIGH.key)
    assert left_out.records_without == ()
    assert (added.place, added.records_without[0].harvests) == (LEG.key, ())


def test_held_on_another_day_and_the_record_with_the_day_planned():
    (change,) = changes(replace(burn_record(), harvests=(harvested(7),)), planned(5))
    assert (change.kind, change.values) == (RecordChangeKind.HELD_ON_OTHER_DAY, (("planned", "2026-03-05"),))
    assert [h.day for h in change.records_without[0].harvests] == [day(5)]


def test_a_site_still_healing_that_the_plan_counted_on_was_not_recorded_or_expected_healed():
    state = DonorStateRecord(THIGH, DonorState.HEALING, day(8), "s1")
    (change,) = changes(replace(burn_record(), donor_states=(state,)), planned(9))
    assert [r.donor_states for r in change.records_without] == [(), (replace(state, state=DonorState.HEALED),)]


def test_any_other_state_was_not_recorded():
    state = DonorStateRecord(LEG, DonorState.EXCLUDED, day(8), "s1")
    (change,) = changes(replace(burn_record(), donor_states=(state,)), planned(9))
    assert [r.donor_states for r in change.records_without] == [()]


def test_a_statement_about_both_surfaces_is_one_change():
    back = replace(THIGH, surface=Surface.BACK)
    states = tuple(DonorStateRecord(place, DonorState.HEALED, day(8), "s1") for place in (THIGH, back))
    (change,) = changes(replace(burn_record(), donor_states=states), planned(9))
    assert change.place == "right-thigh"


def test_a_take_that_was_read_was_not_read_before():
    graft = PlacementRecord(LEG, day(2), Decimal(200), GraftMethod.SHEET, "g1", Decimal("0.6"), day(6))
    (change,) = changes(replace(burn_record(), placements=(graft,)), planned(9))
    assert dict(change.values) == {"percent": "60", "placed": "2026-03-02"}
    assert change.records_without[0].placements[0].take_fraction is None


def test_what_was_known_before_is_nothing_new():
    state = DonorStateRecord(THIGH, DonorState.HEALING, day(3), "s1")
    assert changes(replace(burn_record(), donor_states=(state,)), planned(9)) == ()
