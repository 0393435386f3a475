"""How large a burn one harvest of all free skin closes, in the world that the published arithmetic assumes."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from service.domain.body_region import Region, all_places
from service.domain.burn_wound import BurnWound, Depth
from service.domain.case import GraftingCase, SessionLimits
from service.domain.donor_site import DonorParcel, DonorSite
from service.domain.graft import GraftMethod
from service.evidence.library import Evidence, load_evidence
from service.formulas.body_chart import place_percentages
from service.preferences.library import Preferences, load_preferences
from tests.random_cases import grafting_case, plan_request

SURFACE_M2 = Decimal(2)
ADULT_YEARS = Decimal(40)
#: Den Hollander: a fifth of the body gives no skin.
DONOR_PERCENT = 80


def unlimited_preferences() -> Preferences:
    """No smallest piece and no smallest harvest: crumbs count."""
    return Preferences({p.key: p for p in load_preferences()},
                       {"smallest-piece": Decimal(0), "smallest-harvest": Decimal(0)}, "unlimited")


def ideal_evidence(ratio: Decimal) -> Evidence:
    """Every method expands by the ratio; take 1, nothing lost, every wound flat, plates as small as crumbs."""
    fixed = {"achieved-expansion-ratio": ratio, "take": Decimal(1), "shape-factor": Decimal(1),
             "handling-loss": Decimal(0), "plate-side-mm": Decimal(1)}
    rows = (replace(row, value=fixed[row.parameter], low=None, high=None, distribution="fixed")
            if row.parameter in fixed else row for row in load_evidence())
    return Evidence(tuple(rows), "ideal")


def one_harvest_case(percent: Decimal, method: GraftMethod) -> GraftingCase:
    """A burn of so much body surface where skin could be taken, one session without limits, one method."""
    wounds, sites = _burned_by(percent)
    endless = SessionLimits(Decimal(20000), Decimal(20000), Decimal(100000), 100000, 1, 2)
    return grafting_case(wounds, sites, body_surface_m2=SURFACE_M2, limits=endless, horizon_day=1,
                         request=plan_request(methods_available=frozenset({method})))


def _burned_by(percent: Decimal) -> tuple[tuple[BurnWound, ...], tuple[DonorSite, ...]]:
    wounds, sites, left = [], [], percent
    donors_left = DONOR_PERCENT - percent
    for place, share in place_percentages(load_evidence(), ADULT_YEARS).items():
        if not place.facts.gives_skin or place.region is Region.SCALP:
            continue
        burned = min(left, share)
        left -= burned
        if burned > 0:
            wounds.append(BurnWound(f"{place.key}:full-thickness", place, Depth.FULL_THICKNESS, False, _cm2(burned)))
        if share > burned:
            donors_left -= share - burned
            sites.append(_whole_site(place, share - burned))
    scalp = next(place for place in all_places() if place.region is Region.SCALP)
    return tuple(wounds), (*sites, _whole_site(scalp, donors_left))  # the scalp brings them to the published sum


def _whole_site(place, percent: Decimal) -> DonorSite:
    return DonorSite(place.key, place, _cm2(percent), 1, (DonorParcel(_cm2(percent)),))


def _cm2(percent: Decimal) -> Decimal:
    return (percent * SURFACE_M2 * 100).quantize(Decimal("0.1"))
