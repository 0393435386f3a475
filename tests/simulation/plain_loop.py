"""One simulated course at a time, in plain Python: the reference that the arrays must agree with.

Written from the rules, not from the arrays: one dictionary a course, one number at a time. It
reads the same draws, so that every course must come out the same.
"""

from __future__ import annotations

import math

from service.domain.body_region import Position
from service.domain.graft import SkinClass, Thickness
from service.planning.donor_reserve import reachable
from service.simulation.course_book import NEVER, BookSession, CourseBook
from service.simulation.play import MOST_FURTHER_SESSIONS
from service.simulation.scenarios import Scenarios
from tests.simulation.plain_session import HAIR, NOTHING, PlainSession


class PlainCourse:
    """The course with one number of the block."""

    def __init__(self, book: CourseBook, scenarios: Scenarios, course: int) -> None:
        self.book, self.scenarios, self.course = book, scenarios, course
        self.limits = book.limits
        factor = self.draw(scenarios.size_factor(book.burn_percent_tbsa)) if book.burn_percent_tbsa else 1.0
        unburned = min(1.0, max(0.0, 100 - book.burn_percent_tbsa * factor) / (100 - book.burn_percent_tbsa))
        self.scale = [
            (w.bed_cm2 + (w.area_cm2 - w.bed_cm2) * factor) / w.area_cm2 if w.area_cm2 else 1.0 for w in book.wounds]
        self.parcels = [[self.parcel(i, site, p, unburned) for p in site.parcels] for i, site in enumerate(book.sites)]
        lines, wounds = range(len(book.lines)), range(len(book.wounds))
        self.grafted, self.regraft = dict.fromkeys(lines, 0.0), dict.fromkeys(lines, 0.0)
        self.dressed, self.dressed_until = dict.fromkeys(lines, 0.0), dict.fromkeys(lines, 0.0)
        self.before = dict.fromkeys(lines, 0.0)
        self.bed = {w: book.wounds[w].bed_cm2 for w in wounds}
        self.ahead, self.ahead_until = dict.fromkeys(wounds, 0.0), dict.fromkeys(wounds, float(NEVER))
        self.cover = book.cover_stock_cm2
        self.loaded = dict.fromkeys(range(len(Position)), float(-NEVER))
        self.stored: dict[SkinClass, tuple[float, float]] = {}
        self.unread: list[dict] = []
        self.last_day = float(-NEVER)
        self.days: list[float] = []
        self.closed_day = self.failed = self.cover_days = 0.0
        self.cover_lapsed = False
        self.held_up = dict.fromkeys(range(len(book.sites)), 0)
        for number, graft in enumerate(book.unread):
            self.before[graft.line] += graft.area_cm2
            self.record_graft(NEVER + number, graft.line, graft.area_cm2, graft.placed_day)
        for wound in book.wounds:
            if wound.loaded is not None and wound.loaded_since is not None:
                self.loaded[wound.loaded] = max(self.loaded[wound.loaded], wound.loaded_since)

    def draw(self, values) -> float:
        return float(values[self.course])

    def healing(self, session: int, index: int, thickness: Thickness, number: int) -> float:
        return self.draw(self.scenarios.healing_days(
            session, index, self.book.sites[index].place, thickness, self.book.age_band, number))

    def parcel(self, index: int, site, p, unburned: float) -> dict:
        day = float(p.free_day)
        if p.harvest_count and not p.is_recorded:
            usual = self.book.cautious_healing[index, p.harvest_count]
            day = max(1.0, p.free_day - usual + self.healing(0, index, Thickness.THIN, p.harvest_count))
        area = p.area_cm2 if p.harvest_count else p.area_cm2 * unburned
        return {"area": area, "day": day, "count": p.harvest_count, "recorded": p.is_recorded,
                "kept": p.kept_for, "key": None}

    def record_graft(self, session: int, line: int, area: float, day: float) -> None:
        if area <= 0:
            return
        facts = self.book.lines[line]
        colonised = self.book.wounds[facts.wound].is_colonised
        take = self.draw(self.scenarios.take(session, line, facts.method.kind, is_colonised=colonised))
        days = self.draw(self.scenarios.closure_days(session, line, facts.method))
        read = day + self.book.read_days[facts.method.kind]
        self.unread.append({"line": line, "area": area, "take": take, "read": read, "dressed": read + days})
        self.closed_day = max(self.closed_day, day + days)

    def read(self, day: float) -> None:
        touched = set()
        for graft in [g for g in self.unread if g["read"] <= day]:
            self.unread.remove(graft)
            lost = graft["area"] * (1 - graft["take"])
            self.failed += lost
            self.dressed[graft["line"]] += lost
            if 1 - graft["take"] > self.limits.regraft_fraction:
                self.dressed_until[graft["line"]] = max(self.dressed_until[graft["line"]], graft["dressed"])
            touched.add(self.book.wounds[self.book.lines[graft["line"]].wound].region_key)
        for region in touched:
            lines = [i for i, x in enumerate(self.book.lines) if self.book.wounds[x.wound].region_key == region]
            lost = sum(self.dressed[i] for i in lines)
            grafted = sum(self.grafted[i] + self.before[i] for i in lines)
            if lost >= self.limits.regraft_cm2 and lost >= self.limits.regraft_fraction * grafted:
                for i in lines:
                    self.regraft[i] += self.dressed[i]
                    self.dressed[i] = self.dressed_until[i] = 0.0

    def due(self, line: int, held: int) -> float:
        facts = self.book.lines[line]
        planned = sum(facts.planned_cm2[:held]) + (facts.later_cm2 if held > len(facts.planned_cm2) else 0)
        return max(0.0, planned * self.scale[facts.wound] - self.grafted[line])

    def wanted(self, held: int) -> float:
        return sum(self.due(i, held) + self.regraft[i] for i in range(len(self.book.lines)))

    def theatre_day(self, earliest: float, positions: int) -> float:
        return float(self.book.theatre_days[positions][int(min(max(earliest, 0), self.book.horizon_day + 1))])

    # Playing

    def play(self) -> PlainCourse:
        for number, session in enumerate(self.book.sessions):
            positions = len(session.positions)
            day = self.theatre_day(max(session.day, self.last_day + self.limits.rest_days), positions)
            if not session.is_decided and number and self.wanted(number + 1) >= NOTHING and day < NEVER:
                day = self.wait(session, day, positions)
            self.hold(number, session.positions, day, session, day < NEVER)
        for further in range(MOST_FURTHER_SESSIONS):
            if not self.go_on(len(self.book.sessions) + further):
                break
        self.finish()
        return self

    def wait(self, session: BookSession, day: float, positions: int) -> float:
        short = self.short_sites(session, day)
        for site in short:
            self.held_up[site] += 1
        if not short:
            return day
        ends = min([NEVER, *(self.ahead_until[w] for w in self.ahead if self.ahead[w] > 0)])
        for later in range(1, self.limits.longest_wait_days + 1):
            new = self.theatre_day(day + later, positions)
            if new <= min(day + self.limits.longest_wait_days, ends) and not self.short_sites(session, new):
                return new
        return day

    def short_sites(self, session: BookSession, day: float) -> list[int]:
        short = []
        for site, _, area in session.harvests:
            whole = sum(p["area"] for p in self.parcels[site] if p["kept"] is None)
            if self.usable(site, day, first=False, region=None) < min(area, whole) - NOTHING:
                short.append(site)
        return short

    def offered(self, site: int, first: bool, region) -> list[dict]:
        return [p for p in self.parcels[site]
                if (p["recorded"] or not first) and (p["kept"] is None or p["kept"] is region)]

    def usable(self, site: int, day: float, *, first: bool, region) -> float:
        return sum(p["area"] for p in self.offered(site, first, region) if p["day"] <= day)

    def needs_more(self, number: int) -> bool:
        lost = sum(self.dressed.values()) + sum(g["area"] * (1 - g["take"]) for g in self.unread)
        return self.wanted(number + 1) >= NOTHING or lost >= self.limits.regraft_cm2

    def go_on(self, number: int) -> bool:
        if not self.needs_more(number):
            return False
        earliest = max([self.last_day + self.limits.rest_days, self.book.first_session_day,
                        *(g["read"] for g in self.unread)])
        if earliest <= self.book.horizon_day:
            self.read(earliest)
        both = self.book.positions_allowed > 1
        positions = tuple(Position) if both else (tuple(Position)[number % len(Position)],)
        kept = self.draw(self.scenarios.kept_fraction)
        day = min(self.day_with_skin(number, positions, above, kept, earliest) for above in (False, True))
        day = self.theatre_day(min(day, NEVER), len(positions))
        self.hold(number, positions, day, None, self.wanted(number + 1) >= NOTHING and day < NEVER)
        return self.days[-1] < math.inf or (not both and not number % len(Position))

    def day_with_skin(self, number, positions, above: bool, kept: float, earliest: float) -> float:
        need = sum((self.due(i, number + 1) + self.regraft[i]) / x.cautious_coverage
                   for i, x in enumerate(self.book.lines) if x.class_in(number).above_clavicle == above) / kept
        parcels = sorted((p["day"], p["area"]) for i, site in enumerate(self.book.sites)
                         if reachable(site.place, positions) and site.above_clavicle == above
                         for p in self.parcels[i] if p["kept"] is None)
        healed, whole = 0.0, sum(area for _, area in parcels)
        for free, area in parcels if need > 0 else ():
            healed += area
            if area > 0 and healed >= min(need, whole) - HAIR:
                return max(free, earliest)
        return math.inf

    def hold(self, number, positions, day, session, active) -> None:
        if not active:
            self.days.append(math.inf)
            return
        self.read(day)
        self.count_cover(day)
        held = PlainSession(self, number, positions, day, session).hold()
        self.days.append(day if held else math.inf)
        self.last_day = day if held else self.last_day

    def count_cover(self, day: float) -> None:
        under = [w for w in self.ahead if self.ahead[w] > 0]
        if under:
            self.cover_days += day - max(self.last_day, 0)
            self.cover_lapsed = self.cover_lapsed or any(self.ahead_until[w] < day for w in under)

    def finish(self) -> None:
        self.read(NEVER)
        self.count_cover(self.book.horizon_day)
        ungrafted = sum(
            max(0.0, w.area_cm2 * self.scale[i] - sum(self.grafted[n] for n, x in enumerate(self.book.lines)
                                                      if x.wound == i)) for i, w in enumerate(self.book.wounds))
        self.open = ungrafted + sum(self.regraft.values())
        if self.open >= NOTHING * max(1, len(self.book.lines)):
            self.closed_day = math.inf
        else:
            self.open = 0.0
            self.closed_day = max([self.closed_day, *(self.dressed_until[i] for i in self.dressed
                                                      if self.dressed[i] > 0)])
