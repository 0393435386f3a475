"""The theatre list of a session: quantities, carriers, order of work, leftover skin."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.body_region import Position
from service.domain.case import SkinLimitAge
from service.domain.donor_site import Harvest
from service.domain.graft import Thickness
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.theatre_list import make_theatre_list
from tests.random_cases import plan_request
from tests.unit.schedule.plans import HAND_ID, TRUNK_ID, hand_made_case, hand_made_plan

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def theatre_list(number, case=None, plan=None):
    plan = plan or hand_made_plan()
    return make_theatre_list(case or hand_made_case(), plan, plan.sessions[number - 1], EVIDENCE, PREFERENCES)


def quantity(listed, name):
    return next(q for q in listed.quantities if q.name == name)


def codes(listed):
    return [step.text_code for step in listed.steps]


def test_one_carrier_for_each_plate_and_two_spare():
    listed = theatre_list(1)
    assert listed.carriers == (("1:4", 19),)
    assert listed.spare_carriers == 2
    assert quantity(listed, "plates").value == 19


def test_harvest_total_is_the_sum_of_its_lines():
    listed = theatre_list(1)
    total = quantity(listed, "harvest-area")
    assert total.value == Decimal("550.0") == sum(line.area.value for line in listed.harvests)
    assert total.low < total.value < total.high
    assert [(line.strips, line.plates_from_whole_squares) for line in listed.harvests] == [(1, 8), (2, 14)]


def test_skin_of_two_harvest_numbers_from_one_site_is_one_line_of_strips():
    plan = hand_made_plan()
    small = replace(plan.harvests[0], area_cm2=Decimal("5.0"), harvest_number=1)
    rest = replace(small, area_cm2=Decimal("355.0"), harvest_number=2)
    medium, thin = theatre_list(1, plan=replace(plan, harvests=(rest, plan.harvests[1], small))).harvests
    _, alone = theatre_list(1).harvests
    assert (medium.thickness, thin.thickness) == (Thickness.MEDIUM, Thickness.THIN)
    assert thin.areas_by_number == ((1, Decimal("5.0")), (2, Decimal("355.0")))
    assert (thin.area.value, thin.strips) == (alone.area.value, alone.strips)


def test_plates_from_the_thin_skin_only():
    listed = theatre_list(1)
    assert quantity(listed, "plates-from-whole-squares").value == 14
    assert quantity(listed, "plates-with-piecing").value == 19


def test_no_islands_no_plate_rules():
    listed = theatre_list(2)
    assert listed.preparation == ("warm-room", "two-teams", "count-staples")
    assert not listed.carriers
    assert listed.spare_carriers == 0


def test_island_rules_keep_time_and_side():
    assert {"adhesive-drying", "spray-distance", "dermal-side-to-wound", "stretch-both-ways",
            "no-oil-or-grease"} <= set(theatre_list(1).preparation)


def test_wound_first_when_the_patient_is_not_turned():
    assert codes(theatre_list(1)) == ["induction", "preparation", "position", "excise", "haemostasis", "harvest",
                                      "prepare", "place", "dress", "exit"]


def test_skin_first_then_one_turn_when_it_lies_opposite():
    found = codes(theatre_list(2))
    assert found[:5] == ["induction", "preparation", "position", "harvest", "keep-moist"]
    assert found.count("turn") == 1
    assert found.index("harvest") < found.index("turn") < found.index("excise") < found.index("place")
    first = next(step for step in theatre_list(2).steps if step.text_code == "position")
    assert dict(first.values)["position"] == Position.PRONE


def test_minutes_of_the_steps_add_up_to_the_session():
    for number in (1, 2):
        listed = theatre_list(number)
        minutes = sum(step.minutes for step in listed.steps if step.minutes is not None)
        assert abs(minutes - quantity(listed, "in-room-minutes").value) <= len(listed.steps) / 2


def per_cm2(name, end="value"):
    return getattr(EVIDENCE.row("blood-loss-per-cm2", name), end)


@pytest.mark.parametrize("end", ["low", "value", "high"])
def test_blood_is_a_range_from_end_to_end_of_the_evidence(end):
    blood = quantity(theatre_list(1), "blood-loss")
    assert getattr(blood, end) == 1350 * per_cm2("excision-adult", end) + 550 * per_cm2("harvest-adult", end)
    assert blood.sources == ("blood-loss-per-cm2/excision-adult", "blood-loss-per-cm2/harvest-adult")


@pytest.mark.parametrize("end", ["low", "value", "high"])
def test_a_limb_under_tourniquet_bleeds_less_and_only_a_limb(end):
    """The hand (150 cm²) lies on a limb, the trunk (1,200 cm²) does not."""
    blood = quantity(theatre_list(1, hand_made_case(request=plan_request(limb_tourniquet=True))), "blood-loss")
    assert getattr(blood, end) == (1200 * per_cm2("excision-adult", end) + 150 * per_cm2("limb-with-tourniquet", end)
                                   + 550 * per_cm2("harvest-adult", end))
    assert "blood-loss-per-cm2/limb-with-tourniquet" in blood.sources


def test_every_quantity_names_its_evidence():
    for number in (1, 2, 3):
        for q in theatre_list(number).quantities:
            assert q.sources
            assert all(EVIDENCE.has(*source.split("/")) for source in q.sources)


def leftovers(**case_changes):
    plan = hand_made_plan()
    spare = Harvest(2, "right-thigh-back", Thickness.THIN, Decimal(100), 1)
    plan = replace(plan, harvests=(*plan.harvests, spare), sessions=(
        replace(plan.sessions[0], positions=(Position.SUPINE, Position.PRONE)), *plan.sessions[1:]))
    return theatre_list(1, hand_made_case(**case_changes), plan).leftovers


@pytest.mark.parametrize(("changes", "fate"), [
    ({}, "leftover-stored"),
    ({"age_band": SkinLimitAge.OLD}, "leftover-on-donor-site"),
])
def test_leftover_skin_has_a_fate(changes, fate):
    left, = leftovers(**changes)
    # 460 cm² harvested thin, less 5 % handling, less 335.16 cm² on plates, in whole cm².
    assert (left.area_cm2, left.fate) == (Decimal(101), fate)


def test_leftover_skin_goes_on_open_wound_first():
    case = hand_made_case()
    open_bed = replace(case.wounds[1], excised_cm2=Decimal(100))
    case = replace(case, wounds=(case.wounds[0], open_bed, case.wounds[2]))
    assert {left.fate for left in theatre_list(1, case).leftovers} == {"leftover-on-open-wound"}


def test_a_shared_plate_is_told_and_prepared_whole():
    plan = hand_made_plan()
    graft, *others = plan.placements
    parts = tuple(replace(graft, wound_id=wound_id, plates=Decimal(plates))
                  for wound_id, plates in ((TRUNK_ID, "12.25"), (HAND_ID, "6.75")))
    shared = theatre_list(1, plan=replace(plan, placements=(*parts, *others)))
    assert shared.carriers == (("1:4", 19),) and quantity(shared, "plates").value == 19
    assert "carriers-shared" in shared.preparation and "carriers-shared" not in theatre_list(1).preparation
