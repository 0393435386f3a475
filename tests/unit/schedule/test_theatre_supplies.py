"""People, times, carriers against stock, stored skin; and what a list must never do."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.body_region import Position
from service.domain.donor_site import Harvest
from service.domain.finding import Severity
from service.domain.graft import Thickness
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.carriers import find_carrier_stock_short
from service.schedule.stored_skin import state_of_stored_skin
from service.schedule.theatre_list import make_theatre_list
from service.wording.findings import word_finding
from service.wording.plan_text import write_plan_text
from service.wording.theatre_list import word_shortage, word_stored, word_team, word_timer
from tests import builders as make
from tests.random_cases import plan_request
from tests.unit.fhir.reading import errors
from tests.unit.fhir.test_read_parameters import request_of, result_of
from tests.unit.schedule.plans import hand_made_answer, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def theatre_list(number=1, plan=None, **request_changes):
    plan = plan or hand_made_plan()
    case = hand_made_case(request=plan_request(**request_changes))
    return make_theatre_list(case, plan, plan.sessions[number - 1], EVIDENCE, PREFERENCES)


def stock(*counts):
    return {"carrier_stock": tuple((Decimal(ratio), count) for ratio, count in counts)}


@pytest.mark.parametrize(("entered", "short"), [
    ((), []),                                  # not stated
    ((("4", 21),), []),                        # nineteen and two spare
    ((("4", 20),), [("1:4", 21, 20)]),
    ((("4", 12), ("4", 9)), []),               # entered in two boxes
    ((("6", 50),), [("1:4", 21, 0)]),          # another ratio does not help
])
def test_carriers_are_held_against_the_entered_stock(entered, short):
    found = theatre_list(**stock(*entered)).carriers_short
    assert [(s.ratio, s.needed_count, s.stock_count) for s in found] == short


def test_earlier_sessions_use_up_the_stock():
    plan = hand_made_plan()
    again = replace(plan.placements[0], day=20, plates=Decimal(5))
    listed = theatre_list(2, replace(plan, placements=(*plan.placements, again)), **stock(("4", 25)))
    assert [(s.needed_count, s.stock_count) for s in listed.carriers_short] == [(7, 6)]


def test_short_stock_blocks_the_list_and_shows_options():
    listed = theatre_list(**stock(("4", 5)))
    short, = listed.carriers_short
    assert word_shortage(short).startswith("LIST NOT COMPLETE: 21 carriers at 1:4 needed")
    finding, = find_carrier_stock_short([listed])
    worded = word_finding(finding)
    assert (worded.severity, finding.session) == (Severity.HIGH, 1)
    for option in ("Order carriers", "another ratio", "smaller area"):
        assert option in worded.mitigation
        assert option.lower() in word_shortage(short).lower()


def test_carrier_stock_is_read_by_ratio():
    sent = [make.grouped("carrier-stock", ratio=("Code", ratio), count=("Integer", count))
            for ratio, count in (("1-4", 30), ("1-6", 0))]
    assert request_of(*sent).carrier_stock == ((Decimal(4), 30), (Decimal(6), 0))
    assert request_of().carrier_stock == ()


@pytest.mark.parametrize("parts", [
    {"ratio": ("Code", "1-7"), "count": ("Integer", 1)}, {"ratio": ("Code", "1-4")},
    {"ratio": ("Code", "1-4"), "count": ("Integer", -1)},
])
def test_carrier_stock_that_makes_no_sense_is_refused(parts):
    assert errors(result_of(make.grouped("carrier-stock", **parts)))


def test_no_head_count_is_called_a_requirement():
    required = [r for r in theatre_list(1).roles if r.people is None]
    estimated = [r for r in theatre_list(1).roles if r.people is not None]
    assert required
    assert all(EVIDENCE.row(*source.split("/")).read_as == "M" for r in estimated for source in r.people.sources)
    first, second = word_team([theatre_list(1)])
    assert first.startswith("Required: an anaesthetist throughout")
    assert not any(character.isdigit() for character in first)
    assert second.startswith("People, an estimate from memory (M): 2 surgeons; 1-2 surgical assistants")


def test_people_for_plates_and_for_the_turn_only_when_needed():
    codes = {number: {r.text_code for r in theatre_list(number).roles} for number in (1, 2)}
    assert "plate-preparation" in codes[1] - codes[2]
    assert "turn" in codes[2] - codes[1]


def test_somebody_keeps_the_drying_time():
    words = [word_timer(t) for t in theatre_list(1).timers]
    assert words == ["Somebody keeps the time: pads on each excised bed, about 10 min.",
                     "Somebody keeps the time: drying of the adhesive, about 6 min (5-10)."]
    assert [t.text_code for t in theatre_list(2).timers] == ["haemostasis-pads"]


def test_waste_of_whole_squares_comes_from_the_width_of_the_strip():
    """100 mm: 176.4 of 250 cm² in whole squares, so 29 % are not."""
    waste = next(q for q in theatre_list(1).quantities if q.name == "strip-waste")
    assert (waste.value, waste.unit) == (Decimal(29), "%")


@pytest.mark.parametrize(("age", "state"), [
    (0, "good"), (3, "good"), (4, "declining"), (7, "declining"), (8, "last-resort"), (10, "last-resort"),
    (11, None), (14, None), (15, None),
])
def test_stored_skin_is_never_offered_after_ten_days(age, state):
    assert state_of_stored_skin(age, EVIDENCE) == state


def with_spare_skin(next_day):
    """A hundred cm² more than the first session uses, and a second session some days later."""
    plan = hand_made_plan()
    spare = Harvest(2, "right-thigh-back", Thickness.THIN, Decimal(100), 1)
    sessions = (replace(plan.sessions[0], positions=(Position.SUPINE, Position.PRONE)),
                replace(plan.sessions[1], day=next_day))
    moved = replace(plan.placements[2], day=next_day)
    return replace(plan, sessions=sessions, excisions=plan.excisions[:2], harvests=(*plan.harvests[:2], spare),
                   placements=(*plan.placements[:2], moved))


@pytest.mark.parametrize(("next_day", "words"), [
    (5, "3 days old, good. If not used already, lay it on open wound; expect 95 %"),
    (9, "7 days old, usable, declining."), (12, "10 days old, last resort, inspect it before use."),
])
def test_skin_stored_earlier_is_offered_with_its_age(next_day, words):
    stored, = theatre_list(2, with_spare_skin(next_day)).stored
    assert words in word_stored(stored, EVIDENCE)
    assert "names this patient, date and time" in word_stored(stored, EVIDENCE)


@pytest.mark.parametrize("next_day", [13, 17, 20])
def test_skin_stored_too_long_is_not_offered(next_day):
    assert theatre_list(2, with_spare_skin(next_day)).stored == ()


def test_no_dose_of_a_vasoconstrictor_is_ever_printed():
    text = write_plan_text(hand_made_answer()).lower()
    assert not any(word in text for word in ("adrenaline", "epinephrine", "vasoconstrict"))


def test_no_skin_is_taken_from_the_side_that_lies_down():
    plan = with_spare_skin(20)
    listed = theatre_list(1, plan)
    lying, places = None, {}
    for step in listed.steps:
        lying = dict(step.values).get("position", lying)
        if step.text_code == "harvest":
            places[lying] = dict(step.values)["places"]
    assert places == {Position.SUPINE: "right thigh, front", Position.PRONE: "right thigh, back"}


def test_a_site_out_of_reach_is_refused():
    plan = with_spare_skin(20)
    supine = replace(plan, sessions=(replace(plan.sessions[0], positions=(Position.SUPINE,)), plan.sessions[1]))
    with pytest.raises(ValueError, match="out of reach"):
        theatre_list(1, supine)
