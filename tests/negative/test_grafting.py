"""Negative examples of grafting: what a planner must not do."""

from decimal import Decimal

import pytest

from service.domain.body_region import Region, Side, Surface
from service.domain.graft import GraftKind, GraftMethod, methods_of_place
from tests.negative.example import EVIDENCE, PREFERENCES, Negative, names, numbers, plan
from tests.records import burn, place

TRUNK, BACK = place(Region.ANTERIOR_TRUNK), place(Region.POSTERIOR_TRUNK)


def a_skin_lost_twice():
    """What meshing loses is in the achieved ratio; the handling loss beside it is trimming only."""
    loss = EVIDENCE.row("handling-loss")
    assert loss.high < Decimal("0.25")
    answer = plan(burn(TRUNK, "8"), methods_available=frozenset({GraftMethod.MESHED_1_3}))
    placed = sum(p.area_cm2 for p in answer.plan.settled.placements if not p.is_regraft)
    harvested = sum(h.area_cm2 for h in answer.plan.settled.harvests if h.day == answer.plan.settled.sessions[0].day)
    ratio = EVIDENCE.quantile("achieved-expansion-ratio", "meshed-1-3", PREFERENCES.value("planning-quantile"))
    with_both = placed / ratio / (1 - Decimal("0.25"))
    assert placed / ratio < harvested < with_both


def b_a_mesh_that_expands_as_it_is_named():
    cautious = PREFERENCES.value("planning-quantile")
    assert EVIDENCE.quantile("achieved-expansion-ratio", "meshed-1-6", cautious) < 3
    achieved = EVIDENCE.quantile("achieved-expansion-ratio", "meshed-1-4", cautious)
    answer = plan(burn(TRUNK, "10"), methods_available=frozenset({GraftMethod.MESHED_1_4}))
    ratios = [p.area_cm2 / p.skin_cm2 for p in answer.plan.settled.placements]
    assert ratios and max(ratios) <= achieved < 3


def c_one_stay_for_every_burn():
    small, large = plan(burn(TRUNK, "5")), plan(burn(TRUNK, "13"), burn(BACK, "13"))
    assert small.plan.closure_day < large.plan.closure_day


def d_islands_on_a_small_burn():
    answer = plan(burn(TRUNK, "10"))
    methods = {p.method.kind for p in answer.plan.settled.placements}
    assert methods and GraftKind.ISLAND not in methods


def e_islands_on_face_neck_or_hands():
    for where in (place(Region.FACE), place(Region.NECK), place(Region.HAND, Side.LEFT, Surface.BACK)):
        assert not {m for m in methods_of_place(where, over_joint=False) if m.kind is GraftKind.ISLAND}
    islands = frozenset(m for m in GraftMethod if m.kind is GraftKind.ISLAND)
    answer = plan(burn(place(Region.NECK), "1"), burn(TRUNK, "8"), methods_available=islands)
    assert {p.wound_id.split(":")[0] for p in answer.plan.settled.placements} == {"anterior-trunk"}


EXAMPLES = [
    Negative("a", "a 25-40 % handling loss beside the achieved ratio", a_skin_lost_twice),
    Negative("b", "1:6 mesh taken for six times the skin", b_a_mesh_that_expands_as_it_is_named),
    Negative("c", "27 days as the expected stay", c_one_stay_for_every_burn,
             no_input="no stay is forecast, only the closure of this burn"),
    Negative("d", "islands for a burn of 10 %TBSA", d_islands_on_a_small_burn),
    Negative("e", "islands on face, neck or hands", e_islands_on_face_neck_or_hands),
]


@pytest.mark.parametrize("example", EXAMPLES, ids=names(EXAMPLES))
def test_negative_example(example):
    example.show()


def test_the_table_holds_every_example_of_the_page():
    assert numbers(EXAMPLES) == list("abcde")
