"""Looks, changes, carriers and staples fall on the days that the evidence names."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.burn_wound import PlacedGraft
from service.domain.dressing import EventKind as Kind
from service.domain.graft import GraftMethod
from service.domain.patient import AllergyAnswer
from service.domain.plan import SettledPlan
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from service.schedule.graft_dressings import GraftCare
from service.schedule.grafts import number_grafts
from tests.unit.schedule.plans import HAND_ID, THIGH_ID, TRUNK_ID, carriers_removed, hand_made_case, hand_made_plan

ISLANDS, SHEET, MESH = (f"{wound}:graft:1" for wound in (TRUNK_ID, HAND_ID, THIGH_ID))
EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def events_of(subject, *kinds, case=None, plan=None, preferences=PREFERENCES):
    """Events of one graft on its usual days, before anything is merged or joined."""
    case, plan = case or hand_made_case(), hand_made_plan() if plan is None else plan
    graft = next(g for g in number_grafts(case, plan) if g.key == subject)
    events = GraftCare(graft, case, plan, EVIDENCE, preferences).events({}, frozenset())
    return [e for e in events if e.kind in kinds]


def windows(events):
    return [(e.earliest_day, e.day, e.latest_day) for e in events]


def test_islands_lie_48_hours_then_daily_until_the_carrier_comes_off():
    assert [e.day - 2 for e in events_of(ISLANDS, Kind.CHANGE_OUTER_DRESSING)] == [2, 3, 4, 5, 6]


def test_sheet_is_looked_at_early_and_daily_to_day_five():
    changes = events_of(SHEET, Kind.CHANGE_OUTER_DRESSING)
    assert [e.day - 2 for e in changes] == [1, 2, 3, 4, 5]
    assert changes[0].latest_day - 2 == 2


def test_mesh_is_left_to_day_five_then_changed_every_other_day_until_closed():
    changes = events_of(MESH, Kind.CHANGE_OUTER_DRESSING)
    assert [e.day - 20 for e in changes] == [5, 7]
    assert windows(changes)[0] == (23, 25, 25)
    assert windows(changes)[1] == (26, 27, 27)


@pytest.mark.parametrize(("subject", "kind", "placed", "window"), [
    (ISLANDS, Kind.INSPECT_GRAFT, 2, (6, 7, 14)),
    (ISLANDS, Kind.REMOVE_CARRIER, 2, (6, 7, 14)),
    (ISLANDS, Kind.APPLY_RELEASE_AGENT, 2, (5, 6, 13)),
    (ISLANDS, Kind.REMOVE_STAPLES, 2, (6, 7, 14)),
    (SHEET, Kind.INSPECT_GRAFT, 2, (4, 5, 5)),
    (SHEET, Kind.REMOVE_STAPLES, 2, (4, 5, 21)),
    (MESH, Kind.INSPECT_GRAFT, 20, (3, 5, 5)),
    (MESH, Kind.REMOVE_STAPLES, 20, (3, 5, 21)),
])
def test_windows_after_placement(subject, kind, placed, window):
    found = windows(events_of(subject, kind))
    assert found == [tuple(day + placed for day in window)]


def test_only_islands_have_carriers():
    assert not events_of(SHEET, Kind.REMOVE_CARRIER, Kind.APPLY_RELEASE_AGENT)
    assert not events_of(MESH, Kind.REMOVE_CARRIER, Kind.APPLY_RELEASE_AGENT)


@pytest.mark.parametrize(("allergy", "codes"), [
    (AllergyAnswer.PRESENT, ("sulfonamide-allergy",)),
    (AllergyAnswer.NOT_RECORDED, ("allergy-not-recorded",)),
    (AllergyAnswer.ABSENT, ()),
])
def test_release_agent_asks_about_the_allergy(allergy, codes):
    case = hand_made_case()
    patient = replace(case.record.patient, sulfonamide_allergy=allergy)
    case = replace(case, record=replace(case.record, patient=patient))
    assert events_of(ISLANDS, Kind.APPLY_RELEASE_AGENT, case=case)[0].preconditions == codes


def test_contingent_session_gives_only_a_word_at_the_inspection():
    case, plan = hand_made_case(), hand_made_plan()
    events = schedule_care(case, plan, EVIDENCE, PREFERENCES).events
    assert not [e for e in events if e.session == 3 or e.kind in (Kind.HARVEST_SKIN, Kind.PLACE_GRAFT) and e.day == 30]
    words = dict(events_of(ISLANDS, Kind.INSPECT_GRAFT)[0].values)["contingent"]
    assert "possible further session" in words
    assert dict(events_of(MESH, Kind.INSPECT_GRAFT)[0].values)["contingent"] == ""


def test_graft_on_the_patient_goes_on_in_its_own_days():
    case = hand_made_case(past=True)
    assert [e.day for e in events_of(ISLANDS, Kind.CHANGE_OUTER_DRESSING, case=case)] == [0, 1, 2, 3]
    assert windows(events_of(ISLANDS, Kind.INSPECT_GRAFT, case=case)) == [(3, 4, 11)]


def test_removed_carriers_are_not_removed_again():
    case = carriers_removed(hand_made_case(past=True), -1)
    assert not events_of(ISLANDS, Kind.REMOVE_CARRIER, Kind.APPLY_RELEASE_AGENT, Kind.CHANGE_OUTER_DRESSING, case=case)


def test_overdue_reading_is_due_today_and_urgent():
    case = hand_made_case()
    old = replace(case.wounds[0], placed=(PlacedGraft(-30, GraftMethod.MESHED_1_2, Decimal(300)),))
    case = replace(case, wounds=(old, *case.wounds[1:]))
    event, = events_of(ISLANDS, Kind.INSPECT_GRAFT, case=case, plan=SettledPlan())
    assert (event.earliest_day, event.day, event.latest_day, event.priority) == (0, 0, 0, "urgent")


def test_a_graft_that_was_read_is_not_read_again():
    case = hand_made_case()
    read = PlacedGraft(-10, GraftMethod.MESHED_1_2, Decimal(300), Decimal("0.9"), -4)
    case = replace(case, wounds=(replace(case.wounds[0], placed=(read,)), *case.wounds[1:]))
    assert not events_of(ISLANDS, Kind.INSPECT_GRAFT, Kind.REMOVE_STAPLES, case=case, plan=SettledPlan())
