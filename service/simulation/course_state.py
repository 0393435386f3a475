"""Where a block of simulated courses stands: what is open, grafted, lost, read, under cover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.domain.body_region import Position
from service.domain.graft import SkinClass
from service.simulation.course_book import NEVER, CourseBook
from service.simulation.donor_skin import DonorSkin
from service.simulation.scenarios import Scenarios

#: An area below the printable step is none. [cm²]
NOTHING_CM2 = 0.1
LONG_AGO = -NEVER
#: Streams of grafts of the record start here: no plan has so many sessions.
RECORDED = NEVER


@dataclass
class PlacedGraft:
    """A graft of one session, not read yet in some courses. Areas in cm², days from the as-of day."""

    line: int
    area_cm2: np.ndarray
    take: np.ndarray
    read_day: np.ndarray
    dressed_day: np.ndarray  # when a small loss has closed under dressings: as long after reading as its graft
    is_unread: np.ndarray


@dataclass
class StoredSkin:
    area_cm2: np.ndarray
    day: np.ndarray


def burn_factor(book: CourseBook, scenarios: Scenarios) -> np.ndarray:
    """Burn as it turns out, as a share of the burn as stated. [-]"""
    if not book.burn_percent_tbsa:
        return np.ones(scenarios.size)
    return scenarios.size_factor(book.burn_percent_tbsa)


def wound_scales(book: CourseBook, factor: np.ndarray) -> list[np.ndarray]:
    """Each wound as it turns out per wound as stated: what is excised has been seen, the rest is estimated."""
    return [
        (wound.bed_cm2 + (wound.area_cm2 - wound.bed_cm2) * factor) / wound.area_cm2
        if wound.area_cm2 else np.ones_like(factor)
        for wound in book.wounds
    ]


class CourseState:
    """Arrays with one entry for each course; by line of the book, wound or site where it says so."""

    def __init__(self, book: CourseBook, scenarios: Scenarios) -> None:
        self.book, self.scenarios = book, scenarios
        size = scenarios.size
        factor = burn_factor(book, scenarios)
        unburned = np.maximum(0.0, (100 - book.burn_percent_tbsa * factor)) / (100 - book.burn_percent_tbsa)
        self.scale = wound_scales(book, factor)
        self.skin = DonorSkin(book, scenarios, np.minimum(unburned, 1.0))
        lines, wounds = len(book.lines), len(book.wounds)
        self.grafted = np.zeros((lines, size))
        self.grafted_before = [0.0] * lines  # by the record, and not read yet
        self.regraft = np.zeros((lines, size))  # lost and to be grafted again
        self.dressed = np.zeros((lines, size))  # lost and left to dressings
        self.dressed_until = np.zeros((lines, size))
        self.bed = np.array([np.full(size, w.bed_cm2) for w in book.wounds]).reshape(wounds, size)
        self.ahead = np.zeros((wounds, size))  # bed that the course excised and has not grafted
        self.ahead_until = np.full((wounds, size), float(NEVER))
        self.cover_left = np.full(size, book.cover_stock_cm2)
        self.last_loaded = np.full((len(Position), size), float(LONG_AGO))
        self.stored: dict[SkinClass, StoredSkin] = {}
        self.placed: list[PlacedGraft] = []
        self.last_day = np.full(size, float(LONG_AGO))
        self.session_days: list[np.ndarray] = []  # infinite where the session is not held
        self.is_over = np.zeros(size, bool)  # nothing more can be done
        self.closed_day = np.zeros(size)
        self.failed_cm2 = np.zeros(size)
        self.surplus_cm2: list[np.ndarray] = []
        self.grafted_cm2: list[np.ndarray] = []  # first grafts and regrafts, by session
        self.cover_days = np.zeros(size)
        self.cover_lapsed = np.zeros(size, bool)
        self.held_up = np.zeros((len(book.sites), size), int)  # sessions that a site kept waiting or short
        self._place_unread()

    def _place_unread(self) -> None:
        """Grafts of the record that nobody has read: their take is drawn like that of any other."""
        for number, graft in enumerate(self.book.unread):
            area = np.full(self.scenarios.size, graft.area_cm2)
            self.grafted_before[graft.line] += graft.area_cm2
            self.record_graft(RECORDED + number, graft.line, area, np.full(area.shape, float(graft.placed_day)))
        for wound in self.book.wounds:
            if wound.loaded is not None and wound.loaded_since is not None:
                np.maximum(self.last_loaded[wound.loaded], wound.loaded_since, out=self.last_loaded[wound.loaded])

    def record_graft(self, session: int, line: int, area: np.ndarray, day: np.ndarray) -> None:
        """A graft lies; its take will be read, and what has taken will close."""
        facts = self.book.lines[line]
        is_colonised = self.book.wounds[facts.wound].is_colonised
        take = self.scenarios.take(session, line, facts.method.kind, is_colonised=is_colonised)
        days = self.scenarios.closure_days(session, line, facts.method)
        read_day = day + self.book.read_days[facts.method.kind]
        self.placed.append(PlacedGraft(line, area, take, read_day, read_day + days, area > 0))
        np.maximum(self.closed_day, np.where(area > 0, day + days, 0), out=self.closed_day)

    def read_grafts(self, day: np.ndarray, is_active: np.ndarray) -> None:
        """Read what is due: small losses stay with dressings, the others are to be grafted again."""
        touched = set()
        for graft in self.placed:
            due = graft.is_unread & is_active & (graft.read_day <= day)
            if not due.any():
                continue
            lost_share = 1 - graft.take
            lost = np.where(due, graft.area_cm2 * lost_share, 0)
            graft.is_unread &= ~due
            self.failed_cm2 += lost
            self.dressed[graft.line] += lost
            is_gap = due & (lost_share > self.book.limits.regraft_fraction)
            np.maximum(self.dressed_until[graft.line], np.where(is_gap, graft.dressed_day, 0),
                       out=self.dressed_until[graft.line])
            touched.add(self.book.wounds[self.book.lines[graft.line].wound].region_key)
        self.placed = [graft for graft in self.placed if graft.is_unread.any()]
        for region_key in sorted(touched):
            self._decide_regraft(region_key)

    def _decide_regraft(self, region_key: str) -> None:
        """A region's losses are grafted again from a share of body surface and a share of its grafts on."""
        limits = self.book.limits
        lines = self.book.lines_of_region(region_key)
        lost, grafted = self.dressed[lines].sum(axis=0), self.grafted[lines].sum(axis=0)
        grafted = grafted + sum(self.grafted_before[line] for line in lines)
        again = (lost >= limits.regraft_cm2) & (lost >= limits.regraft_fraction * grafted)
        for line in lines:
            self.regraft[line] += np.where(again, self.dressed[line], 0)
            self.dressed[line][again] = 0
            self.dressed_until[line][again] = 0

    def due(self, line: int, sessions_held: int) -> np.ndarray:
        """First grafts of a line that the plan has reached and nobody has placed yet. [cm²]"""
        facts = self.book.lines[line]
        planned = sum(facts.planned_cm2[:sessions_held])
        if sessions_held > len(facts.planned_cm2):
            planned += facts.later_cm2
        return np.maximum(0.0, planned * self.scale[facts.wound] - self.grafted[line])

    def wanted(self, sessions_held: int) -> np.ndarray:
        """Everything to graft when so many sessions of the plan have begun, in cm² by course."""
        total = self.regraft.sum(axis=0)
        for line in range(len(self.book.lines)):
            total += self.due(line, sessions_held)
        return total

    def loaded_is_clear(self, wound: int, day: np.ndarray) -> np.ndarray:
        """Whether no recent graft would be lain on because of a graft on this wound."""
        loaded = self.book.wounds[wound].loaded
        if loaded is None:
            return np.ones(day.shape, bool)
        others = [self.last_loaded[i] for i in range(len(Position)) if i != loaded]
        return np.all([day >= other + self.book.limits.protect_days for other in others], axis=0)
