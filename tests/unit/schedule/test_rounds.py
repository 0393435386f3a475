"""One event a round: its places, its window, and a name that lasts when the plan is made again."""

from dataclasses import replace
from decimal import Decimal

from service.domain.burn_wound import BedState, PlacedGraft
from service.domain.dressing import DISTURBING
from service.domain.dressing import EventKind as Kind
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from service.domain.session import Placement
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from service.wording.events import event_description, event_title
from tests.unit.schedule.plans import THIN, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def care(case=None, plan=None, preferences=PREFERENCES):
    return schedule_care(case or hand_made_case(), plan or hand_made_plan(), EVIDENCE, preferences)


def of_kind(kind, **kwargs):
    return [e for e in care(**kwargs).events if e.kind is kind]


def with_graft(day, method=GraftMethod.MESHED_1_2, **wound_changes):
    """A case whose trunk wound carries one graft placed on a day of the past, and no plan."""
    case = hand_made_case()
    old = replace(case.wounds[0], placed=(PlacedGraft(day, method, Decimal(300)),), **wound_changes)
    return replace(case, wounds=(old, *case.wounds[1:]))


def test_one_round_of_dressings_a_day():
    changes = of_kind(Kind.CHANGE_OUTER_DRESSING)
    days = [e.day for e in changes]
    assert len(days) == len(set(days))
    both = next(e for e in changes if e.day == 4)
    assert both.place == "front of trunk; left hand, back"
    assert "Islands 1:4, day 2 after placement: front of trunk." in event_description(both)
    assert "Sheet, day 2 after placement: left hand, back." in event_description(both)


def test_a_round_is_named_by_its_date_whatever_day_it_is_planned_from():
    """Two days later the same rounds have the same names."""
    now = {e.subject_key for e in of_kind(Kind.CHANGE_OUTER_DRESSING, case=with_graft(-3), plan=SettledPlan())}
    case = with_graft(-5)
    case = replace(case, day_zero=case.date_of(2))
    later = {e.subject_key for e in of_kind(Kind.CHANGE_OUTER_DRESSING, case=case, plan=SettledPlan())}
    assert later
    assert later <= now
    assert all(name.startswith("ward:20") for name in now)


def test_the_window_of_a_round_is_what_all_in_it_share():
    for event in care().events:
        assert event.earliest_day <= event.day <= event.latest_day
    staples = of_kind(Kind.REMOVE_STAPLES)
    assert [(e.day - 2, e.latest_day - 2) for e in staples][:1] == [(5, 21)]


def test_title_counts_places_that_it_cannot_hold():
    event = replace(of_kind(Kind.CHANGE_OUTER_DRESSING)[0], place="a; b; c; d")
    assert event_title(event) == "Change outer dressing: 4 places"


def test_merging_saves_days_and_never_costs_one():
    schedule = care()
    days = {e.day for e in schedule.events if e.kind in DISTURBING and not e.is_done_in_theatre}
    assert schedule.disturbances_count == len(days)
    assert schedule.disturbances_saved_count > 0


def test_carriers_come_off_on_a_day_on_which_dressings_are_opened_anyway():
    """Alone on the ward: removal at day 6 takes the place of the last change."""
    case = with_graft(0, GraftMethod.ISLAND_1_4)
    days = [e.day for e in of_kind(Kind.CHANGE_OUTER_DRESSING, case=case, plan=SettledPlan())]
    removal, = of_kind(Kind.REMOVE_CARRIER, case=case, plan=SettledPlan())
    release, = of_kind(Kind.APPLY_RELEASE_AGENT, case=case, plan=SettledPlan())
    assert (days, release.day, removal.day) == ([2, 3, 4, 5], 5, 6)


