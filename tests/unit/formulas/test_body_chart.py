from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Side, Surface
from service.evidence.library import Evidence, load_evidence
from service.formulas.body_chart import (
    ChartRefused,
    chart_columns,
    place_percentages,
    refuse_incomplete_column,
    region_percentages,
)

EVIDENCE = load_evidence()


def with_chart_row(name: str, percent: str) -> Evidence:
    """The evidence with one number of the chart changed, as a misprint would."""
    rows = tuple(
        replace(row, value=Decimal(percent)) if row.row_id == f"body-chart-percent/{name}" else row
        for row in EVIDENCE
    )
    return Evidence(rows, "changed")


@pytest.mark.parametrize(
    ("name", "percent"),
    [("thigh-10", "9"), ("hand-adult", "3"), ("head-0", "18.99"), ("buttock-5", "2"), ("foot-15", "3.4")],
)
@pytest.mark.parametrize("age", [0, 30])
def test_n2_a_misprinted_chart_is_refused_at_every_age(name, percent, age):
    with pytest.raises(ChartRefused):
        place_percentages(with_chart_row(name, percent), age)


@pytest.mark.parametrize("total", [98, 95, 101])
def test_n1_columns_that_are_no_whole_body_are_refused(total):
    column = dict(chart_columns(EVIDENCE)[1][1])
    refuse_incomplete_column(column)
    column["anterior-trunk"] += total - 100
    with pytest.raises(ChartRefused):
        refuse_incomplete_column(column)


@pytest.mark.parametrize("age", [-0.01, Decimal(-1)])
def test_no_chart_before_birth(age):
    with pytest.raises(ChartRefused):
        region_percentages(EVIDENCE, age)


def test_a_column_is_met_exactly_at_its_age():
    for age, column in chart_columns(EVIDENCE):
        assert region_percentages(EVIDENCE, age) == column


def test_the_fifth_birthday_is_no_jump():
    before = region_percentages(EVIDENCE, Decimal("4.99"))["head"]
    after = region_percentages(EVIDENCE, Decimal("5.01"))["head"]
    assert abs(before - after) < Decimal("0.05")


def test_growing_up_the_head_shrinks_and_the_legs_grow():
    shares = [region_percentages(EVIDENCE, age) for age in (0, 0.7, 3, 5, 8.2, 14, 18)]
    heads, thighs = [s["head"] for s in shares], [s["thigh"] for s in shares]
    assert heads == sorted(heads, reverse=True) and thighs == sorted(thighs)


def test_face_and_scalp_share_the_head_and_limbs_their_surfaces():
    shares = place_percentages(EVIDENCE, 40)
    assert float(shares[Place(Region.FACE, None, Surface.FRONT)]) == pytest.approx(4)
    assert float(shares[Place(Region.SCALP, None, Surface.BACK)]) == pytest.approx(3)
    for side in Side:
        for surface in Surface:
            assert shares[Place(Region.THIGH, side, surface)] == Decimal("4.75")
    assert shares[Place(Region.BUTTOCK, Side.LEFT, Surface.BACK)] == Decimal("2.5")
