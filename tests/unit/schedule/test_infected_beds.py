"""Infected beds: inspected at once, their cover off, nothing begun on them, sessions elsewhere signed off."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.burn_wound import BedState, PlacedGraft
from service.domain.case import CoverRecord
from service.domain.dressing import EventKind as Kind
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from service.evidence.library import load_evidence
from service.planning.plan_findings import find_about_plan
from service.planning.quantities import PlanningQuantities
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from service.wording.events import event_description, event_title
from service.wording.findings import word_code
from tests.unit.schedule.plans import TRUNK, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
BEGUN = {Kind.START_MOISTURISER, Kind.START_PRESSURE_GARMENT, Kind.START_COMPRESSION, Kind.APPLY_SPLINT,
         Kind.REMOVE_SPLINT, Kind.MOBILISE_PATIENT}
INFECTED = (BedState.INFECTED, BedState.STREPTOCOCCUS)


def case_with(state, **wound_changes):
    """The trunk under cover that ends on day 12, in a given state, with a graft placed three days ago beside it."""
    case = hand_made_case()
    wound = replace(
        case.wounds[0], bed_state=state, excised_cm2=Decimal(300), covered_cm2=Decimal(300), covered_until_day=12,
        placed=(PlacedGraft(-3, GraftMethod.MESHED_1_2, Decimal(200)),), **wound_changes)
    record = replace(case.record, covers=(CoverRecord(TRUNK, case.date_of(-2), Decimal(300), "Procedure/7"),))
    return replace(case, wounds=(wound, *case.wounds[1:]), record=record)


def events(case, plan=None):
    return schedule_care(case, plan or SettledPlan(), EVIDENCE, PREFERENCES).events


def of_kind(kind, made):
    return [e for e in made if e.kind is kind]


@pytest.mark.parametrize("state", INFECTED)
def test_cover_on_an_infected_bed_is_not_renewed_but_taken_off_today(state):
    made = events(case_with(state))
    assert not of_kind(Kind.RENEW_COVER, made) + of_kind(Kind.CHECK_COVER, made)
    look, = of_kind(Kind.INSPECT_BED, made)
    assert (look.day, look.earliest_day, look.latest_day, look.priority) == (0, 0, 0, "urgent")
    assert event_title(look) == "Inspect infected bed: front of trunk"
    assert "the temporary cover comes off: front of trunk." in event_description(look)


@pytest.mark.parametrize("state", [*INFECTED, BedState.READY])
def test_a_series_is_begun_only_where_the_bed_is_not_infected(state):
    begun = {e.kind for e in events(case_with(state)) if e.kind in BEGUN and "front of trunk" in e.place}
    expected = {Kind.START_MOISTURISER, Kind.START_PRESSURE_GARMENT} if state is BedState.READY else set()
    assert begun == expected


def test_a_bed_without_cover_is_inspected_too_and_a_closed_one_is_not():
    bare = replace(case_with(BedState.INFECTED).wounds[0], covered_cm2=Decimal(0), covered_until_day=None)
    case = hand_made_case()
    look, = of_kind(Kind.INSPECT_BED, events(replace(case, wounds=(bare,))))
    assert "cover comes off" not in event_description(look)
    assert not of_kind(Kind.INSPECT_BED, events(replace(case, wounds=(replace(bare, area_cm2=Decimal(0)),))))


def test_every_session_elsewhere_waits_for_the_sign_off_while_streptococcus_is_open():
    plan = hand_made_plan()
    elsewhere = replace(plan, placements=plan.placements[1:3], excisions=plan.excisions[1:], covers=())
    made = events(case_with(BedState.STREPTOCOCCUS), elsewhere)
    asked = [e for e in made if e.preconditions == ("bed-streptococcus",)]
    assert [e.session for e in asked] == [1, 2]
    assert event_description(asked[0]) == (
        "Confirm before the session: streptococcus: sign-off by the surgeon. "
        "Beds: front of trunk. Nothing is grafted there.")
    infected = events(case_with(BedState.INFECTED), elsewhere)
    assert not [e for e in infected if "bed-streptococcus" in e.preconditions]
    assert word_code("bed-streptococcus") == "streptococcus: sign-off by the surgeon"


@pytest.mark.parametrize(("state", "count"), [(BedState.INFECTED, 0), (BedState.READY, 1)])
def test_nobody_is_told_to_renew_cover_that_comes_off(state, count):
    found = find_about_plan(PlanningQuantities(case_with(state), EVIDENCE, PREFERENCES), SettledPlan(), None)
    assert [f.code for f in found].count("cover-expires") == count
