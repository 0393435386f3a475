"""From a linear model in fractions to a course in whole tenths of a cm², plates and sites.

Session by session: the model is solved from the state of the course, its first session made
doable and held, and so on. What rounding moves, the next solution takes into account. Where a
session cannot be held as the model has it, it is filled by the planner's own rules with what
was wanted.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service.domain.body_region import Position
from service.domain.graft import GraftKind, GraftMethod, SkinClass
from service.domain.rule import Rule
from service.planning.calendar import positions_allowed
from service.planning.chosen_days import DaysSolved, solve_days
from service.planning.course import Course as PlayedCourse
from service.planning.course import GraftDraft, Policy, start_course
from service.planning.course_classes import MethodOption, WoundClass, left_open, sites_in_reserve
from service.planning.course_model import Choices, Facts
from service.planning.first_session import make_doable
from service.planning.harvest_choice import choose_harvests
from service.planning.hold_session import hold_session, procedure_minutes
from service.planning.positions import ONE_POSITION, TURNED, best_draft
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import carry_on
from service.planning.session_budget import minutes_limit
from service.planning.session_filling import SessionAim, SessionDraft, Wish
from service.planning.wound_facts import MethodFacts, WoundFacts
from service.solver.answer import LinearSolver
from service.solver.limits import SEARCH

_MOST_TRIMS = 10


def play_days(quantities: PlanningQuantities, singles: tuple[WoundClass, ...], wounds: tuple[WoundFacts, ...],
              days: tuple[int, ...], choices: Choices, policy: Policy, solver: LinearSolver) -> PlayedCourse:
    """The course of chosen days; then on by the policy while anything is open.

    ``singles``: a class for each wound that can be grafted.

    Raises
    ------
    SolverFault
        The solver failed on the way.
    """
    course = start_course(quantities, wounds)
    for index, day in enumerate(days):
        facts = Facts(quantities, left_open(singles, course), sites_in_reserve(course),
                      day if course.is_first_session else None)
        if not facts.wounds:
            break
        solved = make_doable(solve_days(facts, days[index:], choices, solver, keep=True), solver)
        draft = _Settling(solved, course).draft()
        if draft is not None:
            hold_session(course, draft)
    rest = quantities.case.limits.rest_days
    carry_on(course, policy, course.sessions[-1].day + rest if course.sessions else quantities.case.first_session_day)
    return course


class _Settling:
    """The first session of a solution, on a course. Areas wanted in tenths of a cm², by option and day."""

    def __init__(self, solved: DaysSolved, course: PlayedCourse) -> None:
        self.solved, self.course, self.quantities = solved, course, course.quantities
        self.facts = solved.course.facts
        self.options = [(w.wounds[0], o) for w in self.facts.wounds for o in w.options]
        self.wanted = _whole_tenths(solved)
        scale = self.facts.percent
        self.thin = solved.amount(solved.course.thin)[:, 0] * scale
        self.medium = solved.amount(solved.course.medium)[:, 0] * scale
        self.ahead = _excised_ahead(solved) * scale
        self.day = solved.days[0]

    def draft(self) -> SessionDraft | None:
        """As wanted, if every limit holds; else filled with what is wanted."""
        owed = self._in_pieces(self.wanted[:, 0])
        if not owed.any() and not (self.ahead >= self.quantities.smallest_piece).any():
            return None
        return self._trimmed(owed) or best_draft(self.course, self._aim(owed))

    def _in_pieces(self, owed: np.ndarray) -> np.ndarray:
        """What is wanted as pieces that may be placed: none below the smallest, none such left behind."""
        pieces = np.zeros(len(owed), int)
        left = self.course.demand()
        for index in sorted(np.flatnonzero(owed > 0), key=lambda i: (-owed[i], i)):
            wound = self.options[index][0]
            open_area = left.get(wound.wound_id, 0)
            part = min(int(owed[index]), open_area)
            if 0 < open_area - part < wound.piece:
                part = open_area
            if part >= min(wound.piece, open_area) and (part == open_area or not wound.is_whole):
                pieces[index] = part
                left[wound.wound_id] = open_area - part
        return pieces

    def _trimmed(self, owed: np.ndarray) -> SessionDraft | None:
        """The draft as wanted, less as little as makes it hold; ``None`` if a little does not suffice."""
        left = self.course.demand()
        step = max(1, int(owed.sum()) // 1000)
        for _ in range(_MOST_TRIMS):
            draft = self._as_wanted(owed)
            if draft is not None and self._holds(draft):
                return draft
            room = [self._may_lose(i, owed, left) for i in range(len(owed))]
            if not room or max(room) <= 0:
                return None
            owed[int(np.argmax(room))] -= min(step, max(room))
            step *= 2
        return None

    def _may_lose(self, index: int, owed: np.ndarray, left: dict[str, int]) -> int:
        """What a graft can do without while more of its wound is to be grafted later."""
        wound = self.options[index][0]
        mine = [i for i in np.flatnonzero(owed) if self.options[i][0] is wound]
        stays = left.get(wound.wound_id, 0) - int(owed[mine].sum())
        return int(owed[index]) - wound.piece if stays >= wound.piece else 0

    def _as_wanted(self, owed: np.ndarray) -> SessionDraft | None:
        day = self.day
        sites = [d.sites[0] for d in self.facts.donors]
        reached = [self.options[i][0].reached for i in np.flatnonzero(owed > 0)]
        reached += [s.place.reached for s, area in zip(sites, self.thin + self.medium, strict=True)
                    if area > 1]
        positions = _fewest_positions(reached)
        if not reached or len(positions) > positions_allowed(self.quantities.case, day):
            return None
        draft = SessionDraft(day, positions)
        draft.grafts = list(self._grafts(owed))
        if any(self.course.loaded_clear_day(g.wound) > day for g in draft.grafts) or len(
                {g.wound.loaded for g in draft.grafts} - {None}) > 1:
            return None
        for wound, area in self._ahead(draft):
            draft.ahead.append((wound, area))
        return self._with_harvests(draft)

    def _grafts(self, owed: np.ndarray) -> Iterator[GraftDraft]:
        """Grafts with their skin; skin from above the clavicle to what must have it, then to meshed grafts."""
        above = sum(area for d, area in zip(self.facts.donors, self.thin + self.medium, strict=True)
                    if d.above_clavicle)
        skin_above = self.quantities.skin_from(int(above))
        bed_used: dict[str, int] = {}
        indices = sorted(np.flatnonzero(owed > 0), key=lambda i: self._above_order(int(i)))
        for index in indices:
            wound, option = self.options[index]
            for is_above, area in self._parts(wound, option.method, int(owed[index]), skin_above):
                skin = self.quantities.skin_hundredths(option.method, wound.place, area)
                skin_above -= skin if is_above else 0
                bed = self.course.open_bed[wound.wound_id] - bed_used.get(wound.wound_id, 0)
                excised = max(0, area - bed)
                bed_used[wound.wound_id] = bed_used.get(wound.wound_id, 0) + area - excised
                yield GraftDraft(wound, option.method, SkinClass(option.thickness, is_above), area, excised, skin)

    def _above_order(self, index: int) -> tuple:
        wound, option = self.options[index]
        return (wound.sources_of_skin != (True,), option.method.kind is GraftKind.ISLAND, index)

    def _parts(self, wound: WoundFacts, method: GraftMethod, area: int, skin_above: int) -> list[tuple[bool, int]]:
        """The area by where its skin comes from: ``True`` for above the clavicle."""
        if wound.sources_of_skin == (True,):
            return [(True, area)]
        by_above = min(area, self.quantities.area_from_skin(method, wound.place, max(0, skin_above)))
        return [(is_above, part) for is_above, part in ((True, by_above), (False, area - by_above)) if part > 0]

    def _ahead(self, draft: SessionDraft) -> Iterator[tuple[WoundFacts, int]]:
        """Excised beyond what is grafted, as far as cover lasts with one renewal in hand."""
        cover = (self.course.cover_left - self.course.bed_under_cover()) // 2
        for wound_class, area in zip(self.facts.wounds, self.ahead, strict=True):
            wound = wound_class.wounds[0]
            left_unexcised = (self.course.remaining[wound.wound_id] - self.course.open_bed[wound.wound_id]
                              - sum(g.excised for g in draft.grafts if g.wound is wound))
            part = min(int(area), cover, left_unexcised)
            if part >= self.quantities.smallest_piece:
                cover -= part
                yield wound, part

    def _with_harvests(self, draft: SessionDraft) -> SessionDraft | None:
        needs: dict[SkinClass, int] = {}
        for graft in draft.grafts:
            needs[graft.skin_class] = needs.get(graft.skin_class, 0) + graft.skin_hundredths
        harvest = {c: self.quantities.harvest_for(skin) for c, skin in needs.items()}
        usable = self.course.reserve.usable_from(draft.day, self.course.is_first_session, draft.positions).by_site
        harvests = choose_harvests(self.course, draft.day, harvest, usable, self._donors())
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
        yield from (rule for rule, share in used.items() if share > 1 - 10 * SEARCH.margin)
        usable = self.course.reserve.usable_from(draft.day, self.course.is_first_session, draft.positions).by_site
        left = sum(usable.values()) - sum(h.area for h in draft.harvests)
        if left < self.quantities.smallest_harvest:
            yield Rule.SKIN_BALANCE

    def _donors(self) -> dict[str, int]:
        """Skin wanted by site."""
        areas = self.thin + self.medium
        return {d.sites[0].site_id: round(area) for d, area in zip(self.facts.donors, areas, strict=True) if area >= 1}

    def _holds(self, draft: SessionDraft) -> bool:
        """Whether the draft keeps the limits of area, blood and minutes."""
        limits = self.quantities.whole_budget
        excised = sum(g.excised for g in draft.grafts) + sum(area for _, area in draft.ahead)
        minutes = minutes_limit(self.quantities, draft.day)
        return (draft.grafted <= limits.graft and excised <= limits.excise
                and draft.blood_ml(self.course) <= limits.blood_ml
                and procedure_minutes(self.quantities, draft) <= minutes)

    def _aim(self, owed: np.ndarray) -> SessionAim:
        """What is owed, then what is wanted later, to fill the session up."""
        left = self.course.demand()
        wishes = list(self._wishes(owed, left))
        for later in range(1, len(self.solved.days)):
            wishes += self._wishes(self.wanted[:, later], left)
        ahead = [(w.wounds[0], int(area)) for w, area in zip(self.facts.wounds, self.ahead, strict=True)
                 if area >= self.quantities.smallest_piece]
        return SessionAim(self.day, tuple(wishes), self.course.demand(), tuple(ahead),
                          self._donors())

    def _wishes(self, owed: np.ndarray, left: dict[str, int]) -> Iterator[Wish]:
        """Whole regions first, then wounds that are finished, then parts; ``left`` is used up."""
        def order(index: int) -> tuple:
            wound = self.options[index][0]
            is_part = owed[index] < left.get(wound.wound_id, 0) - wound.piece
            return (not wound.is_whole, is_part, -wound.weight, -owed[index], index)

        for index in sorted(np.flatnonzero(owed > 0), key=order):
            wound, option = self.options[index]
            open_area = left.get(wound.wound_id, 0)
            area = min(int(owed[index]), open_area)
            if open_area - area < wound.piece:
                area = open_area
            if area >= min(wound.piece, open_area) > 0:
                left[wound.wound_id] = open_area - area
                yield Wish(wound, self._method_facts(wound, option), area)

    @staticmethod
    def _method_facts(wound: WoundFacts, option: MethodOption) -> MethodFacts:
        below, above = (SkinClass(option.thickness, is_above) for is_above in (False, True))
        return MethodFacts(option.method, below, above, option.skin)


def _whole_tenths(solved: DaysSolved) -> np.ndarray:
    """Areas to graft by option and session, rounded down; what rounding leaves goes to the largest."""
    scale = solved.course.facts.percent
    grafted = solved.amount(solved.course.grafted) * scale
    whole = np.floor(grafted + 1e-9).astype(int)
    left_open = solved.amount(solved.course.left_open) * scale
    for c, wound in enumerate(solved.course.facts.wounds):
        mine = np.flatnonzero(solved.course.option_class == c)
        rest = round(wound.area * scale) - round(left_open[c]) - whole[mine].sum()
        if len(mine) and whole[mine].any() and rest > 0:
            option, slot = np.unravel_index(whole[mine].argmax(), whole[mine].shape)
            whole[mine[option], slot] += rest
    return whole


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
