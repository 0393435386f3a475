"""Splint, walking, compression, moisturiser and garment; cover and templates; the release agent."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.burn_wound import BedState, BurnWound, Depth
from service.domain.case import CoverRecord, SkinLimitAge
from service.domain.dressing import EventKind as Kind
from service.domain.graft import GraftMethod
from service.domain.patient import BirthDate
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, CoverPlacement, Placement
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from service.schedule.release_agent import release_agent_questions, whole_months
from service.wording.course_text import word_saved
from service.wording.events import event_description
from service.wording.plan_text import write_plan_text
from tests.unit.schedule.plans import MEDIUM, TRUNK, TRUNK_ID, hand_made_answer, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
KNEE = Place(Region.LOWER_LEG, Side.LEFT, Surface.FRONT)
KNEE_ID = "left-lower-leg-front:full-thickness:joint"


def events_of(*kinds, case=None, plan=None):
    events = schedule_care(case or hand_made_case(), plan or hand_made_plan(), EVIDENCE, PREFERENCES).events
    return [e for e in events if e.kind in kinds]


def window(event):
    return event.earliest_day, event.day, event.latest_day


def knee(*, over_joint=True, **changes):
    """One graft of a knee on day 2, or of the shin when not over the joint."""
    wound = BurnWound(KNEE_ID, KNEE, Depth.FULL_THICKNESS, over_joint, Decimal(100))
    plan = replace(hand_made_plan(), sessions=hand_made_plan().sessions[:1], excisions=(), harvests=(), covers=(),
                   placements=(Placement(2, KNEE_ID, GraftMethod.MESHED_1_1, Decimal(100), MEDIUM, Decimal(110)),))
    return {"case": replace(hand_made_case(**changes), wounds=(wound,)), "plan": plan}


def test_splint_goes_on_in_theatre_and_off_three_to_five_days_later():
    on, = events_of(Kind.APPLY_SPLINT, **knee())
    off, = events_of(Kind.REMOVE_SPLINT, **knee())
    assert (on.day, on.session) == (2, 1)
    assert "until day 5 (3-5) after placement" in event_description(on)
    assert 2 + 3 <= off.day <= 2 + 5
    assert not events_of(Kind.APPLY_SPLINT, Kind.REMOVE_SPLINT, **knee(over_joint=False))


def test_splint_comes_off_at_a_dressing():
    off, = events_of(Kind.REMOVE_SPLINT, **knee())
    assert off.day in {e.day for e in events_of(Kind.CHANGE_OUTER_DRESSING, **knee())}


def test_walking_begins_the_day_after_and_waits_for_a_joint():
    free, = events_of(Kind.MOBILISE_PATIENT, **knee(over_joint=False))
    joint, = events_of(Kind.MOBILISE_PATIENT, **knee())
    assert window(free) == (2 + 1, 2 + 1, 2 + 7)
    assert window(joint) == (2 + 5, 2 + 5, 2 + 7)


def test_an_infant_is_not_asked_to_walk():
    assert not events_of(Kind.MOBILISE_PATIENT, **knee(age_band=SkinLimitAge.INFANT))


def test_compression_begins_after_five_days_on_legs_only():
    start, = events_of(Kind.START_COMPRESSION, **knee())
    assert start.earliest_day == 2 + 5
    arms_and_trunk = replace(hand_made_plan(), sessions=hand_made_plan().sessions[:1], excisions=(), harvests=(),
                             placements=hand_made_plan().placements[:2])
    assert not events_of(Kind.START_COMPRESSION, Kind.MOBILISE_PATIENT, plan=arms_and_trunk)


def test_moisturiser_and_garment_begin_when_the_graft_is_closed():
    moisturiser, = events_of(Kind.START_MOISTURISER, **knee())
    garment, = events_of(Kind.START_PRESSURE_GARMENT, **knee())
    closed = EVIDENCE.row("closure-days", "meshed-1-1")
    assert window(moisturiser) == tuple(2 + int(d) for d in (closed.low, closed.value, closed.high))
    assert window(garment) == (2 + int(closed.value), 2 + int(closed.value), 2 + int(closed.high))
    assert "23 h a day, for 12 (12-18) months" in event_description(garment)


def covered_plan(*placements):
    plan = hand_made_plan()
    cover = CoverPlacement(2, TRUNK_ID, CoverKind.TEMPORARY, Decimal("200"), 16)
    return replace(plan, covers=(cover,), placements=placements, excisions=(), harvests=())


def test_cover_is_looked_at_on_day_three_and_renewed_at_the_end_of_its_life():
    check, = events_of(Kind.CHECK_COVER, plan=covered_plan())
    renew, = events_of(Kind.RENEW_COVER, plan=covered_plan())
    assert (check.day, window(renew)) == (2 + 3, (15, 16, 16))
    assert check.place == renew.place == "front of trunk"


def test_cover_that_a_graft_replaces_is_not_renewed():
    graft = Placement(20, TRUNK_ID, GraftMethod.MESHED_1_2, Decimal("300"), MEDIUM, Decimal("200"))
    plan = covered_plan(graft)
    plan = replace(plan, sessions=(plan.sessions[0], replace(plan.sessions[1], day=12)),
                   placements=(replace(graft, day=12),))
    assert not events_of(Kind.RENEW_COVER, plan=plan)
    part = replace(plan, placements=(replace(graft, day=12, area_cm2=Decimal("150")),))
    assert len(events_of(Kind.RENEW_COVER, plan=part)) == 1


def test_cover_on_the_patient_goes_on_in_its_own_days():
    case = hand_made_case()
    wound = replace(case.wounds[0], excised_cm2=Decimal(300), covered_cm2=Decimal(300), covered_until_day=12)
    record = replace(case.record, covers=(CoverRecord(TRUNK, case.date_of(-2), Decimal(300), "Procedure/7"),))
    case = replace(case, wounds=(wound, *case.wounds[1:]), record=record)
    check, = events_of(Kind.CHECK_COVER, case=case, plan=SettledPlan())
    renew, = events_of(Kind.RENEW_COVER, case=case, plan=SettledPlan())
    assert (check.day, renew.day) == (1, 12)


@pytest.mark.parametrize(("ready", "days", "priority"), [
    (4, (4, 4, 14), "routine"), (-2, (0, 0, 8), "routine"), (-20, (0, 0, 0), "urgent"),
])
def test_template_is_looked_at_from_its_ready_day(ready, days, priority):
    case = hand_made_case()
    wound = replace(case.wounds[0], bed_state=BedState.UNDER_TEMPLATE, ready_from_day=ready)
    check, = events_of(Kind.CHECK_TEMPLATE, case=replace(case, wounds=(wound,)), plan=SettledPlan())
    assert (window(check), check.priority) == (days, priority)
    assert "within 18-28 days" in event_description(check)


@pytest.mark.parametrize(("birth", "is_asked"), [
    (BirthDate(2031, 1, 10), True), (BirthDate(2031, 1, 9), False), (BirthDate(2031), True), (BirthDate(1990), False),
])
def test_release_agent_asks_for_the_age_under_two_months(birth, is_asked):
    """Asked for the day on which it is applied; an imprecise birth date may be that young."""
    case = hand_made_case()
    case = replace(case, record=replace(case.record, patient=replace(case.record.patient, birth_date=birth)))
    day = case.day_of(date(2031, 3, 9))
    assert ("release-agent-in-young-infant" in release_agent_questions(case, day, EVIDENCE)) is is_asked


def test_months_are_completed_months():
    assert whole_months(date(2030, 12, 31), date(2031, 2, 28)) == 1
    assert whole_months(date(2030, 12, 31), date(2031, 3, 1)) == 2


def test_the_text_says_what_is_a_start_and_what_was_saved():
    text = write_plan_text(hand_made_answer())
    assert "Walk after leg grafts from day 1 (0-7)" in text
    assert "Over the whole course dressings are opened on" in text
    infant = hand_made_answer(hand_made_case(age_band=SkinLimitAge.INFANT))
    assert "Walk after leg grafts" not in write_plan_text(infant)


@pytest.mark.parametrize(("saved", "words"), [(0, ""), (1, "on 1 day fewer"), (4, "on 4 days fewer")])
def test_saved_days_in_words(saved, words):
    assert words in word_saved(saved)
    assert bool(word_saved(saved)) is bool(saved)
