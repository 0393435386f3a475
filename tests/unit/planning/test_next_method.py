"""What the neighbouring methods would take and cost: against the objective of the whole plan, changed by hand."""

from dataclasses import replace
from decimal import Decimal
from functools import lru_cache

import pytest

from service.domain.case import GraftingCase
from service.domain.method_change import MethodChange
from service.domain.plan import GraftPlan, PlanOutcome, SettledPlan
from service.domain.session import Placement
from service.evidence.library import load_evidence
from service.planning.candidates import LADDER, candidate_methods
from service.planning.next_method import find_method_changes
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.wording.reasons import word_method_changes
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
SEEDS = [0, 2, 3, 4, 6, 19, 21]
#: A case whose joints take fewer methods than the skin around them, and one whose hands or neck get a sheet.
WITH_JOINTS, WITH_SHEETS = 6, 2


@lru_cache
def planned(seed: int) -> tuple[PlanningQuantities, SettledPlan, tuple[MethodChange, ...]]:
    case = random_case(seed)
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    return quantities, plan, find_method_changes(quantities, plan)


def chosen(case: GraftingCase, plan: SettledPlan, change: MethodChange, place_key: str) -> list[Placement]:
    """What a change is about: first grafts of its session by its method on a region, at the joint or beside it."""
    day = next(s.day for s in plan.firm_sessions if s.ordinal == change.session)
    wounds = {wound.wound_id: wound for wound in case.wounds}
    region, _, part = place_key.partition(":")
    return [p for p in plan.placements
            if p.day == day and not p.is_regraft and p.method is change.planned
            and wounds[p.wound_id].place.region_key == region
            and change.other in candidate_methods(case, wounds[p.wound_id])
            and (not part or wounds[p.wound_id].over_joint == (part == "joint"))]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_days_are_those_of_the_plan_with_the_other_method_on_one_wound(seed):
    quantities, plan, changes = planned(seed)
    before = weighted_open_days(quantities, plan)
    assert changes
    for change in changes:
        for wound in change.wounds:
            parts = chosen(quantities.case, plan, change, wound.place_key)
            other = replace(plan, placements=tuple(
                replace(p, method=change.other) if p in parts else p for p in plan.placements))
            assert parts and weighted_open_days(quantities, other) - before == wound.days


@pytest.mark.parametrize("seed", SEEDS)
def test_narrower_takes_more_skin_and_wider_spares_some(seed):
    quantities, _, changes = planned(seed)
    for change in changes:
        is_narrower = quantities.ratio(change.other) < quantities.ratio(change.planned)
        assert all((wound.skin_cm2 > 0) is is_narrower for wound in change.wounds)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_skin_is_that_of_the_ratios(seed):
    """Meshed grafts: area by ratio and shape, and what handling loses; islands come in whole plates."""
    quantities, plan, changes = planned(seed)
    kept = Decimal(1) - EVIDENCE.value("handling-loss")
    wounds = {wound.wound_id: wound for wound in quantities.case.wounds}
    meshed = [c for c in changes if not {c.planned.kind, c.other.kind} & {"island"}]
    assert meshed
    for change in meshed:
        for wound in change.wounds:
            parts = chosen(quantities.case, plan, change, wound.place_key)
            expected = sum(
                p.area_cm2 / as_decimal(quantities.coverage(change.other, wounds[p.wound_id].place)) / kept
                - p.area_cm2 / as_decimal(quantities.coverage(change.planned, wounds[p.wound_id].place)) / kept
                for p in parts)
            assert abs(expected - wound.skin_cm2) <= Decimal("0.4") * len(parts)


def as_decimal(fraction) -> Decimal:
    return Decimal(fraction.numerator) / Decimal(fraction.denominator)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_wound_that_may_be_grafted_narrower_or_wider_is_told(seed):
    """What is grafted is left out only where no other ratio is allowed, or where it is too small to matter."""
    quantities, plan, changes = planned(seed)
    wounds = {wound.wound_id: wound for wound in quantities.case.wounds}
    told = {(c.session, c.planned, w.place_key.partition(":")[0]) for c in changes for w in c.wounds}
    smallest_cm2 = 30
    for session in plan.firm_sessions:
        for p in plan.placements:
            wound = wounds[p.wound_id]
            others = {quantities.ratio(m) for m in candidate_methods(quantities.case, wound) & {*LADDER}}
            if p.day == session.day and not p.is_regraft and others - {quantities.ratio(p.method)}:
                assert p.area_cm2 < smallest_cm2 or (session.ordinal, p.method, wound.place.region_key) in told


def test_wounds_of_one_line_change_alike():
    for seed in SEEDS:
        _, _, changes = planned(seed)
        lines = [(c.session, c.planned, c.other, c.days < 0) for c in changes]
        assert len(lines) == len(set(lines))
        assert all((wound.days < 0) is (change.days < 0) for change in changes for wound in change.wounds)


def test_no_joint_is_told_a_method_that_joints_do_not_take():
    quantities, plan, changes = planned(WITH_JOINTS)
    beside = [(c, w) for c in changes for w in c.wounds if w.place_key.endswith(":beside-joint")]
    assert beside
    for change, wound in beside:
        joints = [w for w in quantities.case.wounds
                  if w.over_joint and w.place.region_key == wound.place_key.partition(":")[0]]
        assert all(change.other not in candidate_methods(quantities.case, joint) for joint in joints)


def test_hands_and_neck_change_as_a_whole():
    quantities, plan, changes = planned(WITH_SHEETS)
    sheets = [(c, w) for c in changes for w in c.wounds if c.planned == "sheet"]
    assert sheets
    for change, wound in sheets:
        wounds = [w for w in quantities.case.wounds if w.place.region_key == wound.place_key]
        changed = {p.wound_id for p in chosen(quantities.case, plan, change, wound.place_key)}
        assert changed == {w.wound_id for w in wounds}


def test_a_method_that_is_not_at_hand_is_no_neighbour():
    case = random_case(2)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    used = frozenset(p.method for p in plan.placements)
    bare = replace(case, request=replace(case.request, methods_available=used))
    changes = find_method_changes(PlanningQuantities(bare, EVIDENCE, PREFERENCES), plan)
    assert {change.other for change in changes} <= used


@pytest.mark.parametrize("seed", SEEDS)
def test_in_words_each_wound_has_its_skin_and_its_days(seed):
    _, settled, changes = planned(seed)
    plan = GraftPlan(PlanOutcome.BEST_FOUND, settled, method_changes=changes)
    told = [sentence for session in settled.firm_sessions for sentence in word_method_changes(plan, session)]
    assert len(told) == len(changes)
    for sentence, change in zip(told, changes, strict=True):
        assert sentence[0].isupper() and " instead of " in sentence
        assert sentence.count(" cm², ") == len(change.wounds)
        assert sentence.count(" %TBSA-days") == len(change.wounds) + 1
