"""The body chart: what share of body surface each region has, by age.

The chart gives whole regions at six ages; between them the share is interpolated in a straight
line, which keeps every sum at 100. A chart whose column does not sum to 100 is refused.
"""

from __future__ import annotations

from decimal import Decimal

from service.domain.body_region import REGIONS, Place, Region, all_places
from service.evidence.library import Evidence

WHOLE_BODY_PERCENT = Decimal(100)

#: Chart columns: the age they stand for, with the name in the table. ``adult`` has its age there.
CHILD_COLUMNS = ("0", "1", "5", "10", "15")
ADULT_COLUMN = "adult"

Column = dict[str, Decimal]


class ChartRefused(ValueError):
    """A chart that does not add up to a whole body, or is asked about an age below birth."""


def chart_columns(evidence: Evidence) -> tuple[tuple[Decimal, Column], ...]:
    """The chart as columns of whole-region shares, each with its age.

    Returns
    -------
    tuple
        Pairs of age [years] and shares by chart row, one side each. [%]

    Raises
    ------
    ChartRefused
        When a column does not sum to exactly 100.
    """
    adult_age = evidence.value("body-chart-age-years", ADULT_COLUMN)
    ages = [*((Decimal(name), name) for name in CHILD_COLUMNS), (adult_age, ADULT_COLUMN)]
    columns = tuple((age, _read_column(evidence, name)) for age, name in ages)
    for _, column in columns:
        refuse_incomplete_column(column)
    return columns


def _chart_row(region: Region) -> str:
    """The chart has one row for the head; face and scalp share it."""
    return "head" if region in (Region.FACE, Region.SCALP) else region.value


def _read_column(evidence: Evidence, column_name: str) -> Column:
    rows = {_chart_row(region) for region in REGIONS}
    return {row: evidence.value("body-chart-percent", f"{row}-{column_name}") for row in rows}


def refuse_incomplete_column(column: Column) -> None:
    """Raise ``ChartRefused`` unless the column sums to exactly 100, both sides counted."""
    sides = {_chart_row(region): 2 if facts.sided else 1 for region, facts in REGIONS.items()}
    if sum(share * sides[row] for row, share in column.items()) != WHOLE_BODY_PERCENT:
        raise ChartRefused("a column of the body chart does not sum to 100")


def region_percentages(evidence: Evidence, age_years: float | Decimal) -> Column:
    """Share of each chart row at an age, one side each.

    Parameters
    ----------
    evidence : Evidence
        Rows ``body-chart-percent``.
    age_years : numeric
        From birth; from the adult column on the share no longer changes. [years]

    Returns
    -------
    dict
        Share of body surface by chart row. [%]

    Raises
    ------
    ChartRefused
        For a negative age, or a column that does not sum to 100.

    Notes
    -----
    .. math:: s(a) = s_i + (s_{i+1} - s_i) (a - a_i) / (a_{i+1} - a_i)

    References
    ----------
    .. [1] evidence/tables/body_chart.csv, source ``lund-browder-1944``
    """
    age = Decimal(str(age_years))
    if age < 0:
        raise ChartRefused("age below zero")
    columns = chart_columns(evidence)
    for (young_age, young), (old_age, old) in zip(columns, columns[1:], strict=False):
        if age <= old_age:
            part = (age - young_age) / (old_age - young_age)
            return {row: young[row] + (old[row] - young[row]) * part for row in young}
    return columns[-1][1]


def place_percentages(evidence: Evidence, age_years: float | Decimal) -> dict[Place, Decimal]:
    """Share of body surface of every place at an age.

    A region with two surfaces is split in half; the head is split into face and scalp by the
    ``head-parts`` rows.

    Parameters
    ----------
    evidence : Evidence
        Rows ``body-chart-percent`` and ``head-parts``.
    age_years : numeric
        [years]

    Returns
    -------
    dict
        Share of body surface of each of ``all_places()``; together 100. [%]

    Raises
    ------
    ChartRefused
        As ``region_percentages``.
    """
    shares = region_percentages(evidence, age_years)
    face, scalp = evidence.value("head-parts", "face"), evidence.value("head-parts", "scalp")
    parts = {Region.FACE: face / (face + scalp), Region.SCALP: scalp / (face + scalp)}
    return {
        place: shares[_chart_row(place.region)] * parts.get(place.region, 1) / len(place.facts.surfaces)
        for place in all_places()
    }
