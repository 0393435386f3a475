"""From a linear model in fractions to a course in whole tenths of a cm², plates and sites.

Session by session: the model is solved from the state of the course, its first session made
doable and held, and so on. What rounding moves, the next solution takes into account. Where a
session cannot be held as the model has it, it is filled by the planner's own rules with what
was wanted.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

import numpy as np

from service.domain.body_region import Position
from service.domain.graft import NEEDS_OVERLAY, GraftKind, GraftMethod, SkinClass
from service.domain.rule import Rule
from service.planning.calendar import next_theatre_day, positions_allowed
from service.planning.chosen_days import DaysSolved, solve_days
from service.planning.course import Course as PlayedCourse
from service.planning.course import GraftDraft, Policy, start_course
from service.planning.course_classes import MethodOption, WoundClass, left_open, merged_sites_in_reserve
from service.planning.course_model import Choices, Facts
from service.planning.harvest_choice import choose_harvests
from service.planning.hold_session import hold_session, procedure_minutes
from service.planning.losses import skin_owed
from service.planning.pieces import Piece, cut_pieces
from service.planning.plates import fill_plates, harvest_needs, skin_placed
from service.planning.positions import FULL, ONE_POSITION, TURNED, best_draft
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import carry_on
from service.planning.session_budget import minutes_limit
from service.planning.session_filling import SessionAim, SessionDraft, Wish
from service.planning.whole_session import solve_whole_session
from service.planning.work import WorkEnded
from service.planning.wound_facts import MethodFacts, WoundFacts
from service.solver.answer import LinearSolver, SolverFault, SolverTimeOut
from service.solver.limits import SEARCH

_MOST_TRIMS = 10
_HAIR = 1e-9 * 1000 * 1000
_FINE = 2 * 2 * 2  # a session is not filled up by less than such a part of the smallest piece
_NEARLY_NOTHING = 0.1 * 0.1 * 2


def play_days(quantities: PlanningQuantities, classes: tuple[WoundClass, ...], wounds: tuple[WoundFacts, ...],
              days: tuple[int, ...], choices: Choices, policy: Policy, solver: LinearSolver) -> PlayedCourse:
    """The course of chosen days; then on by the policy while anything is open.

    ``classes``: the wounds that can be grafted.

    Raises
    ------
    SolverFault
        The solver failed on the way.
    """
    course = start_course(quantities, wounds)
    with suppress(WorkEnded):  # then the policy goes on from what is held
        _hold_sessions(course, classes, days, choices, policy, solver)
    rest = quantities.case.limits.rest_days
    carry_on(course, policy, course.sessions[-1].day + rest if course.sessions else quantities.case.first_session_day)
    return course


def _hold_sessions(course: PlayedCourse, classes: tuple[WoundClass, ...], days: tuple[int, ...], choices: Choices,
                   policy: Policy, solver: LinearSolver) -> None:
    """Hold a session on each day; more at the end while they are of use."""
    draft = None
    while days:
        facts = _facts_left(course, classes, days[0], policy)
        if not facts.wounds:
            return
        solved = solve_days(facts, days, choices, solver)
        if draft is not None or not course.sessions:  # after a day that served nothing one more would not either
            choices, solved = _with_last_session(solved, choices, solver)
        draft = _Settling(_in_pieces(solved, solver), course).draft()
        if draft is not None:
            hold_session(course, draft)
        days = solved.days[1:]


def _facts_left(course: PlayedCourse, classes: tuple[WoundClass, ...], day: int, policy: Policy) -> Facts:
    """What the course has left to the model, whose next session is on a day."""
    percent = float(course.quantities.percent_tenths)
    covers = ((area / percent, max(c.until_day for c in course.covers_alive if c.wound_id == wound_id))
              for wound_id, area in course.ahead_bed.items() if area > 0)
    return Facts(course.quantities, left_open(classes, course), merged_sites_in_reserve(course),
                 day if course.is_first_session else None, skin_owed(course, policy.level) / percent,
                 max(0, course.cover_left) / percent, tuple(covers))


def _with_last_session(solved: DaysSolved, choices: Choices, solver: LinearSolver) -> tuple[Choices, DaysSolved]:
    """The days solved; one session more at the end where the others leave open what it would close."""
    facts = solved.course.facts
    case = facts.quantities.case
    after = next_theatre_day(case, solved.days[-1] + case.limits.rest_days)
    if after is None or solved.amount(solved.course.left_open).sum() <= SEARCH.open_tolerance_percent:
        return choices, solved
    later = _lying_after(choices, after, facts.quantities.protect_days)
    more = solve_days(facts, (*solved.days, after), later, solver)
    return (later, more) if more.cost < solved.cost else (choices, solved)


def _lying_after(choices: Choices, day: int, protect_days: int) -> Choices:
    """The choices with what may be grafted on one day more, so that nobody lies on a graft before."""
    front, back = choices.front_days, choices.back_days
    if front is None or back is None:
        return choices
    is_clear_of_back = day >= max(back, default=-protect_days) + protect_days
    is_clear_of_front = day >= max(front, default=-protect_days) + protect_days
    if is_clear_of_back:
        return replace(choices, front_days=front | {day})
    return replace(choices, back_days=back | {day}) if is_clear_of_front or not front else choices


def _in_pieces(solved: DaysSolved, solver: LinearSolver) -> DaysSolved:
    """The days with the first session in whole pieces, or in fractions where no such solution is found."""
    try:
        return solve_whole_session(solved, solver)
    except SolverTimeOut:
        raise
    except SolverFault:
        return solved


class _Settling:
    """The first session of a solution, on a course. Areas in tenths of a cm²."""

    def __init__(self, solved: DaysSolved, course: PlayedCourse) -> None:
        self.solved, self.course, self.quantities = solved, course, course.quantities
        self.facts = solved.course.facts
        scale = self.facts.percent
        self.donors = _by_site(solved, course, scale)
        self.ahead = _excised_ahead(solved) * scale
        self.day = solved.days[0]

    def draft(self) -> SessionDraft | None:
        """As wanted, if every limit holds; else filled with what is wanted."""
        pieces = self._pieces(0, self.course.demand())
        if not pieces and not (self.ahead >= self.quantities.smallest_piece).any():
            return None
        return self._trimmed(pieces) or best_draft(self.course, self._aim(pieces))

    def _pieces(self, slot: int, left: dict[str, int]) -> list[Piece]:
        """The grafts of a session of the solution as pieces of wounds; ``left`` is used up."""
        grafted = self.solved.amount(self.solved.course.grafted)[:, slot] * self.facts.percent
        options, option_class = self.solved.course.options, self.solved.course.option_class
        pieces: list[Piece] = []
        for index, wound_class in enumerate(self.facts.wounds):
            mine = np.flatnonzero((option_class == index) & (grafted > 1))
            wanted = {int(i): int(grafted[i] + _HAIR) for i in mine}
            rest = sum(left.get(w.wound_id, 0) for w in wound_class.wounds) - sum(wanted.values())
            if mine.size and 0 < rest < min(w.piece for w in wound_class.wounds):
                wanted[max(wanted, key=wanted.get)] += rest
            pieces += cut_pieces([(options[i], area) for i, area in wanted.items()], wound_class.wounds, left)
        return pieces

    def _trimmed(self, pieces: list[Piece]) -> SessionDraft | None:
        """The draft as wanted, less as little as makes it hold, then filled up; ``None`` if a little does not do."""
        step = max(1, sum(p.area for p in pieces) // 1000)
        for _ in range(_MOST_TRIMS):
            draft = self._holding(pieces)
            if draft is not None:
                return self._filled_up(pieces, draft)
            if not self._lose(pieces, step):
                return None
            step *= 2
        return None

    def _holding(self, pieces: list[Piece]) -> SessionDraft | None:
        draft = self._as_wanted(pieces)
        return draft if draft is not None and self._holds(draft) else None

    def _stays(self, piece: Piece, pieces: list[Piece]) -> int:
        """What the pieces leave of a wound."""
        grafted = sum(p.area for p in pieces if p.wound is piece.wound)
        return self.course.remaining[piece.wound.wound_id] - grafted

    def _lose(self, pieces: list[Piece], step: int) -> bool:
        """Take a little from the largest piece of a wound that stays open, or else leave a smallest piece of one."""
        begun = [p for p in pieces if self._stays(p, pieces) > 0 and p.area > p.wound.piece]
        if begun:
            piece = max(begun, key=lambda p: p.area)
            piece.area -= min(step, piece.area - piece.wound.piece)
            return True
        finished = [p for p in pieces if not p.wound.is_whole and p.area >= 2 * p.wound.piece]
        if finished:
            piece = max(finished, key=lambda p: p.area)
            piece.area -= min(max(step, piece.wound.piece), piece.area - piece.wound.piece)
        return bool(finished)

    def _filled_up(self, pieces: list[Piece], draft: SessionDraft) -> SessionDraft:
        """The draft with as much more of the wounds that it begins as every limit allows."""
        for piece in sorted(pieces, key=lambda p: -p.area):
            room = self._stays(piece, pieces) - piece.wound.piece
            while room >= piece.wound.piece // _FINE and not draft.binding & FULL:
                piece.area += room
                more = self._holding(pieces)
                if more is None:
                    piece.area -= room
                    room //= 2
                else:
                    draft, room = more, self._stays(piece, pieces) - piece.wound.piece
        return draft

    def _as_wanted(self, pieces: list[Piece]) -> SessionDraft | None:
        day, grafts = self.day, fill_plates(self._grafts(pieces), self.quantities)
        ahead = list(self._ahead(grafts))
        positions = self._positions(pieces, ahead)
        if not positions or any(self.course.loaded_clear_day(g.wound) > day for g in grafts) or len(
                {g.wound.loaded for g in grafts} - {None}) > 1:
            return None
        draft = SessionDraft(day, positions)
        draft.grafts = grafts
        draft.ahead = [(wound, area) for wound, area in ahead if not wound.reached.isdisjoint(positions)]
        return self._with_harvests(draft)

    def _positions(self, pieces: list[Piece], ahead: list[tuple[WoundFacts, int]]) -> tuple[Position, ...]:
        """The fewest that reach grafts, donor sites and, where so many are allowed, what is excised ahead."""
        needed = [piece.wound.reached for piece in pieces]
        needed += [s.place.reached for s in self.course.reserve.sites if s.site_id in self.donors]
        for reached in ([*needed, *(wound.reached for wound, _ in ahead)], needed):
            positions = _fewest_positions(reached)
            if reached and len(positions) <= positions_allowed(self.quantities.case, self.day):
                return positions
        return ()

    def _grafts(self, pieces: list[Piece]) -> Iterator[GraftDraft]:
        """Grafts with their skin; skin from above the clavicle to what must have it, then to meshed grafts."""
        above = [s.site_id for s in self.course.reserve.sites if s.above_clavicle]
        skin_above = self.quantities.skin_from(sum(self.donors.get(site_id, 0) for site_id in above))
        bed_used: dict[str, int] = {}
        for piece in sorted(pieces, key=self._above_order):
            wound, option = piece.wound, piece.option
            for is_above, area in self._parts(wound, option.method, piece.area, skin_above):
                skin = self.quantities.skin_hundredths(option.method, wound.place, area)
                skin_above -= skin if is_above else 0
                bed = self.course.open_bed[wound.wound_id] - bed_used.get(wound.wound_id, 0)
                excised = max(0, area - bed)
                bed_used[wound.wound_id] = bed_used.get(wound.wound_id, 0) + area - excised
                yield GraftDraft(wound, option.method, SkinClass(option.thickness, is_above), area, excised, skin)

    @staticmethod
    def _above_order(piece: Piece) -> tuple:
        return (piece.wound.sources_of_skin != (True,), piece.option.method.kind is GraftKind.ISLAND)

    def _parts(self, wound: WoundFacts, method: GraftMethod, area: int, skin_above: int) -> list[tuple[bool, int]]:
        """The area by where its skin comes from: ``True`` for above the clavicle."""
        if wound.sources_of_skin == (True,):
            return [(True, area)]
        by_above = min(area, self.quantities.area_from_skin(method, wound.place, max(0, skin_above)))
        return [(is_above, part) for is_above, part in ((True, by_above), (False, area - by_above)) if part > 0]

    def _ahead(self, grafts: list[GraftDraft]) -> Iterator[tuple[WoundFacts, int]]:
        """Excised beyond what is grafted, as far as cover lasts with one renewal in hand."""
        cover = (self.course.cover_left - self.course.bed_under_cover()) // 2
        for wound_class, wanted in zip(self.facts.wounds, self.ahead, strict=True):
            for wound in wound_class.wounds:
                left_unexcised = (self.course.remaining[wound.wound_id] - self.course.open_bed[wound.wound_id]
                                  - sum(g.excised for g in grafts if g.wound is wound))
                part = min(int(wanted), cover, left_unexcised)
                if part >= self.quantities.smallest_piece:
                    cover -= part
                    wanted -= part
                    yield wound, part

    def _with_harvests(self, draft: SessionDraft) -> SessionDraft | None:
        needs = harvest_needs(skin_placed(draft.grafts), self.quantities)
        usable = self.course.reserve.usable_from(draft.day, self.course.is_first_session, draft.positions).by_site
        harvests = choose_harvests(self.course, draft.day, needs, usable, self.donors)
        if harvests is None:
            return None
        draft.harvests = harvests
        draft.binding = set(self._binding(draft))
        return draft

    def _binding(self, draft: SessionDraft) -> Iterator[Rule]:
        """Limits of which nearly nothing is left."""
        limits = self.quantities.whole_budget
        excised = sum(g.excised for g in draft.grafts) + sum(area for _, area in draft.ahead)
        used = {
            Rule.SESSION_AREA: max(draft.grafted / limits.graft, excised / limits.excise),
            Rule.SESSION_BLOOD: draft.blood_ml(self.course) / max(1.0, limits.blood_ml),
            Rule.SESSION_MINUTES: float(procedure_minutes(self.quantities, draft)) / max(
                1.0, minutes_limit(self.quantities, draft.day)),
        }
        yield from (rule for rule, share in used.items() if share > 1 - _NEARLY_NOTHING)
        usable = self.course.reserve.usable_from(draft.day, self.course.is_first_session, draft.positions).by_site
        left = sum(usable.values()) - sum(h.area for h in draft.harvests)
        if left < self.quantities.smallest_harvest:
            yield Rule.SKIN_BALANCE

    def _holds(self, draft: SessionDraft) -> bool:
        """Whether the draft keeps the limits of area, blood, minutes and cover."""
        limits = self.quantities.whole_budget
        excised = sum(g.excised for g in draft.grafts) + sum(area for _, area in draft.ahead)
        minutes = minutes_limit(self.quantities, draft.day)
        overlaid = sum(g.area for g in draft.grafts if g.method in NEEDS_OVERLAY)
        return (overlaid <= max(0, self.course.cover_left - self.course.bed_under_cover())
                and draft.grafted <= limits.graft and excised <= limits.excise
                and draft.blood_ml(self.course) <= limits.blood_ml
                and procedure_minutes(self.quantities, draft) <= minutes)

    def _aim(self, pieces: list[Piece]) -> SessionAim:
        """What is wanted, then what is wanted later, to fill the session up."""
        left = self.course.demand()
        for piece in pieces:
            left[piece.wound.wound_id] -= piece.area
        wishes = list(self._wishes(pieces))
        for later in range(1, len(self.solved.days)):
            wishes += self._wishes(self._pieces(later, left))
        return SessionAim(self.day, tuple(wishes), self.course.demand(), tuple(self._to_excise_ahead()), self.donors)

    def _to_excise_ahead(self) -> Iterator[tuple[WoundFacts, int]]:
        for wound_class, area in zip(self.facts.wounds, self.ahead, strict=True):
            if area >= self.quantities.smallest_piece:
                yield from ((wound, int(area)) for wound in wound_class.wounds)

    def _wishes(self, pieces: list[Piece]) -> Iterator[Wish]:
        """Whole regions first, then wounds that are finished, then parts."""
        open_area = self.course.demand()

        def order(piece: Piece) -> tuple:
            is_part = piece.area < open_area[piece.wound.wound_id]
            return (not piece.wound.is_whole, is_part, -piece.wound.weight, -piece.area)

        for piece in sorted(pieces, key=order):
            yield Wish(piece.wound, self._method_facts(piece.wound, piece.option), piece.area)

    @staticmethod
    def _method_facts(wound: WoundFacts, option: MethodOption) -> MethodFacts:
        below, above = (SkinClass(option.thickness, is_above) for is_above in (False, True))
        return MethodFacts(option.method, below, above, option.skin)


def _by_site(solved: DaysSolved, course: PlayedCourse, scale: float) -> dict[str, int]:
    """Skin of the first session by site, in tenths of a cm²: as few sites of a class as give it."""
    wanted: dict[str, int] = {}
    amounts = (solved.amount(solved.course.thin)[:, 0] + solved.amount(solved.course.medium)[:, 0]) * scale
    usable = course.reserve.usable(solved.days[0], course.is_first_session)
    for donor, area in zip(solved.course.facts.donors, amounts, strict=True):
        left = round(float(area))
        for site in sorted(donor.sites, key=lambda s: -usable[s.site_id]):
            part = min(left, usable[site.site_id])
            if part > 0:
                wanted[site.site_id] = part
                left -= part
    return wanted


def _excised_ahead(solved: DaysSolved) -> np.ndarray:
    """Bed at the end of the first session beyond what was open before, by class; only where there is cover. [%TBSA]"""
    ready = np.array([w.ready for w in solved.course.facts.wounds])
    has_cover = solved.course.facts.cover_stock > 0
    return np.maximum(0, solved.amount(solved.course.bed)[:, 0] - ready) * has_cover


def _fewest_positions(reached: list[frozenset[Position]]) -> tuple[Position, ...]:
    """The first single position from which all is reached, else both."""
    for positions in ONE_POSITION:
        if all(not r.isdisjoint(positions) for r in reached):
            return positions
    return TURNED
