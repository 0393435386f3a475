"""Laws that every plan keeps, whatever the case."""

from dataclasses import replace
from decimal import Decimal
from random import Random

import pytest

from service.domain.body_region import Region, all_places
from service.domain.burn_wound import BurnWound, Depth
from service.domain.case import SessionLimits
from service.domain.donor_site import DonorParcel, DonorSite
from service.domain.graft import GraftMethod
from service.evidence.library import Evidence, load_evidence
from service.formulas.body_chart import place_percentages
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.preferences.library import Preferences, load_preferences
from tests.random_cases import grafting_case, plan_request, random_case


def plan_of(case):
    preferences = load_preferences().with_overrides(case.preference_overrides)
    return plan_by_rule_of_thumb(case, load_evidence(), preferences)


def unlimited_preferences() -> Preferences:
    """No smallest piece and no smallest harvest: crumbs count."""
    return Preferences({p.key: p for p in load_preferences()},
                       {"smallest-piece": Decimal(0), "smallest-harvest": Decimal(0)}, "unlimited")


@pytest.mark.parametrize("seed", range(10))
def test_order_of_entries_changes_nothing(seed):
    case = random_case(seed)
    wounds, sites = list(case.wounds), list(case.donor_sites)
    Random(seed).shuffle(wounds)
    expected = plan_of(replace(case, wounds=tuple(sorted(wounds, key=lambda w: w.wound_id)),
                               donor_sites=tuple(sorted(sites, key=lambda s: s.site_id))))
    assert plan_of(replace(case, wounds=tuple(wounds), donor_sites=tuple(
        sorted(sites, key=lambda s: s.site_id)))) == expected


@pytest.mark.parametrize("seed", range(10))
def test_same_case_same_plan(seed):
    case = random_case(seed)
    assert plan_of(case) == plan_of(case)


@pytest.mark.parametrize("seed", range(10))
def test_every_wound_is_grafted_or_named_as_open(seed):
    case = random_case(seed)
    plan = plan_of(case)
    for wound in case.wounds:
        placed = sum((p.area_cm2 for p in plan.placements if p.wound_id == wound.wound_id and not p.is_regraft),
                     Decimal(0))
        still = sum((s.area_cm2 for s in plan.still_open if s.wound_id == wound.wound_id), Decimal(0))
        assert placed + still == wound.area_cm2


def ideal_evidence() -> Evidence:
    """Expansion 1, take 1, nothing lost, every wound flat: what the single-harvest limit assumes."""
    changed = []
    for row in load_evidence():
        if row.parameter in ("achieved-expansion-ratio", "take", "shape-factor"):
            row = replace(row, value=Decimal(1), low=None, high=None, distribution="fixed")
        elif row.parameter == "handling-loss":
            row = replace(row, value=Decimal(0), low=None, high=None, distribution="fixed")
        changed.append(row)
    return Evidence(tuple(changed), "ideal")


def burned_by(percent: Decimal, surface_m2: Decimal):
    """A burn of so much body surface on places that give skin; everything else is donor."""
    wounds, sites, left = [], [], percent
    for place, share in place_percentages(load_evidence(), 40.0).items():
        if not place.facts.gives_skin or place.region is Region.SCALP:
            continue
        burned = min(left, share)
        left -= burned
        percent_cm2 = surface_m2 * 100
        if burned > 0:
            wounds.append(BurnWound(f"{place.key}:full-thickness", place, Depth.FULL_THICKNESS, False,
                                    (burned * percent_cm2).quantize(Decimal("0.1"))))
        free = ((share - burned) * percent_cm2).quantize(Decimal("0.1"))
        if free > 0:
            sites.append(DonorSite(place.key, place, free, 1, (DonorParcel(free),)))
    scalp = next(p for p in all_places() if p.region is Region.SCALP)
    wanted = (Decimal(80 - 78) * surface_m2 * 100).quantize(Decimal("0.1"))  # donors add up to 80 %
    sites.append(DonorSite(scalp.key, scalp, wanted, 1, (DonorParcel(wanted),)))
    return tuple(wounds), tuple(sites)


@pytest.mark.parametrize(("percent", "closes"), [("39.5", True), ("40", True), ("40.5", False)])
def test_single_harvest_limit_is_40_percent(percent, closes):
    """Den Hollander, Wound Heal South Afr 2020;13:22-26: with a fifth unusable, 40 %TBSA at 1:1."""
    surface = Decimal(2)
    wounds, sites = burned_by(Decimal(percent), surface)
    endless = SessionLimits(Decimal(20000), Decimal(20000), Decimal(100000), 100000, 1, 2)
    case = grafting_case(wounds, sites, body_surface_m2=surface, limits=endless, horizon_day=1,
                         request=plan_request(methods_available=frozenset({GraftMethod.MESHED_1_1})))
    plan = plan_by_rule_of_thumb(case, ideal_evidence(), unlimited_preferences())
    assert (plan.open_cm2 == 0) is closes
