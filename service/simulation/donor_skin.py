"""Donor skin of a block of simulated courses: what has healed, what is taken, what heals again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.domain.body_region import Region
from service.domain.graft import Thickness
from service.simulation.course_book import BookSite, CourseBook
from service.simulation.scenarios import Scenarios

_HAIR = 1e-9  # what floating-point sums may be too small by. [cm²]


@dataclass
class Parcel:
    """Skin of a site with one history. Area in cm² and first free day, one each for every course."""

    area_cm2: np.ndarray
    free_day: np.ndarray
    harvest_count: int
    is_recorded: bool  # healed by the record, which is what counts in the first session
    kept_for: Region | None = None


@dataclass(frozen=True)
class HarvestMade:
    """Skin taken in one session from one parcel, in cm² for every course."""

    session: int
    site: int
    harvest_number: int
    day: np.ndarray
    free_day: np.ndarray
    area_cm2: np.ndarray


class DonorSkin:
    """Parcels of every site. What was harvested first is harvested again first."""

    def __init__(self, book: CourseBook, scenarios: Scenarios, unburned: np.ndarray) -> None:
        self.book, self.scenarios = book, scenarios
        self.parcels = [self._starting(index, site, unburned) for index, site in enumerate(book.sites)]
        self.made: list[HarvestMade] = []
        self._healing: dict[tuple, Parcel] = {}  # by site, session, thickness and number

    def _starting(self, index: int, site: BookSite, unburned: np.ndarray) -> list[Parcel]:
        """The recorded parcels; a burn larger than stated leaves less of the skin that is still whole."""
        return [
            Parcel(p.area_cm2 * (unburned if p.harvest_count == 0 else np.ones_like(unburned)),
                   self._first_free_day(index, site, p), p.harvest_count, p.is_recorded, p.kept_for)
            for p in site.parcels
        ]

    def _first_free_day(self, index: int, site: BookSite, parcel) -> np.ndarray:
        """Day of healing: by record at once, else about the planned day, as widely as such sites heal."""
        size = self.scenarios.size
        if parcel.is_recorded or parcel.harvest_count == 0:
            return np.full(size, float(parcel.free_day))
        drawn = self._healing_days(0, index, site, Thickness.THIN, parcel.harvest_count)
        return np.maximum(1.0, parcel.free_day - self.book.cautious_healing[index, parcel.harvest_count] + drawn)

    def _healing_days(self, session: int, index: int, site: BookSite, thickness: Thickness, number: int) -> np.ndarray:
        return self.scenarios.healing_days(session, index, site.place, thickness, self.book.age_band, number)

    def usable(self, site: int, day: np.ndarray, *, is_first: bool, region: Region | None = None) -> np.ndarray:
        """Skin of a site that may be harvested on a day, by record in the first session. [cm²]"""
        total = np.zeros(self.scenarios.size)
        for parcel in self._offered(site, is_first, region):
            total += parcel.area_cm2 * (parcel.free_day <= day)
        return total

    def all_of(self, site: int) -> np.ndarray:
        """Skin of a site that may be harvested now or once it has healed. [cm²]"""
        return sum((p.area_cm2 for p in self._offered(site, False, None)), np.zeros(self.scenarios.size))

    def _offered(self, site: int, is_first: bool, region: Region | None) -> list[Parcel]:
        return [p for p in self.parcels[site]
                if (p.is_recorded or not is_first) and (p.kept_for is None or p.kept_for is region)]

    def harvest(self, session: int, site: int, day: np.ndarray, wanted: np.ndarray, thickness: Thickness, *,
                is_first: bool, region: Region | None = None) -> np.ndarray:
        """Take up to the wanted area from what has healed; it heals again from that day. Returns what was taken."""
        left = wanted.copy()
        taken_by_number: dict[int, np.ndarray] = {}
        for parcel in self._offered(site, is_first, region):
            part = np.minimum(left, parcel.area_cm2) * (parcel.free_day <= day)
            if not part.any():
                continue
            parcel.area_cm2 -= part
            left -= part
            number = parcel.harvest_count + 1
            self.made.append(HarvestMade(session, site, number, day, parcel.free_day, part))
            taken_by_number[number] = taken_by_number.get(number, 0.0) + part
        for number, taken in sorted(taken_by_number.items()):
            self._let_heal(session, site, day, thickness, number, taken)
        return wanted - left

    def _let_heal(self, session: int, site: int, day: np.ndarray, thickness: Thickness, number: int,
                  taken: np.ndarray) -> None:
        facts = self.book.sites[site]
        if number == facts.harvests_allowed:
            return
        key = site, session, thickness, number
        if key in self._healing:  # more of the same wound
            self._healing[key].area_cm2 += taken
            return
        # Sessions count from 1 here, so that healing of the record has a stream of its own.
        days = self._healing_days(session + 1, site, facts, thickness, number)
        self._healing[key] = Parcel(taken, day + days, number, is_recorded=False)
        self.parcels[site].append(self._healing[key])

    def day_with(self, wanted: np.ndarray, from_day: np.ndarray, sites: list[int]) -> np.ndarray:
        """The first day with so much skin healed on the sites, or the day when the last of it heals.

        Infinite where there is no skin left at all.
        """
        parcels = [p for site in sites for p in self.parcels[site] if p.kept_for is None]
        if not parcels:
            return np.full(from_day.shape, np.inf)
        areas = np.stack([p.area_cm2 for p in parcels])
        days = np.where(areas > 0, np.stack([p.free_day for p in parcels]), np.inf)
        order = np.argsort(days, axis=0, kind="stable")
        days = np.take_along_axis(days, order, axis=0)
        healed = np.cumsum(np.take_along_axis(areas, order, axis=0), axis=0)
        is_enough = healed >= np.minimum(wanted, healed[-1]) - _HAIR
        first = np.argmax(is_enough, axis=0)
        day = np.take_along_axis(days, first[None], axis=0)[0]
        return np.where(healed[-1] > 0, np.maximum(day, from_day), np.inf)
