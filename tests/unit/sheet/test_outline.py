"""The drawn figure: every place once, sides as an observer sees them, proportions by age."""

from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Side, Surface, all_places
from service.sheet.outline import HEIGHT, middle_of, outline_of

AGES = [Decimal(age) for age in ("0", "0.5", "3", "9", "17", "40")]


@pytest.mark.parametrize("age", AGES)
def test_every_place_of_the_body_is_drawn_inside_the_figure(age):
    outline = outline_of(age)
    assert set(outline) == set(all_places())
    heights = [y for polygon in outline.values() for _, y in polygon]
    assert min(heights) == 0
    assert max(heights) == pytest.approx(HEIGHT)


@pytest.mark.parametrize("age", AGES)
@pytest.mark.parametrize("region", [Region.HAND, Region.THIGH, Region.FOOT])
def test_left_is_at_the_observers_right_in_front_and_at_the_left_behind(age, region):
    outline = outline_of(age)
    x_of = {
        (side, surface): middle_of(outline[Place(region, side, surface)])[0] for side in Side for surface in Surface}
    assert x_of[Side.LEFT, Surface.FRONT] > 0 > x_of[Side.RIGHT, Surface.FRONT]
    assert x_of[Side.LEFT, Surface.BACK] < 0 < x_of[Side.RIGHT, Surface.BACK]


def test_the_younger_the_larger_the_head_and_the_shorter_the_legs():
    heads, legs = [], []
    for age in AGES:
        outline = outline_of(age)
        heads.append(max(y for _, y in outline[Place(Region.FACE, None, Surface.FRONT)]))
        legs.append(HEIGHT - min(y for _, y in outline[Place(Region.LOWER_LEG, Side.LEFT, Surface.FRONT)]))
    assert heads == sorted(heads, reverse=True)
    assert legs == sorted(legs)
    assert heads[0] > heads[-1] and legs[0] < legs[-1]


def test_a_label_stands_in_the_middle_of_a_square():
    assert middle_of(((0, 0), (4, 0), (4, 2), (0, 2))) == pytest.approx((2, 1))
