"""Rules of the donor sites: nothing before it has healed, nor too often, nor too little at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from service.domain.body_region import Region
from service.domain.case import KeepFor
from service.domain.donor_site import DonorParcel, DonorSite, Harvest
from service.domain.rule import Rule
from service.evidence.donor_healing import healing_days
from service.verification.exact import exact, total_area, total_skin
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def donor_regrowth(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ taken as harvest n up to a day ≤ skin harvested n − 1 times that has healed by that day."""
    rule = Rule.DONOR_REGROWTH
    for harvest in review.plan.harvests:
        site = review.sites.get(harvest.site_id)
        if site is None or _taken(review, harvest) > _healed(review, site, harvest):
            yield Violation(rule, harvest.site_id, harvest.day)


def _taken(review: PlanUnderReview, last: Harvest) -> Fraction:
    """Area taken from the same site under the same number up to the day of ``last``. [cm²]"""
    return total_area(
        h for h in review.plan.harvests
        if h.site_id == last.site_id and h.harvest_number == last.harvest_number and h.day <= last.day)


def _healed(review: PlanUnderReview, site: DonorSite, harvest: Harvest) -> Fraction:
    """Area of the site harvested once less than this harvest's number, healed on its day. [cm²]"""
    earlier_count = harvest.harvest_number - 1
    recorded = total_area(
        parcel for parcel in site.parcels
        if parcel.harvest_count == earlier_count and _is_available(review, parcel, harvest.day))
    if not 1 <= earlier_count <= site.harvests_allowed:
        return recorded
    planned = total_area(
        h for h in review.plan.harvests
        if h.site_id == site.site_id and h.harvest_number == earlier_count
        and _healed_day(review, site, h) <= harvest.day)
    return recorded + planned


def _is_available(review: PlanUnderReview, parcel: DonorParcel, day: int) -> bool:
    """Healed by record; by expectation only after the first session, never in it."""
    if parcel.healed_recorded:
        return True
    sessions = review.plan.firm_sessions or review.plan.sessions
    first_day = min((session.day for session in sessions), default=day)
    return day >= parcel.healed_day and day > first_day


def _healed_day(review: PlanUnderReview, site: DonorSite, harvest: Harvest) -> Fraction:
    probability = review.preferences.value("healing-quantile")
    days = healing_days(
        review.evidence, site.place, harvest.thickness, review.case.age_band,
        harvest.harvest_number, probability)
    return harvest.day + exact(days)


def donor_harvest_count(review: PlanUnderReview) -> Iterator[Violation]:
    """1 ≤ harvest number ≤ harvests allowed on the site."""
    for harvest in review.plan.harvests:
        site = review.sites.get(harvest.site_id)
        if site and not 1 <= harvest.harvest_number <= site.harvests_allowed:
            yield Violation(Rule.DONOR_HARVEST_COUNT, harvest.site_id, harvest.day)


def smallest_harvest(review: PlanUnderReview) -> Iterator[Violation]:
    """Σ harvested from a site on a day ≥ the smaller of the smallest harvest and the site."""
    smallest_cm2 = review.preference("smallest-harvest")
    by_site_and_day: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for harvest in review.plan.harvests:
        by_site_and_day[harvest.site_id, harvest.day] += exact(harvest.area_cm2)
    for (site_id, day), area_cm2 in by_site_and_day.items():
        site = review.sites.get(site_id)
        if site and area_cm2 < min(smallest_cm2, exact(site.area_cm2)):
            yield Violation(Rule.SMALLEST_HARVEST, site_id, day)


def keep_for(review: PlanUnderReview) -> Iterator[Violation]:
    """Skin never harvested that the plan leaves ≥ area kept for a region − skin placed on it already.

    No more can be kept than there is, and a region with nothing left open has had its use.
    """
    for kept in review.case.request.keep_for:
        wounds = [wound for wound in review.case.wounds if wound.place.region is kept.region]
        if wounds and not any(review.is_still_open(wound.wound_id) for wound in wounds):
            continue
        placed = total_skin(p for wound in wounds for p in review.placements_on[wound.wound_id])
        supply = _never_harvested(_eligible(review, kept))
        required = min(exact(kept.area_cm2), supply) - placed
        if supply - _taken_first(review, kept) < max(required, 0):
            yield Violation(Rule.KEEP_FOR, str(kept.region))


def _eligible(review: PlanUnderReview, kept: KeepFor) -> dict[str, DonorSite]:
    """Sites that may serve the region: for the face those above the clavicle, if there are any."""
    sites = review.case.donor_sites
    above = [site for site in sites if site.above_clavicle]
    return {site.site_id: site for site in (above if kept.region is Region.FACE and above else sites)}


def _never_harvested(sites: dict[str, DonorSite]) -> Fraction:
    return total_area(p for site in sites.values() for p in site.parcels if p.harvest_count == 0)


def _taken_first(review: PlanUnderReview, kept: KeepFor) -> Fraction:
    """Area that the plan takes as first harvest from the sites that may serve the region. [cm²]"""
    sites = _eligible(review, kept)
    return total_area(h for h in review.plan.harvests if h.site_id in sites and h.harvest_number == 1)
