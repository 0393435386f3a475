"""Whether the extents can be true together: against the body chart and against their total."""

from __future__ import annotations

from collections import defaultdict
from decimal import ROUND_UP, Decimal

from service.assessment.age import possible_ages
from service.assessment.wounds import extent_percent_tbsa
from service.domain.body_region import Place
from service.domain.burn_wound import COUNTS_AS_BURN, BurnExtent
from service.domain.patient import BirthDate
from service.evidence.library import load_evidence
from service.fhir.read_context import ReadContext
from service.formulas.body_chart import place_percentages
from service.preferences.library import load_preferences

MOST_WOUNDS = 200
WHOLE = Decimal(100)
_PRINTED_STEP = Decimal("0.1")  # percent is written with one decimal, so a share is rounded up to it


def chart_shares(birth: BirthDate | None, context: ReadContext) -> dict[Place, Decimal] | None:
    """Largest share of each place that the recorded birth date allows. [%]

    ``None`` without a birth date: it is required, so nothing is checked without it.
    """
    if birth is None:
        return None
    charts = [place_percentages(load_evidence(), age) for age in possible_ages(birth, context.today)]
    return {place: max(chart[place] for chart in charts) for place in charts[0]}


def _expression_of(extent: BurnExtent, expressions: dict[str, str]) -> str:
    return f"{expressions[extent.source]}.value"


def _check_place(
    place: Place, extents: list[BurnExtent], share: Decimal, expressions: dict[str, str], context: ReadContext
) -> None:
    expression = _expression_of(extents[-1], expressions)
    of_region = sum(e.percent_of_region for e in extents if e.percent_of_region is not None)
    if of_region > WHOLE:
        context.log.fault("extents-over-whole", expression, place=place.key)
        return
    of_body = sum(extent_percent_tbsa(e, {place: share}) for e in extents)
    cap = share.quantize(_PRINTED_STEP, ROUND_UP)
    if of_body > cap:
        context.log.fault("extents-over-region", expression, place=place.key, cap=cap)
    for depth in {e.depth for e in extents}:
        if len({e.percent_tbsa is None for e in extents if e.depth is depth}) > 1:
            context.log.fault("extent-two-ways", expression)


def check_extents(
    extents: tuple[BurnExtent, ...], shares: dict[Place, Decimal] | None, expressions: dict[str, str],
    context: ReadContext,
) -> None:
    """Refuse more burn on a place than the place has.

    Parameters
    ----------
    extents : tuple of BurnExtent
    shares : dict or None
        Share of body surface by place, as ``chart_shares`` gives it. [%]
    expressions : dict
        FHIRPath by record key.
    """
    if len(extents) > MOST_WOUNDS:
        context.log.fault("too-many-wounds", _expression_of(extents[MOST_WOUNDS], expressions), cap=MOST_WOUNDS)
        return
    if shares is None:
        return
    by_place: dict[Place, list[BurnExtent]] = defaultdict(list)
    for extent in extents:
        by_place[extent.place].append(extent)
    for place, on_place in by_place.items():
        _check_place(place, on_place, shares[place], expressions, context)


def check_sum(
    extents: tuple[BurnExtent, ...], shares: dict[Place, Decimal] | None, expressions: dict[str, str],
    context: ReadContext,
) -> Decimal | None:
    """Sum of the extents that count as burn. [%]

    A whole burn below 1 % of body surface is taken for a fraction and refused.
    """
    if shares is None or not extents:
        return None
    if sum(extent_percent_tbsa(extent, shares) for extent in extents) < 1:
        context.log.fault("percent-or-fraction", _expression_of(extents[0], expressions))
    return sum((extent_percent_tbsa(e, shares) for e in extents if e.depth in COUNTS_AS_BURN), Decimal(0))


def check_total(
    counted: Decimal | None, total: Decimal | None, band: int | None, expression: str, context: ReadContext
) -> None:
    """Refuse a stated total that is far from the sum; note a coded band that does not hold it.

    Parameters
    ----------
    counted : Decimal or None
        Sum of the extents. [%]
    total : Decimal or None
        Total as stated. [%]
    band : int or None
        Ten-point band of burn size as coded with the burn.
    expression : str
        FHIRPath of the stated total.
    """
    if counted is None:
        return
    cap = load_preferences().value("sum-against-total-refuse")
    if total is not None and abs(counted - total) > cap:
        context.log.fault("total-against-sum", expression, cap=cap)
    if band is not None and min(int(counted // 10), 9) != band:
        context.log.note("burn-band-differs", expression)
