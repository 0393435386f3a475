"""The donor reserve while a course is planned: what is usable on a day, and taking from it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from service.domain.body_region import Place, Position, Region
from service.domain.donor_site import DonorSite, Harvest
from service.domain.graft import Thickness
from service.planning.quantities import PlanningQuantities, cm2, tenths


@dataclass
class _Parcel:
    """Skin with one history; ``free_day`` is the first day on which it may be harvested."""

    area: int
    harvest_count: int
    free_day: int
    is_recorded: bool  # healed by the record, not by expectation


def _is_free(parcel: _Parcel, day: int, is_first_session: bool) -> bool:
    return parcel.free_day <= day and (parcel.is_recorded or not is_first_session)


@dataclass(frozen=True)
class HarvestPart:
    """Skin taken from one site with one harvest number. Area in tenths of a cm²."""

    site: DonorSite
    area: int
    harvest_number: int


@dataclass(frozen=True)
class StartingParcel:
    """Skin of a site with one history. Area in tenths of a cm²; ``kept_for`` a region or free."""

    site: DonorSite
    area: int
    harvest_count: int
    free_day: int
    is_recorded: bool
    kept_for: Region | None = None


@dataclass(frozen=True)
class UsableSkin:
    """Skin that one session can take, by site and in all, in tenths of a cm²."""

    by_site: dict[str, int]
    above_clavicle: int
    below_clavicle: int


class DonorReserve:
    """Mutable reserve of all sites; first healed is first harvested."""

    def __init__(self, quantities: PlanningQuantities) -> None:
        self.quantities = quantities
        self.sites = quantities.case.donor_sites
        self._parcels = {
            site.site_id: [
                _Parcel(tenths(p.area_cm2), p.harvest_count, 0 if p.healed_recorded else p.healed_day,
                        p.healed_recorded)
                for p in site.parcels if p.harvest_count < site.harvests_allowed
            ]
            for site in self.sites
        }
        self._kept: dict[Region, list[tuple[DonorSite, _Parcel]]] = {}
        self._smallest = {s.site_id: min(quantities.smallest_harvest, tenths(s.area_cm2)) for s in self.sites}
        self._usable_on: dict[tuple[int, bool], dict[str, int]] = {}  # until skin is taken or freed
        self._usable_from: dict[tuple, UsableSkin] = {}

    def keep(self, region: Region, area: int) -> None:
        """Set never-harvested skin aside for grafts on a region, in tenths of a cm².

        For the face from above the clavicle if there is any; else from the largest sites.
        """
        from_above = [s for s in self.sites if s.above_clavicle] if region is Region.FACE else []
        self._forget_usable()
        for site in sorted(from_above or self.sites, key=lambda s: (-s.area_cm2, s.site_id)):
            fresh = [p for p in self._parcels[site.site_id] if p.harvest_count == 0 and p.area > 0]
            for parcel in sorted(fresh, key=lambda p: p.free_day):
                part = min(area, parcel.area)
                if part > 0:
                    area -= part
                    parcel.area -= part
                    self._kept.setdefault(region, []).append((site, replace(parcel, area=part)))

    def kept(self, region: Region, day: int, is_first_session: bool) -> list[tuple[DonorSite, int]]:
        """Skin kept for a region that may be harvested on a day, in tenths of a cm²."""
        return [(site, p.area) for site, p in self._kept.get(region, []) if _is_free(p, day, is_first_session)]

    def release_kept(self, region: Region, freed: dict[str, int], day: int, is_first_session: bool) -> None:
        """Return kept skin to the usable parcels: so much of each site, in tenths of a cm²."""
        self._forget_usable()
        left = dict(freed)
        for site, parcel in self._kept.get(region, []):
            part = min(left.get(site.site_id, 0), parcel.area) if _is_free(parcel, day, is_first_session) else 0
            if part > 0:
                left[site.site_id] -= part
                parcel.area -= part
                self._parcels[site.site_id].append(replace(parcel, area=part))

    def starting_parcels(self) -> list[StartingParcel]:
        """Skin of every site as it lies now, what is kept for a region apart."""
        free = [StartingParcel(site, p.area, p.harvest_count, p.free_day, p.is_recorded)
                for site in self.sites for p in self._parcels[site.site_id] if p.area > 0]
        kept = [StartingParcel(site, p.area, p.harvest_count, p.free_day, p.is_recorded, region)
                for region, parcels in self._kept.items() for site, p in parcels if p.area > 0]
        return free + kept

    def _usable(self, site: DonorSite, day: int, is_first_session: bool) -> list[_Parcel]:
        """Parcels that may be harvested; in the first session only by record."""
        return [p for p in self._parcels[site.site_id]
                if p.area > 0 and _is_free(p, day, is_first_session)]

    def usable(self, day: int, is_first_session: bool) -> dict[str, int]:
        """Usable skin by site in tenths of a cm²; crumbs below the smallest harvest count as none."""
        key = (day, is_first_session)
        if key not in self._usable_on:
            areas = {s.site_id: sum(p.area for p in self._usable(s, day, is_first_session)) for s in self.sites}
            self._usable_on[key] = {i: area if area >= self._smallest[i] else 0 for i, area in areas.items()}
        return self._usable_on[key]

    def usable_from(self, day: int, is_first_session: bool, positions: tuple[Position, ...]) -> UsableSkin:
        """Usable skin of the sites that are reached from the positions."""
        key = (day, is_first_session, positions)
        if key not in self._usable_from:
            usable = self.usable(day, is_first_session)
            reached = [s for s in self.sites if reachable(s.place, positions)]
            self._usable_from[key] = UsableSkin(
                {s.site_id: usable[s.site_id] for s in reached},
                sum(usable[s.site_id] for s in reached if s.above_clavicle),
                sum(usable[s.site_id] for s in reached if not s.above_clavicle))
        return self._usable_from[key]

    def _forget_usable(self) -> None:
        self._usable_on.clear()
        self._usable_from.clear()

    def smallest_of(self, site: DonorSite) -> int:
        return self._smallest[site.site_id]

    def take(self, site: DonorSite, day: int, area: int, thickness: Thickness,
             is_first_session: bool) -> list[HarvestPart]:
        """Harvest an area that ``usable`` allows, first healed first; the skin heals from that day."""
        self._forget_usable()
        parts: dict[int, int] = {}
        parcels = self._parcels[site.site_id]
        smallest = self.smallest_of(site)  # crumbs of skin last, so that a harvest stays in one piece
        usable = sorted(self._usable(site, day, is_first_session),
                        key=lambda p: (p.area < smallest, p.free_day, p.harvest_count))
        for parcel in usable:
            taken = min(area, parcel.area)
            if taken == 0:
                break
            area -= taken
            parcel.area -= taken
            number = parcel.harvest_count + 1
            parts[number] = parts.get(number, 0) + taken
        for number, taken in parts.items():
            if number < site.harvests_allowed:
                days = self.quantities.healing_days(site.place, thickness, number)
                parcels.append(_Parcel(taken, number, day + days, False))
        return [HarvestPart(site, taken, number) for number, taken in sorted(parts.items())]

    def parcels_of(self, site: DonorSite) -> list[tuple[int, int, int, bool]]:
        """Skin of a site not kept for a use: area in tenths of a cm², harvest count, free day, healed by record."""
        return [(p.area, p.harvest_count, p.free_day, p.is_recorded) for p in self._parcels[site.site_id]]

    def next_release(self, day: int) -> int | None:
        """The next day after ``day`` on which more skin becomes usable."""
        days = [p.free_day for parcels in self._parcels.values() for p in parcels if p.area > 0 and p.free_day > day]
        return min(days, default=None)


def reachable(place: Place, positions: tuple[Position, ...]) -> bool:
    return not place.reached.isdisjoint(positions)


def harvest_act(part: HarvestPart, day: int, thickness: Thickness) -> Harvest:
    return Harvest(day, part.site.site_id, thickness, cm2(part.area), part.harvest_number)
