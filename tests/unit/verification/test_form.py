"""A malformed plan is refused for its form, by the rule that cannot be checked without it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest

from service.domain.body_region import Position
from service.domain.graft import SkinClass, Thickness
from service.domain.plan import StillOpen, UnreservedLoss
from service.domain.rule import Rule
from service.domain.session import CoverKind, CoverPlacement
from service.verification.verify import verify_plan
from service.verification.violation import Violation, in_reading_order
from tests.unit.verification.plan_builder import EVIDENCE, PREFERENCES, amended, with_request
from tests.unit.verification.small_plans import one_graft

NOT_AREAS = (
    "0", "-0.1", "0.05", "60.01", "NaN", "sNaN", "Infinity", "-Infinity", "1E+999999", "1E-999999", "1000000")
AREA_RULES = (
    ("excisions", Rule.GRAFT_ON_READY_BED), ("harvests", Rule.DONOR_REGROWTH),
    ("placements", Rule.PLACE_EACH_WOUND_ONCE), ("covers", Rule.COVER_EXCISED_BED),
)


def covered_plan():
    """One graft with an overlay that it does not need, so that every kind of act is there."""
    case, plan = one_graft(Random(1))
    day, wound_id = plan.placements[0].day, plan.placements[0].wound_id
    cover = CoverPlacement(day, wound_id, CoverKind.OVERLAY, Decimal(5), day + 3)
    case = with_request(case, cover_stock_cm2=Decimal(5))
    return case, replace(plan, covers=(cover,))


def broken_rules(case, plan) -> set[Rule]:
    return {fault.rule for fault in verify_plan(case, plan, EVIDENCE, PREFERENCES)}


def test_the_plan_itself_is_accepted() -> None:
    assert verify_plan(*covered_plan(), EVIDENCE, PREFERENCES) == ()


@pytest.mark.parametrize("text", NOT_AREAS)
@pytest.mark.parametrize(("group", "rule"), AREA_RULES)
def test_area_that_is_no_positive_multiple_of_a_step_is_refused(group: str, rule: Rule, text: str) -> None:
    case, plan = covered_plan()
    assert broken_rules(case, amended(plan, group, area_cm2=Decimal(text))) == {rule}


@pytest.mark.parametrize("text", ["0", "-17.64", "NaN", "60.01", "1E-999999"])
def test_skin_that_cannot_be_printed_is_refused(text: str) -> None:
    case, plan = covered_plan()
    changed = amended(plan, "placements", plates=None, skin_cm2=Decimal(text))
    assert broken_rules(case, changed) == {Rule.SKIN_BALANCE}


@pytest.mark.parametrize("area_cm2", [5, 5.0, "5", None, True])
def test_area_that_is_no_decimal_is_refused(area_cm2: object) -> None:
    case, plan = covered_plan()
    assert broken_rules(case, amended(plan, "harvests", area_cm2=area_cm2)) == {Rule.DONOR_REGROWTH}


@pytest.mark.parametrize(("group", "field", "value", "rule"), [
    ("sessions", "day", True, Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "day", "3", Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "ordinal", 1.0, Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "is_contingent", None, Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "positions", [Position.SUPINE], Rule.POSITION),
    ("sessions", "positions", ("supine",), Rule.POSITION),
    ("sessions", "procedure_minutes", -1, Rule.SESSION_MINUTES),
    ("sessions", "procedure_minutes", 400.0, Rule.SESSION_MINUTES),
    ("sessions", "blood_loss_ml", True, Rule.SESSION_BLOOD),
    ("harvests", "thickness", "thin", Rule.SKIN_CLASS),
    ("harvests", "harvest_number", True, Rule.DONOR_HARVEST_COUNT),
    ("placements", "method", "sheet", Rule.METHOD_OF_REGION),
    ("placements", "skin_class", None, Rule.SKIN_CLASS),
    ("placements", "skin_class", SkinClass("thin", above_clavicle=False), Rule.SKIN_CLASS),
    ("placements", "skin_class", SkinClass(Thickness.THIN, above_clavicle=0), Rule.SKIN_CLASS),
    ("placements", "is_regraft", 0, Rule.NOTHING_WITHOUT_A_SESSION),
    ("placements", "plates", 1.5, Rule.WHOLE_PLATES),
    ("covers", "kind", "overlay", Rule.COVER_EXCISED_BED),
    ("covers", "until_day", Decimal(40), Rule.COVER_EXCISED_BED),
])
def test_a_field_of_another_kind_is_refused(group: str, field: str, value: object, rule: Rule) -> None:
    case, plan = covered_plan()
    assert broken_rules(case, amended(plan, group, **{field: value})) == {rule}


@pytest.mark.parametrize("area_cm2", [Decimal("-0.1"), Decimal("0.05"), Decimal("NaN"), Decimal("Infinity"), 0])
def test_what_is_left_open_or_unreserved_is_an_area_or_nothing(area_cm2: object) -> None:
    case, plan = covered_plan()
    wound = case.wounds[0]
    left_open = replace(plan, still_open=(StillOpen(wound.wound_id, area_cm2),))
    unreserved = replace(plan, unreserved=(UnreservedLoss(wound.place.region_key, area_cm2),))
    assert broken_rules(case, left_open) == {Rule.PLACE_EACH_WOUND_ONCE}
    assert broken_rules(case, unreserved) == {Rule.FAILED_GRAFTS_COME_BACK}


def test_faults_are_read_by_rule_then_subject_then_day_whole_plan_first() -> None:
    rule, later_rule = Rule.PLACE_EACH_WOUND_ONCE, Rule.FIXED_DECISION
    expected = (
        Violation(rule, "a"), Violation(rule, "a", -1), Violation(rule, "a", 0), Violation(rule, "a", 2),
        Violation(rule, "b"), Violation(later_rule, "a", 1))
    assert in_reading_order(set(expected)) == expected


def test_nothing_left_open_and_nothing_unreserved_may_be_said() -> None:
    case, plan = covered_plan()
    wound = case.wounds[0]
    plan = replace(
        plan, still_open=(StillOpen(wound.wound_id, Decimal(0)),),
        unreserved=(UnreservedLoss(wound.place.region_key, Decimal("0.0")),))
    assert verify_plan(case, plan, EVIDENCE, PREFERENCES) == ()


def test_steps_are_a_matter_of_value_not_of_writing() -> None:
    case, plan = covered_plan()
    same = plan.harvests[0].area_cm2.quantize(Decimal("0.0000"))
    assert verify_plan(case, amended(plan, "harvests", area_cm2=same), EVIDENCE, PREFERENCES) == ()


@pytest.mark.parametrize(("group", "field", "rule"), [
    ("excisions", "wound_id", Rule.PLACE_EACH_WOUND_ONCE),
    ("placements", "wound_id", Rule.PLACE_EACH_WOUND_ONCE),
    ("covers", "wound_id", Rule.PLACE_EACH_WOUND_ONCE),
    ("harvests", "site_id", Rule.DONOR_REGROWTH),
])
def test_unknown_wound_or_site_is_refused(group: str, field: str, rule: Rule) -> None:
    case, plan = covered_plan()
    day = getattr(plan, group)[0].day
    faults = verify_plan(case, amended(plan, group, **{field: "nowhere"}), EVIDENCE, PREFERENCES)
    assert Violation(rule, "nowhere", day) in faults


def test_unreserved_loss_of_an_unknown_region_is_refused() -> None:
    case, plan = covered_plan()
    plan = replace(plan, unreserved=(UnreservedLoss("nowhere", Decimal(0)),))
    faults = verify_plan(case, plan, EVIDENCE, PREFERENCES)
    assert faults == (Violation(Rule.FAILED_GRAFTS_COME_BACK, "nowhere"),)


@pytest.mark.parametrize("number", [0, -1, 10**9])
def test_harvest_number_out_of_range_is_refused(number: int) -> None:
    case, plan = covered_plan()
    changed = amended(plan, "harvests", harvest_number=number)
    assert Rule.DONOR_HARVEST_COUNT in broken_rules(case, changed)


def test_faults_come_in_the_order_of_the_rules_each_once() -> None:
    case, plan = covered_plan()
    changed = replace(plan, sessions=(), still_open=(StillOpen("nowhere", Decimal(1)),) * 2)
    faults = verify_plan(case, changed, EVIDENCE, PREFERENCES)
    ranks = [list(Rule).index(fault.rule) for fault in faults]
    assert ranks == sorted(ranks)
    assert len(set(faults)) == len(faults)


def test_an_empty_plan_leaves_every_wound_open() -> None:
    case, plan = covered_plan()
    wound = case.wounds[0]
    empty = replace(
        plan, sessions=(), excisions=(), harvests=(), placements=(), covers=(),
        still_open=(StillOpen(wound.wound_id, wound.area_cm2),))
    assert verify_plan(case, empty, EVIDENCE, PREFERENCES) == ()
