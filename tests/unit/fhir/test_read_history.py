"""Procedures with their numbers, takes with their grafts, donor sites with their state."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.donor_site import DonorState
from service.domain.graft import GraftMethod
from tests import builders as make
from tests.unit.fhir.reading import errors, missing, read, set_aside

WOUND = make.burn_wound()
DAY = "2026-03-03"


def graft(*more: dict, method: str = "meshed", ratio: str | None = "1-1.5"):
    return read(WOUND, *make.placement("left thigh front", DAY, "g1", 300, method, ratio), *more)


def test_a_harvest_with_its_area_and_thickness():
    harvest, = read(WOUND, *make.harvest("right thigh front", DAY, "h1", "312.5", "0.25")).record.harvests
    assert (harvest.place.key, harvest.day) == ("right-thigh-front", date(2026, 3, 3))
    assert (harvest.area_cm2, harvest.thickness_mm) == (Decimal("312.5"), Decimal("0.25"))


def test_a_harvest_without_thickness_is_read():
    harvest, = read(WOUND, *make.deed("skin-harvest", "right thigh front", DAY, "h1", 300)).record.harvests
    assert harvest.thickness_mm is None


def test_excision_cover_and_carrier_removal():
    record = read(
        WOUND, *make.deed("wound-excision", "left thigh front", DAY, "x1", 400),
        *make.deed("cover-placement", "left thigh front", DAY, "c1", 100),
        make.procedure("carrier-removal", "left thigh", DAY, "r1")).record
    assert [(e.place.key, e.area_cm2) for e in record.excisions] == [("left-thigh-front", 400)]
    assert [c.area_cm2 for c in record.covers] == [100]
    assert [r.place.key for r in record.carrier_removals] == ["left-thigh-front", "left-thigh-back"]


@pytest.mark.parametrize(("method", "ratio", "expected"), [
    ("sheet", None, GraftMethod.SHEET),
    ("sheet", "1-1", GraftMethod.SHEET),
    ("meshed", "1-1.5", GraftMethod.MESHED_1_1_5),
    ("island", "1-9", GraftMethod.ISLAND_1_9),
])
def test_a_method_with_its_ratio(method, ratio, expected):
    assert graft(method=method, ratio=ratio).record.placements[0].method is expected


@pytest.mark.parametrize(("method", "ratio"), [("sheet", "1-3"), ("meshed", "1-9"), ("island", "1-1.5")])
def test_a_ratio_that_the_method_does_not_have(method, ratio):
    assert errors(graft(method=method, ratio=ratio)) == ["method-impossible"]


def test_a_meshed_graft_without_ratio_is_missing_it():
    assert missing(graft(ratio=None)) == ["claimed-expansion-ratio"]


@pytest.mark.parametrize(("code", "datum"), [("treated-area", "treated-area"), ("graft-method", "graft-method")])
def test_a_placement_without_its_numbers_is_missing_them(code, datum):
    resources = [
        one for one in make.placement("left thigh front", DAY, "g1", 300, "sheet")
        if one["code"] != make.local(code)
    ]
    assert missing(read(WOUND, *resources)) == [datum]


def test_the_surface_may_stand_on_the_area():
    resources = make.deed("wound-excision", "left thigh", DAY, "x1", 300)
    assert missing(read(WOUND, *resources)) == ["surface"]
    resources[1]["component"] = [make.component("surface", valueCodeableConcept=make.local("back"))]
    assert read(WOUND, *resources).record.excisions[0].place.key == "left-thigh-back"


def test_a_number_without_its_procedure_is_a_fault():
    loose = make.observation("treated-area", valueQuantity=make.quantity(100, "cm2"))
    assert errors(read(WOUND, loose)) == ["part-of-required"]


def test_a_number_of_the_wrong_procedure_is_a_fault():
    thickness = make.part_of("x1", "graft-thickness", seen=DAY, valueQuantity=make.quantity("0.2", "mm"))
    result = read(WOUND, *make.deed("wound-excision", "left thigh front", DAY, "x1", 300), thickness)
    assert errors(result) == ["reference-wrong-type"]


def test_a_procedure_that_is_not_completed_is_set_aside_with_its_numbers():
    resources = make.deed("wound-excision", "left thigh front", DAY, "x1", 300)
    resources[0]["status"] = "in-progress"
    result = read(WOUND, *resources)
    assert result.record.excisions == ()
    assert sorted(set_aside(result)) == ["procedure-not-counted", "status-not-final"]


@pytest.mark.parametrize("status", ["not-done", "preparation", "stopped", "unknown"])
def test_what_was_not_done_is_not_history(status):
    removal = make.procedure("carrier-removal", "left thigh", DAY, "r1", status=status)
    assert read(WOUND, removal).record.carrier_removals == ()


def test_a_take_belongs_to_the_graft_it_is_linked_to():
    placed, = graft(make.take("g1", "92.5", "2026-03-04")).record.placements
    assert (placed.take_fraction, placed.take_day) == (Decimal("0.925"), date(2026, 3, 4))


def test_a_take_without_link_belongs_to_the_only_graft_of_its_site():
    take = make.observation("graft-take", seen="2026-03-04", bodySite=make.local("thigh", "left"),
                            valueQuantity=make.quantity(80, "%"))
    assert graft(take).record.placements[0].take_fraction == Decimal("0.8")
    second = make.placement("left thigh back", DAY, "g2", 200, "sheet")
    assert errors(graft(take, *second)) == ["take-ambiguous"]


def test_a_take_of_no_graft_is_a_fault():
    take = make.observation("graft-take", bodySite=make.local("hand", "left"),
                            valueQuantity=make.quantity(80, "%"))
    assert errors(graft(take)) == ["take-without-graft"]


def test_a_take_is_read_after_the_graft_was_placed():
    assert errors(graft(make.take("g1", 90, "2026-03-02"))) == ["take-before-graft"]


def test_the_last_take_counts():
    placed, = graft(make.take("g1", 90, "2026-03-03"), make.take("g1", 70, "2026-03-04")).record.placements
    assert placed.take_fraction == Decimal("0.7")


def test_a_take_below_one_percent_is_taken_for_a_fraction():
    assert errors(graft(make.take("g1", "0.93", "2026-03-04"))) == ["percent-or-fraction"]
    assert graft(make.take("g1", 0, "2026-03-04")).record.placements[0].take_fraction == 0


def test_donor_states():
    record = read(
        WOUND, make.donor_site("right thigh front", "healed", usable_percent=80),
        make.donor_site("left lower-leg", "excluded")).record
    assert [(d.place.key, d.state, d.usable_share) for d in record.donor_states] == [
        ("right-thigh-front", DonorState.HEALED, Decimal("0.8")),
        ("left-lower-leg-front", DonorState.EXCLUDED, None),
        ("left-lower-leg-back", DonorState.EXCLUDED, None),
    ]


def test_a_harvest_from_burned_skin_is_a_contradiction():
    burned = make.burn_wound("right thigh front", "4.75")
    assert errors(read(burned, *make.harvest("right thigh front", DAY, "h1", 100, "0.2"))) == ["harvest-from-burn"]


def test_an_area_larger_than_the_place_is_impossible():
    assert errors(read(WOUND, *make.deed("skin-harvest", "right hand back", DAY, "h1", 900))) == ["area-over-place"]


def own(resource_type: str, **more) -> dict:
    return {
        "resourceType": resource_type, "identifier": [{"system": f"{make.CANONICAL}/identifier", "value": "x"}],
        **more}


def test_a_completed_task_without_its_procedure_is_a_finding():
    task = own("Task", status="completed", code=make.local("excise-wound"), authoredOn=DAY)
    result = read(WOUND, task)
    assert [finding.code for finding in result.findings] == ["completed-task-without-procedure"]
    assert set_aside(result) == ["own-answer"]
    done = make.deed("wound-excision", "left thigh front", DAY, "x1", 300)
    assert read(WOUND, task, *done).findings == ()


@pytest.mark.parametrize("task", [
    own("Task", status="draft", code=make.local("excise-wound")),
    own("Task", status="completed", code=make.local("review-plan")),
    own("Task", status="completed", code={"coding": [3, {"code": []}]}),
    own("CarePlan", status="draft"),
])
def test_other_earlier_answers_are_only_named(task):
    result = read(WOUND, task)
    assert (result.findings, set_aside(result)) == ((), ["own-answer"])
