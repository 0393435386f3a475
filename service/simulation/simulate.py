"""Simulate a settled plan: play it many times and say how its quantities spread.

The seed is the same for every patient unless the caller sets one. Plans of the same patient
then meet the same draws, so that a difference between two plans is a difference of the plans;
and the order of entries in a request changes nothing.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

import numpy as np

from service.domain.case import GraftingCase
from service.domain.forecast import CourseForecast, GraftForecast, SessionForecast, SiteForecast, Spread
from service.domain.graft import Thickness
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.planning.quantities import PlanningQuantities
from service.preferences.library import Preferences
from service.simulation.course_book import CourseBook, write_book
from service.simulation.course_state import burn_factor, wound_scales
from service.simulation.draws import Draws, blocks_of
from service.simulation.play import PlayedCourses, play_plan
from service.simulation.scenarios import Parameters, Scenarios
from service.simulation.skin_need import LineNeed, harvest_needs, needs_of_lines, planned_harvests

DEFAULT_SEED = 1
_WHOLE, _HUNDREDTH = Decimal(1), Decimal(1) / 100
_HAIR = 1e-9  # what floating-point sums may be too large by


@dataclass(frozen=True)
class SessionNeed:
    """Harvest that a firm session needs, by course: in all, by site and thickness, by graft. [cm²]"""

    total: np.ndarray
    covers: np.ndarray  # the planned harvest of every class suffices
    by_site: dict[tuple[int, Thickness], np.ndarray]
    lines: tuple[LineNeed, ...]


@dataclass(frozen=True)
class SimulatedPlan:
    played: PlayedCourses
    needs: tuple[SessionNeed, ...]


def simulate_book(book: CourseBook, evidence: Evidence, *, seed: int, count: int,
                  parameters: Parameters = Parameters.RANGES, threads: int = 1) -> SimulatedPlan:
    """Play a book in so many courses; the same courses whatever the number of threads."""

    def play_block(block: tuple[int, int]) -> SimulatedPlan:
        scenarios = Scenarios(evidence, Draws(seed, *block), parameters)
        needs = tuple(_session_need(book, scenarios, number) for number in range(len(book.sessions)))
        return SimulatedPlan(play_plan(book, scenarios), needs)

    if threads == 1:
        parts = [play_block(block) for block in blocks_of(count)]
    else:
        with ThreadPoolExecutor(threads) as pool:
            parts = list(pool.map(play_block, blocks_of(count)))
    return SimulatedPlan(join_played([p.played for p in parts]), _join_needs([p.needs for p in parts]))


def _session_need(book: CourseBook, scenarios: Scenarios, number: int) -> SessionNeed:
    lines = needs_of_lines(book, scenarios, wound_scales(book, burn_factor(book, scenarios)), number)
    needed, planned = harvest_needs(book, scenarios, lines), planned_harvests(book, number)
    zero = np.zeros(scenarios.size)
    covers, by_site = zero == 0, {}
    for skin_class, need in needed.items():
        sites = planned.get(skin_class, [])
        whole = sum(area for _, area in sites)
        covers = covers & (need <= whole)
        for site, area in sites:
            by_site[site, skin_class.thickness] = need * (area / whole)
    return SessionNeed(sum(needed.values(), zero), covers, by_site, tuple(lines))


def join_played(parts: list[PlayedCourses]) -> PlayedCourses:
    """Blocks of courses as one; sessions that a block did not hold are infinite there."""
    if len(parts) == 1:
        return parts[0]
    joined = {}
    for field in fields(PlayedCourses):
        values = [getattr(part, field.name) for part in parts]
        if field.name == "harvests":
            joined[field.name] = tuple(made for value in values for made in value)
        elif field.name == "harvested_cm2":
            joined[field.name] = _join_harvested(values, [part.closed_day.size for part in parts])
        else:
            filler = np.inf if field.name == "session_days" else 0
            joined[field.name] = np.concatenate(_padded(values, filler), axis=-1)
    return PlayedCourses(**joined)


def _padded(values: list[np.ndarray], filler: float) -> list[np.ndarray]:
    rows = max(value.shape[0] for value in values)
    return [value if value.ndim == 1 else np.concatenate(
        [value, np.full((rows - value.shape[0], value.shape[1]), filler)]) for value in values]


def _join_harvested(values: list[dict], sizes: list[int]) -> dict:
    keys = sorted({key for value in values for key in value})
    return {key: np.concatenate([value.get(key, np.zeros(size)) for value, size in zip(values, sizes, strict=True)])
            for key in keys}


def _join_needs(parts: list[tuple[SessionNeed, ...]]) -> tuple[SessionNeed, ...]:
    joined = []
    for same in zip(*parts, strict=True):
        joined.append(SessionNeed(
            np.concatenate([n.total for n in same]), np.concatenate([n.covers for n in same]),
            {key: np.concatenate([n.by_site[key] for n in same]) for key in same[0].by_site},
            tuple(_join_lines(lines) for lines in zip(*(n.lines for n in same), strict=True))))
    return tuple(joined)


def _join_lines(parts: tuple[LineNeed, ...]) -> LineNeed:
    first = parts[0]
    plates = None if first.plates is None else np.concatenate([p.plates for p in parts])
    return LineNeed(first.line, np.concatenate([p.skin_cm2 for p in parts]), plates)


def forecast_plan(case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences, *,
                  seed: int = DEFAULT_SEED) -> CourseForecast:
    """Low, median and high of what the plan needs and of what becomes of it.

    Parameters
    ----------
    case, plan
        A verified plan and its case.
    evidence : Evidence
        Distributions to draw from; a patient's own where some have been learnt.
    preferences : Preferences
        ``simulated-courses``, ``interval-share``, ``wanted-chance``.
    seed : int
        The same seed gives the same forecast.
    """
    book = write_book(PlanningQuantities(case, evidence, preferences), plan)
    simulated = simulate_book(book, evidence, seed=seed, count=preferences.integer("simulated-courses"))
    return _Summary(book, plan, preferences, seed).write(simulated)


class _Summary:
    def __init__(self, book: CourseBook, plan: SettledPlan, preferences: Preferences, seed: int) -> None:
        self.book, self.plan, self.seed = book, plan, seed
        self.share = preferences.value("interval-share")
        self.wanted = preferences.value("wanted-chance")

    def write(self, simulated: SimulatedPlan) -> CourseForecast:
        played, firm = simulated.played, len(self.book.sessions)
        beyond = np.maximum(0, played.sessions_count - firm)
        site, chance = self._bottleneck(played)
        return CourseForecast(
            courses_count=played.closed_day.size,
            seed=self.seed,
            interval_share=self.share,
            wanted_fraction=self.wanted,
            sessions=self.spread(played.sessions_count),
            closure_day=self.spread(played.closed_day),
            closed_fraction=chance_of(np.isfinite(played.closed_day), ROUND_FLOOR),
            failed_cm2=self.spread(played.failed_cm2),
            cover_days=self.spread(played.cover_days),
            cover_lapse_fraction=chance_of(played.cover_lapsed, ROUND_CEILING),
            further_fractions=tuple(chance_of(beyond >= i, ROUND_CEILING) for i in range(1, int(beyond.max()) + 1)),
            session_forecasts=tuple(
                self._session(number, need, played) for number, need in enumerate(simulated.needs)),
            bottleneck_site_id=site,
            bottleneck_fraction=chance,
        )

    def _session(self, number: int, need: SessionNeed, played: PlayedCourses) -> SessionForecast:
        planned = sum(area for _, _, area in self.book.sessions[number].harvests)
        short, over = need.total[~need.covers] - planned, planned - need.total[need.covers]
        return SessionForecast(
            ordinal=self.plan.firm_sessions[number].ordinal,
            harvest_cm2=Decimal(repr(round(planned, 1))),
            needed=self.spread(need.total),
            covers_fraction=chance_of(need.covers, ROUND_FLOOR),
            harvest_for_wanted_cm2=quantile(need.total, float(self.wanted)) or Decimal(0),
            too_much_cm2=self._middle(over),
            too_little_cm2=self._middle(short),
            by_site=tuple(SiteForecast(self.book.sites[site].site_id, thickness, self.spread(area))
                          for (site, thickness), area in sorted(need.by_site.items())),
            by_graft=tuple(map(self._graft, need.lines)),
            day=self.spread(played.session_days[number]),
        )

    def _graft(self, need: LineNeed) -> GraftForecast:
        plates = None if need.plates is None else self.spread(need.plates)
        wound_id = self.book.wounds[need.line.wound].wound_id
        return GraftForecast(wound_id, need.line.method, need.line.skin_class, self.spread(need.skin_cm2), plates)

    @staticmethod
    def _middle(values: np.ndarray) -> Decimal:
        """Median of what is left over or missing; nothing where that happens in no course. [cm²]"""
        return (quantile(values, 1 / 2) or Decimal(0)) if values.size else Decimal(0)

    def _bottleneck(self, played: PlayedCourses) -> tuple[str | None, Decimal]:
        """The site that sessions most often waited for because it had not healed."""
        waited = played.held_up > 0
        if not waited.any():
            return None, Decimal(0)
        site = int(np.argmax(waited.sum(axis=1)))
        return self.book.sites[site].site_id, chance_of(waited[site], ROUND_CEILING)

    def spread(self, values: np.ndarray) -> Spread:
        outside = (1 - float(self.share)) / 2
        return Spread(*(quantile(values, p) for p in (outside, 1 / 2, 1 - outside)))


def quantile(values: np.ndarray, probability: float) -> Decimal | None:
    """The smallest value that so many courses do not exceed, rounded up; ``None`` where that is never."""
    found = float(np.quantile(values, probability, method="inverted_cdf"))
    if not np.isfinite(found):
        return None
    return Decimal(max(0.0, found - _HAIR)).quantize(_WHOLE, ROUND_CEILING)


def chance_of(happens: np.ndarray, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """Share of the courses in which something happens, to two decimals. [0-1]"""
    return (Decimal(int(happens.sum())) / happens.size).quantize(_HUNDREDTH, rounding)
