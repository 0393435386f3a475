"""Numbers of the evidence held at the ends of their ranges, one at a time, planned anew."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region, Side, Surface
from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.planning.parameter_sensitivity import find_parameter_effects, held_at, starts_otherwise
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.planning.sensitivity import first_session
from service.preferences.library import load_preferences
from service.wording.parameter_text import word_parameters
from tests.published_bands.courses import draw_extents
from tests.records import burn, place, record, request
from tests.unit.schedule.plans import hand_made_answer

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


def preferences(count: int):
    return PREFERENCES.with_overrides((("parameters-tried", Decimal(count)),))


def case_of(*extents):
    return assess_case(record(*extents), request(), EVIDENCE, PREFERENCES)


def large():
    """An invented burn of 45 %TBSA, whose expansion and healing decide how the first session begins."""
    return case_of(*draw_extents(45, 1))


def effects_of(case, count=3):
    plan = plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)
    return plan, find_parameter_effects(case, plan, EVIDENCE, preferences(count))


@pytest.mark.parametrize("count", [0, 1, 2, 4])
def test_a_count_says_how_many_numbers_are_tried(count):
    _, found = effects_of(large(), count)
    assert len(found.row_ids) == count
    assert (found.usual is None) == (count == 0)


def test_every_effect_is_a_first_session_that_planning_with_that_number_gives():
    case = large()
    plan, found = effects_of(case)
    assert found.effects and found.usual == first_session(plan)
    for effect in found.effects:
        row = EVIDENCE.row(*effect.row_id.split("/"))
        assert effect.value in (row.low, row.high) and effect.usual_value == row.value
        changed = EVIDENCE.with_rows([held_at(row, effect.value)])
        assert effect.first == first_session(plan_by_rule_of_thumb(case, changed, PREFERENCES))
        assert starts_otherwise(found.usual, effect.first)


def test_what_a_plan_rests_on_most_is_tried_first():
    plan, found = effects_of(large())
    areas = {m: sum(p.area_cm2 for p in plan.placements if p.method is m) for m in GraftMethod}
    assert found.row_ids[0] == f"achieved-expansion-ratio/{max(areas, key=areas.get)}"
    assert found.row_ids[1].startswith("donor-healing-days/")


def test_more_skin_alone_is_no_other_first_session():
    plan, _ = effects_of(large(), 0)
    usual = first_session(plan)
    assert not starts_otherwise(usual, replace(usual, harvested_cm2=usual.harvested_cm2 * 2))
    assert starts_otherwise(usual, replace(usual, sites=frozenset()))


def test_skin_that_is_not_expanded_stretches_alike_on_a_hand():
    """A hand keeps its sheet, whatever unexpanded skin covers."""
    hand = case_of(burn(place(Region.HAND, Side.LEFT, Surface.BACK), "1.2"))
    _, found = effects_of(hand, 1)
    assert found.row_ids == ("achieved-expansion-ratio/sheet",)
    assert all((w, GraftMethod.SHEET) in effect.first.grafted for effect in found.effects
               for w, _ in found.usual.grafted)


def test_nothing_to_graft_tries_nothing():
    assert effects_of(case_of())[1].row_ids == ("shape-factor/concave", "handling-loss/any")


def test_words_name_number_ends_and_what_was_tried():
    case = large()
    _, found = effects_of(case)
    answer = replace(hand_made_answer(), case=case)
    words = " ".join(word_parameters(replace(answer, plan=replace(answer.plan, parameter_sensitivity=found))))
    effect = found.effects[0]
    assert f"{effect.value:f} instead of {effect.usual_value:f}" in words
    assert "Tried at both ends of the range, by the rule of thumb: achieved expansion ratio of" in words
    calm = replace(found, effects=())
    words = word_parameters(replace(answer, plan=replace(answer.plan, parameter_sensitivity=calm)))
    assert words[0] == "No number that was tried, at an end of its range, changes the first session."
    assert word_parameters(answer) == []
