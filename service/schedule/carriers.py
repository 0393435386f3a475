"""Carriers of a session by ratio, with spares, held against the stock that the caller entered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import Decimal

from service.domain.case import GraftingCase, PlanRequest
from service.domain.finding import Finding, Severity
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.domain.theatre_list import CarrierShortage, TheatreList
from service.evidence.library import Evidence
from service.wording.rounding import round_need_up


def carriers_by_ratio(plan: SettledPlan, day: int) -> tuple[tuple[str, int], ...]:
    """Carriers by claimed ratio, the narrowest first: one for each plate, whole or begun."""
    return tuple((_in_words(ratio), count) for ratio, count in sorted(_plates_by_ratio(plan, day).items()))


def find_short_carriers(
    case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence
) -> tuple[CarrierShortage, ...]:
    """Ratios whose carriers, with the spare ones, exceed what earlier sessions leave of the stock.

    Nothing when no stock was entered; a ratio that the entered stock does not name has none.
    """
    stock = _stock_by_ratio(case.request)
    if not stock:
        return ()
    spare = int(evidence.value("spare-plates"))
    shortages = []
    for ratio, count in sorted(_plates_by_ratio(plan, session.day).items()):
        used = sum(_plates_by_ratio(plan, s.day)[ratio] for s in plan.sessions if s.day < session.day)
        left = max(stock[ratio] - used, 0)
        if count + spare > left:
            shortages.append(CarrierShortage(_in_words(ratio), count + spare, left))
    return tuple(shortages)


def find_carrier_stock_short(lists: Iterable[TheatreList]) -> Iterator[Finding]:
    """A finding for each shortage of each list."""
    for listed in lists:
        for short in listed.carriers_short:
            values = (("needed", str(short.needed_count)), ("ratio", short.ratio), ("stock", str(short.stock_count)))
            yield Finding("carrier-stock-short", Severity.HIGH, session=listed.session, values=values)


def _stock_by_ratio(request: PlanRequest) -> Counter:
    stock: Counter = Counter()
    for ratio, count in request.carrier_stock:
        stock[ratio] += count
    return stock


def _plates_by_ratio(plan: SettledPlan, day: int) -> Counter:
    counts: Counter = Counter()
    for placement in plan.placements:
        if placement.day == day and placement.plates is not None:
            counts[placement.method.claimed_expansion_ratio] += placement.plates
    return Counter({ratio: int(round_need_up(count)) for ratio, count in counts.items()})


def _in_words(ratio: Decimal) -> str:
    return f"1:{ratio}"
