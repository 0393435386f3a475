"""Open questions are planned both ways: the case under the other answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal

from service.domain.burn_wound import BurnWound, Depth, PlacedGraft
from service.domain.case import GraftingCase
from service.evidence.library import Evidence

_STEP = Decimal("0.1")


@dataclass(frozen=True)
class OtherAnswer:
    """A question that the record leaves open, the answer not used in the main plan, and its case."""

    question: str
    answer: str
    case: GraftingCase


def other_answers(case: GraftingCase, evidence: Evidence) -> Iterator[OtherAnswer]:
    """The case under every other answer. The main plan uses the one that asks for more skin."""
    if any(w.depth is Depth.INDETERMINATE for w in case.wounds):
        deep = tuple(w for w in case.wounds if w.depth is not Depth.INDETERMINATE or w.placed)
        yield OtherAnswer("depth-indeterminate", "closes", replace(case, wounds=deep))
    if any(p.harvest_count and not p.healed_recorded for s in case.donor_sites for p in s.parcels):
        yield OtherAnswer("donor-healed", "healed", _with_donors_healed(case))
    if any(_unread(w) for w in case.wounds):
        wounds = tuple(_with_poor_take(w, evidence) for w in case.wounds)
        yield OtherAnswer("take-not-read", "poor-take", replace(case, wounds=wounds))


def _with_donors_healed(case: GraftingCase) -> GraftingCase:
    """Every site harvested before counts as healed now."""
    sites = tuple(replace(site, parcels=tuple(
        replace(p, healed_recorded=True) if p.harvest_count else p for p in site.parcels)) for site in case.donor_sites)
    return replace(case, donor_sites=sites)


def _unread(wound: BurnWound) -> list[PlacedGraft]:
    return [g for g in wound.placed if g.take_fraction is None]


def _with_poor_take(wound: BurnWound, evidence: Evidence) -> BurnWound:
    """Grafts not read yet lose as much as the low end of the published take says."""
    lost, placed = Decimal(0), []
    for graft in wound.placed:
        if graft.take_fraction is None:
            take = evidence.row("take", graft.method.kind).low
            lost += (graft.area_cm2 * (1 - take)).quantize(_STEP, ROUND_CEILING)
            graft = replace(graft, take_fraction=take, take_day=0)
        placed.append(graft)
    return replace(wound, area_cm2=wound.area_cm2 + lost, excised_cm2=wound.excised_cm2 + lost, placed=tuple(placed))