def test_an_event_goes_into_the_session_next_to_it():
    """Carriers due the day before the second session come off in it, and are changed until then."""
    plan = hand_made_plan()
    second = replace(plan.sessions[1], day=10)
    plan = replace(plan, sessions=(plan.sessions[0], second), covers=(), harvests=(), excisions=(), placements=(
        plan.placements[0], replace(plan.placements[2], day=10)))
    removal, = (e for e in of_kind(Kind.REMOVE_CARRIER, plan=plan) if e.place == "front of trunk")
    assert (removal.day, removal.session, removal.is_done_in_theatre) == (10, 2, True)
    assert event_description(removal).endswith("Done in theatre, in the session of that day.")
    assert removal.subject_key.startswith("theatre:")
    assert max(e.day for e in of_kind(Kind.CHANGE_OUTER_DRESSING, plan=plan) if "front of trunk" in e.place) == 9


def test_a_place_that_cannot_be_reached_stays_on_the_ward():
    plan = hand_made_plan()
    prone = replace(plan.sessions[1], day=10, positions=(plan.sessions[1].positions[1],))
    plan = replace(plan, sessions=(plan.sessions[0], prone), covers=(), harvests=(), excisions=(),
                   placements=(plan.placements[0],))
    removal, = of_kind(Kind.REMOVE_CARRIER, plan=plan)
    assert not removal.is_done_in_theatre


def test_an_infected_wound_is_never_seen_later_than_planned():
    for state, latest in ((BedState.INFECTED, 4), (BedState.STREPTOCOCCUS, 4), (BedState.READY, 11)):
        case = with_graft(-3, GraftMethod.ISLAND_1_4, bed_state=state)
        reading, = of_kind(Kind.INSPECT_GRAFT, case=case, plan=SettledPlan())
        assert reading.latest_day == latest


def test_a_sheet_is_never_first_seen_after_day_two():
    made = hand_made_plan()
    for next_day in range(3, 9):
        plan = replace(made, sessions=(made.sessions[0], replace(made.sessions[1], day=next_day)), covers=(),
                       harvests=(), excisions=(), placements=made.placements[:2])
        first = next(e for e in of_kind(Kind.CHANGE_OUTER_DRESSING, plan=plan) if "left hand, back" in e.place)
        assert first.day - 2 <= 2


def test_reading_does_not_wait_for_theatre_past_the_possible_regraft():
    plan = hand_made_plan()
    near = replace(plan.sessions[1], day=10)
    regraft = Placement(10, plan.placements[0].wound_id, GraftMethod.MESHED_1_1, Decimal(50), THIN, Decimal(55),
                        is_regraft=True)
    plan = replace(plan, sessions=(plan.sessions[0], near, replace(plan.sessions[2], day=10)), covers=(),
                   harvests=(), excisions=(), placements=(plan.placements[0], regraft))
    reading, = of_kind(Kind.INSPECT_GRAFT, plan=plan)
    assert reading.day <= 9


def negative_pressure():
    return PREFERENCES.with_overrides((("negative-pressure-over-grafts", Decimal(1)),))


def test_negative_pressure_takes_the_place_of_changes_and_first_look():
    case, plan = with_graft(0, GraftMethod.MESHED_1_2), SettledPlan()
    usual = care(case=case, plan=plan)
    pressed = care(case=case, plan=plan, preferences=negative_pressure())
    removal, = (e for e in pressed.events if e.kind is Kind.REMOVE_NEGATIVE_PRESSURE)
    reading, = (e for e in pressed.events if e.kind is Kind.INSPECT_GRAFT)
    assert 4 <= removal.day <= 5
    assert reading.day == removal.day
    assert not [e for e in pressed.events if e.kind is Kind.CHANGE_OUTER_DRESSING and e.day <= removal.day]
    assert not [e for e in usual.events if e.kind is Kind.REMOVE_NEGATIVE_PRESSURE]


def test_negative_pressure_never_hides_a_sheet():
    case = with_graft(0, GraftMethod.SHEET)
    events = care(case=case, plan=SettledPlan(), preferences=negative_pressure()).events
    assert not [e for e in events if e.kind is Kind.REMOVE_NEGATIVE_PRESSURE]
    assert min(e.day for e in events if e.kind is Kind.CHANGE_OUTER_DRESSING) <= 2
