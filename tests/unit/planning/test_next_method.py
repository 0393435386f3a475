"""What the neighbouring methods would take and cost: against the objective of the whole plan, changed by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.planning.next_method import word_next_methods
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.wording.methods import method_in_words
from service.wording.reasons import word_reason
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
METHODS = {method_in_words(method): method for method in GraftMethod}
SEEDS = [0, 2, 3, 4, 19, 21]


def planned(seed: int):
    case = random_case(seed)
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    return quantities, plan, word_next_methods(quantities, plan)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_days_are_those_of_the_plan_with_the_other_method(seed):
    quantities, plan, reasons = planned(seed)
    before = weighted_open_days(quantities, plan)
    days = {session.ordinal: session.day for session in plan.firm_sessions}
    for reason in reasons:
        said = dict(reason.values)
        chosen = [p for p in plan.placements if p.day == days[reason.session] and not p.is_regraft
                  and p.method is METHODS[said["planned"]]]
        area = Decimal(said["area_cm2"].replace(",", ""))
        if area < sum(p.area_cm2 for p in chosen):
            continue  # not every wound of the method takes the other one
        other = METHODS[said["other"]]
        changed = replace(plan, placements=tuple(replace(p, method=other) if p in chosen else p
                                                 for p in plan.placements))
        difference = weighted_open_days(quantities, changed) - before
        told = Decimal(said["days"]) * (1 if said["better_or_worse"] == "worse" else -1)
        assert abs(difference - told) <= Decimal("0.1") * (len(chosen) + 1)


@pytest.mark.parametrize("seed", SEEDS)
def test_narrower_takes_more_skin_and_wider_spares_some(seed):
    quantities, _, reasons = planned(seed)
    assert reasons
    for reason in reasons:
        said = dict(reason.values)
        ratios = quantities.ratio(METHODS[said["other"]]), quantities.ratio(METHODS[said["planned"]])
        assert (reason.code == "narrower-method") is (ratios[0] < ratios[1])
        assert Decimal(said["skin_cm2"].replace(",", "")) >= 0


def test_face_neck_and_hands_keep_their_sheet():
    _, _, reasons = planned(2)
    assert all(dict(reason.values)["planned"] != "sheet" for reason in reasons)


def test_a_method_that_is_not_at_hand_is_no_neighbour():
    case = random_case(2)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    used = frozenset(p.method for p in plan.placements)
    bare = replace(case, request=replace(case.request, methods_available=used))
    named = {METHODS[dict(r.values)["other"]] for r in word_next_methods(
        PlanningQuantities(bare, EVIDENCE, PREFERENCES), plan)}
    assert named <= used


def test_in_words():
    _, _, reasons = planned(2)
    words = word_reason(reasons[0])
    assert words[0].isupper() and " instead of " in words and words.endswith(" for each 100 cm² of skin.")
    said = dict(reasons[0].values)
    rate = Decimal(said["days"]) / Decimal(said["skin_cm2"].replace(",", "")) * 100
    assert abs(rate / Decimal(said["days_per_100_cm2"]) - 1) < Decimal("0.1")
