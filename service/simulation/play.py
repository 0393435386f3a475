"""Play a settled plan in a block of simulated courses, with the recourse that a surgeon has.

In every course the surgeon knows what has been seen so far and no more: a session waits a few
days for a donor site that heals late, opens another site when the skin falls short, grafts less
and comes back, covers what is excised and cannot be grafted, grafts again what has failed, and
goes on beyond the plan while wound is open and skin heals.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from service.domain.body_region import Position
from service.simulation.chosen_courses import at_courses
from service.simulation.course_book import NEVER, BookSession, CourseBook
from service.simulation.course_state import NOTHING_CM2, CourseState
from service.simulation.donor_skin import HarvestMade
from service.simulation.held_session import HeldSession
from service.simulation.scenarios import Scenarios

#: Sessions beyond the plan after which a course counts as not closed.
MOST_FURTHER_SESSIONS = 10


@dataclass(frozen=True)
class PlayedCourses:
    """What became of each course. Areas in cm², days from the as-of day, infinite where never."""

    session_days: np.ndarray  # firm sessions first; by session and course
    closed_day: np.ndarray
    open_cm2: np.ndarray
    failed_cm2: np.ndarray
    surplus_cm2: np.ndarray  # by session and course
    grafted_cm2: np.ndarray  # first grafts and regrafts, by session and course
    cover_days: np.ndarray
    cover_lapsed: np.ndarray
    held_up: np.ndarray  # sessions that a site kept waiting or short, by site and course
    harvested_cm2: dict[tuple[int, int], np.ndarray]  # by session and site
    harvests: tuple[HarvestMade, ...]  # each with the courses that were still played

    @property
    def sessions_count(self) -> np.ndarray:
        return np.isfinite(self.session_days).sum(axis=0)


def play_plan(book: CourseBook, scenarios: Scenarios) -> PlayedCourses:
    """Play the firm sessions, then further ones while anything is open that skin could close."""
    return _Player(book, CourseState(book, scenarios)).play()


class _Player:
    def __init__(self, book: CourseBook, state: CourseState) -> None:
        self.book, self.state = book, state
        self.calendar = {positions: np.array(days) for positions, days in book.theatre_days.items()}

    def play(self) -> PlayedCourses:
        for number, session in enumerate(self.book.sessions):
            self._play_firm(number, session)
        return self._play_on(further=0)

    def _play_on(self, further: int) -> PlayedCourses:
        """Further sessions, each with the courses that still need one."""
        if further == MOST_FURTHER_SESSIONS:
            return self._finish()
        chosen = np.flatnonzero(self._may_need_more(len(self.book.sessions) + further))
        if not chosen.size:
            return self._finish()
        some = at_courses(self.state, chosen, self.state.last_day.size)
        some.skin.made = []
        done, going_on = self._finish(), _Player(self.book, some)
        going_on._play_further(len(self.book.sessions) + further)
        return put_courses(done, going_on._play_on(further + 1), chosen)

    def _may_need_more(self, number: int) -> np.ndarray:
        """Whether anything is open, or grafts not read yet have lost enough to be grafted again."""
        state = self.state
        lost = state.dressed.sum(axis=0)
        for graft in state.placed:
            lost += np.where(graft.is_unread, graft.area_cm2 * (1 - graft.take), 0)
        is_open = (state.wanted(number + 1) >= NOTHING_CM2) | (lost >= self.book.limits.regraft_cm2)
        return is_open & ~state.is_over

    def _theatre_day(self, earliest: np.ndarray, positions: int) -> np.ndarray:
        """The first theatre day from a day on; ``NEVER`` after the horizon."""
        after = self.book.horizon_day + 1
        return self.calendar[positions][np.clip(earliest, 0, after).astype(int)].astype(float)

    def _rested(self) -> np.ndarray:
        return self.state.last_day + self.book.limits.rest_days

    def _play_firm(self, number: int, session: BookSession) -> None:
        positions = len(session.positions)
        day = self._theatre_day(np.maximum(session.day, self._rested()), positions)
        wanted = self.state.wanted(number + 1) >= NOTHING_CM2
        if not session.is_decided:
            day = self._wait_for_sites(number, session, day, wanted, positions)
        self._hold(number, session.positions, day, day < NEVER, session)

    def _wait_for_sites(self, number: int, session: BookSession, day: np.ndarray, wanted: np.ndarray,
                        positions: int) -> np.ndarray:
        """A few days later, where all the planned skin has healed by then and no cover would end before."""
        if number == 0:
            return day  # in the first session only what the record says has healed counts
        short = self._short_sites(session, day) & wanted & (day < NEVER)
        if not short.any():
            return day
        for (site, _, _), is_short in zip(session.harvests, short, strict=True):
            self.state.held_up[site] += is_short
        waiting, best = short.any(axis=0), day
        cover_ends = np.where(self.state.ahead > 0, self.state.ahead_until, NEVER).min(axis=0, initial=NEVER)
        for wait in range(1, self.book.limits.longest_wait_days + 1):
            later = self._theatre_day(day + wait, positions)
            fits = waiting & (later <= np.minimum(day + self.book.limits.longest_wait_days, cover_ends))
            healed = fits & ~self._short_sites(session, later).any(axis=0)
            best = np.where(healed, later, best)
            waiting &= ~healed
            if not waiting.any():
                break
        return best

    def _short_sites(self, session: BookSession, day: np.ndarray) -> np.ndarray:
        """Whether skin that the session takes from a site has not healed, by harvest and course."""
        skin = self.state.skin
        return np.array([
            skin.usable(site, day, is_first=False) < np.minimum(area, skin.all_of(site)) - NOTHING_CM2
            for site, _, area in session.harvests], bool).reshape(len(session.harvests), day.size)

    def _play_further(self, number: int) -> None:
        """A session that the plan does not hold, when everything has been read and skin is there."""
        state = self.state
        earliest = np.maximum(self._rested(), self.book.first_session_day)
        for graft in state.placed:
            earliest = np.maximum(earliest, np.where(graft.is_unread, graft.read_day, -NEVER))
        state.read_grafts(earliest, earliest <= self.book.horizon_day)
        positions = self._positions_of(number)
        free_day = self._day_with_skin(number, positions, earliest)
        day = self._theatre_day(np.minimum(free_day, NEVER), len(positions))
        is_active = (state.wanted(number + 1) >= NOTHING_CM2) & (day < NEVER)
        self._hold(number, positions, day, is_active, None)
        if self.book.positions_allowed > 1 or number % len(Position):
            state.is_over |= ~np.isfinite(state.session_days[-1])  # nothing could be done, in either position

    def _positions_of(self, number: int) -> tuple[Position, ...]:
        """Both positions where the patient may be turned, else one after the other."""
        if self.book.positions_allowed > 1:
            return tuple(Position)
        return (tuple(Position)[number % len(Position)],)

    def _day_with_skin(self, number: int, positions: tuple[Position, ...], earliest: np.ndarray) -> np.ndarray:
        """The first day with skin for all that is open and takes it from above, or from below the clavicle."""
        first = np.full(earliest.shape, np.inf)
        reached = self.book.reached_sites(positions)
        for above in (False, True):
            need = self._skin_needed(number, above)
            sites = [site for site in reached if self.book.sites[site].above_clavicle == above]
            day = self.state.skin.day_with(need, earliest, sites)
            first = np.minimum(first, np.where(need > 0, day, np.inf))
        return first

    def _skin_needed(self, number: int, above: bool) -> np.ndarray:
        """Skin to harvest for what is open, as planned with. [cm²]"""
        total = np.zeros(self.state.last_day.shape)
        for index, line in enumerate(self.book.lines):
            if line.class_in(number).above_clavicle == above:
                total += (self.state.due(index, number + 1) + self.state.regraft[index]) / line.cautious_coverage
        return total / self.state.scenarios.kept_fraction

    def _hold(self, number: int, positions: tuple[Position, ...], day: np.ndarray, is_active: np.ndarray,
              planned: BookSession | None) -> None:
        state = self.state
        state.read_grafts(day, is_active)
        self._count_cover(day, is_active)
        is_held = HeldSession(state, number, positions, day, is_active, planned).hold()
        state.session_days.append(np.where(is_held, day, np.inf))
        state.last_day = np.where(is_held, day, state.last_day)

    def _count_cover(self, day: np.ndarray, is_active: np.ndarray) -> None:
        """Days under cover since the last session, and whether a cover ended before this one."""
        state = self.state
        is_covered = is_active & (state.ahead > 0).any(axis=0)
        state.cover_days += np.where(is_covered, day - np.maximum(state.last_day, 0), 0)
        lapsed = ((state.ahead > 0) & (state.ahead_until < day)).any(axis=0)
        state.cover_lapsed |= is_active & lapsed

    def _finish(self) -> PlayedCourses:
        """Read the last grafts, and see which courses have closed by the horizon."""
        state, horizon = self.state, self.book.horizon_day
        everyone = np.ones(state.last_day.shape, bool)
        state.read_grafts(np.full(state.last_day.shape, float(NEVER)), everyone)
        self._count_cover(np.full(state.last_day.shape, float(horizon)), everyone)
        ungrafted = sum((np.maximum(0, wound.area_cm2 * state.scale[i] - state.grafted[self._lines_of(i)].sum(axis=0))
                         for i, wound in enumerate(self.book.wounds)), np.zeros(state.last_day.shape))
        open_cm2 = ungrafted + state.regraft.sum(axis=0)
        dressed_until = np.where(state.dressed > 0, state.dressed_until, 0).max(axis=0, initial=0)
        closed_day = np.maximum(state.closed_day, dressed_until)
        is_open = open_cm2 >= NOTHING_CM2 * max(1, len(self.book.lines))
        return PlayedCourses(
            session_days=np.array(state.session_days).reshape(len(state.session_days), state.last_day.size),
            closed_day=np.where(is_open, np.inf, closed_day),
            open_cm2=np.where(is_open, open_cm2, 0),
            failed_cm2=state.failed_cm2,
            surplus_cm2=np.array(state.surplus_cm2).reshape(len(state.surplus_cm2), state.last_day.size),
            grafted_cm2=np.array(state.grafted_cm2).reshape(len(state.grafted_cm2), state.last_day.size),
            cover_days=state.cover_days,
            cover_lapsed=state.cover_lapsed,
            held_up=state.held_up,
            harvested_cm2=self._harvested(),
            harvests=tuple(state.skin.made),
        )

    def _harvested(self) -> dict[tuple[int, int], np.ndarray]:
        taken: dict[tuple[int, int], np.ndarray] = {}
        for made in self.state.skin.made:
            key = made.session, made.site
            taken[key] = taken.get(key, 0) + made.area_cm2
        return taken

    def _lines_of(self, wound: int) -> list[int]:
        return [i for i, line in enumerate(self.book.lines) if line.wound == wound]


def put_courses(everyone: PlayedCourses, some: PlayedCourses, chosen: np.ndarray) -> PlayedCourses:
    """The chosen courses as they went on, the others as they were."""
    changed = {}
    for name, nothing in _NOTHING.items():
        before, after = getattr(everyone, name), getattr(some, name)
        if before.ndim > 1 and after.shape[0] > before.shape[0]:
            missing = np.full((after.shape[0] - before.shape[0], before.shape[1]), nothing)
            before = np.concatenate([before, missing])
        before[..., chosen] = after
        changed[name] = before
    return replace(everyone, **changed, harvested_cm2=_put_harvests(everyone, some, chosen),
                   harvests=(*everyone.harvests, *some.harvests))


#: Arrays of the played courses, and what stands for a session that is not held.
_NOTHING = {"session_days": np.inf, "closed_day": 0, "open_cm2": 0, "failed_cm2": 0, "surplus_cm2": 0, "grafted_cm2": 0,
            "cover_days": 0, "cover_lapsed": False, "held_up": 0}


def _put_harvests(everyone: PlayedCourses, some: PlayedCourses, chosen: np.ndarray) -> dict:
    taken = dict(everyone.harvested_cm2)
    for key, area in some.harvested_cm2.items():
        whole = np.zeros(everyone.closed_day.shape)
        whole[chosen] = area
        taken[key] = whole
    return taken
