"""From the chart and the record to the skin that can be harvested."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.assessment.areas import supply_cm2
from service.assessment.wounds import extent_percent_tbsa
from service.domain.body_region import Place, Region, all_places
from service.domain.burn_wound import ZERO, BurnExtent, Depth
from service.domain.case import BurnRecord, SkinLimitAge
from service.domain.donor_site import DonorParcel, DonorSite, DonorState, DonorStateRecord, HarvestRecord
from service.domain.finding import Finding, Severity
from service.domain.graft import Thickness
from service.evidence.donor_healing import healing_days
from service.evidence.library import Evidence
from service.preferences.library import Preferences


@dataclass(frozen=True)
class DonorContext:
    """What every site needs to know about the patient."""

    record: BurnRecord
    place_percent: dict[Place, Decimal]
    surface_m2: Decimal
    day_of: Callable[[date], int]
    injury_day: int
    band: SkinLimitAge
    evidence: Evidence
    preferences: Preferences


def _extents_on(context: DonorContext, place: Place, *depths: Depth) -> list[BurnExtent]:
    return [e for e in context.record.extents if e.place == place and e.depth in depths]


def _percent(context: DonorContext, extents: list[BurnExtent]) -> Decimal:
    return sum((extent_percent_tbsa(e, context.place_percent) for e in extents), ZERO)


def _latest_state(context: DonorContext, place: Place) -> DonorStateRecord | None:
    states = [s for s in context.record.donor_states if s.place == place]
    return max(states, key=lambda s: (s.observed, s.source), default=None)


def _usable_share(context: DonorContext, place: Place, state: DonorStateRecord | None) -> Decimal:
    if state is not None and state.usable_share is not None:
        return state.usable_share
    if context.evidence.has("usable-share", place.region):
        return context.evidence.value("usable-share", place.region)
    return 1 - context.evidence.value("not-harvestable-share")


def thickness_class(thickness_mm: Decimal | None, evidence: Evidence) -> Thickness:
    """Class of a recorded thickness; not recorded is read as thick, which heals slowest."""
    if thickness_mm is None:
        return Thickness.THICK
    for thickness in (Thickness.THIN, Thickness.MEDIUM):
        if thickness_mm <= evidence.row("thickness-mm", thickness).high:
            return thickness
    return Thickness.THICK


def _later_parcels(context: DonorContext, place: Place, share: Decimal) -> list[DonorParcel]:
    """Skin that is burned but will heal by itself, or is only red: a donor later, never a burned scalp."""
    parcels = []
    for depth in (Depth.SUPERFICIAL, Depth.SUPERFICIAL_PARTIAL):
        area = supply_cm2(_percent(context, _extents_on(context, place, depth)) * share * context.surface_m2 * 100)
        burned_scalp = place.region is Region.SCALP and depth is Depth.SUPERFICIAL_PARTIAL
        if area > 0 and not burned_scalp:
            row = context.evidence.row("self-closure-days", depth)
            margin = context.evidence.value("donor-after-burn-margin-days")
            parcels.append(DonorParcel(area, healed_recorded=False,
                                       healed_day=context.injury_day + int(row.high + margin)))
    return parcels


def _book_harvest(context: DonorContext, parcels: list[DonorParcel], harvest: HarvestRecord,
                  state: DonorStateRecord | None) -> list[DonorParcel]:
    """Move harvested skin to a parcel with one harvest more.

    Skin that can have been healed on the day comes first, of it the least harvested.
    """
    day = context.day_of(harvest.day)

    def order(parcel: DonorParcel) -> tuple[bool, int, int]:
        untouched = parcel.harvested_day is None and parcel.healed_recorded
        can_have_healed = untouched or parcel.healed_day <= day
        return not can_have_healed, parcel.harvest_count, day if parcel.harvested_day is None else parcel.harvested_day

    thickness = thickness_class(harvest.thickness_mm, context.evidence)
    seen_healed = state is not None and state.state is DonorState.HEALED and state.observed > harvest.day
    left, kept, moved = harvest.area_cm2, [], []
    for parcel in sorted(parcels, key=order):
        taken = min(left, parcel.area_cm2)
        left -= taken
        if parcel.area_cm2 > taken:
            kept.append(DonorParcel(parcel.area_cm2 - taken, parcel.harvest_count, parcel.harvested_day,
                                    parcel.healed_recorded, parcel.healed_day))
        if taken > 0:
            count = parcel.harvest_count + 1
            days = healing_days(context.evidence, harvest.place, thickness, context.band, count,
                                context.preferences.value("healing-quantile"))
            moved.append(DonorParcel(taken, count, day, seen_healed, day + days))
    return kept + moved


def _site(context: DonorContext, place: Place) -> DonorSite | None:
    state = _latest_state(context, place)
    if not place.facts.gives_skin or (state is not None and state.state is DonorState.EXCLUDED):
        return None
    if (place.region, place.side) in context.record.amputated:
        return None
    share = _usable_share(context, place, state)
    burned = _percent(context, _extents_on(context, place, *Depth))
    free_percent = max(ZERO, context.place_percent[place] - burned)
    area = supply_cm2(free_percent * share * context.surface_m2 * 100)
    harvests = sorted((h for h in context.record.harvests if h.place == place), key=lambda h: (h.day, h.source))
    held_back = state is not None and state.state is DonorState.HEALING and not harvests
    parcels = [DonorParcel(area, healed_recorded=not held_back)] if area > 0 else []
    parcels += _later_parcels(context, place, share)
    for harvest in harvests:
        parcels = _book_harvest(context, parcels, harvest, state)
    total = sum((p.area_cm2 for p in parcels), ZERO)
    if total <= 0:
        return None
    kind = "scalp" if place.region is Region.SCALP else "body"
    sources = tuple(h.source for h in harvests) + ((state.source,) if state else ())
    return DonorSite(place.key, place, total, int(context.evidence.value("harvests-allowed", kind)),
                     tuple(sorted(parcels, key=lambda p: (p.harvest_count, p.healed_day))), sources)


def assess_donor_sites(context: DonorContext) -> tuple[tuple[DonorSite, ...], tuple[Finding, ...]]:
    """Sites that hold skin, in body order, rounded down, with what the record leaves open.

    Potential surface from the chart, minus the burned share, minus what cannot be harvested;
    skin already taken becomes parcels that heal, counted by harvest.
    """
    sites = tuple(site for place in all_places() if (site := _site(context, place)) is not None)
    findings = []
    for site in sites:
        if site.place.region is Region.SCALP:
            findings.append(Finding("scalp-share-low-end", Severity.LOW, place=site.site_id))
        if any(p.harvest_count and not p.healed_recorded for p in site.parcels):
            findings.append(Finding("donor-healing-not-recorded", Severity.MODERATE, place=site.site_id,
                                    sources=site.sources))
    return sites, tuple(findings)
