"""The first session of a course in whole pieces: integer rows beside the linear rules, one function a rule.

Later sessions stay in fractions; their turn comes when the course has been held so far.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from service.domain.body_region import Position
from service.domain.graft import GraftKind
from service.planning.chosen_days import DaysSolved
from service.planning.course_classes import WoundClass
from service.planning.course_model import Course, freeze, reached_only, session_positions
from service.planning.quantities import tenths
from service.solver.answer import LinearSolver, SolverFault, believe
from service.solver.limits import SEARCH
from service.solver.linear_model import ABSENT, LinearProgram

_WHOLE = 0.1  # a solver's whole number that is further from one is a fault


@dataclass
class _Session:
    """The course with what the first session may hold: by option, the column of its area and whether it is there."""

    course: Course
    likely: np.ndarray  # by option
    is_there: np.ndarray

    def of_class(self, index: int) -> np.ndarray:
        """Options of a class that may be grafted in the session."""
        return np.flatnonzero((self.course.option_class == index) & self.likely)

    @property
    def classes(self) -> Iterator[tuple[int, WoundClass, np.ndarray]]:
        for index, wound in enumerate(self.course.facts.wounds):
            options = self.of_class(index)
            if options.size:
                yield index, wound, options


def solve_whole_session(solved: DaysSolved, solver: LinearSolver) -> DaysSolved:
    """The course of the same days whose first session is in whole pieces, as cheap as is found.

    Raises
    ------
    SolverFault
        Nothing was found that stands up.
    """
    course = replace(solved.course, model=solved.course.model.copy())
    likely = _likely_options(solved)
    session = _Session(course, likely, course.model.columns(len(likely), upper=likely.astype(float), is_whole=True))
    for rule in RULES:
        rule(session)
    program = _without(course.grafted[~likely, 0], freeze(course))
    near = SEARCH.near_whole_days * sum(w.weight * w.area for w in course.facts.wounds)
    answer = believe(program, solver.solve_whole(program, near))
    values = answer.values.copy()
    values[program.is_whole] = np.round(values[program.is_whole])
    if np.abs(values - answer.values).max() > _WHOLE:
        raise SolverFault("not whole")
    return DaysSolved(course, program, values, answer.duals, float(program.cost @ values) + course.constant)


def _likely_options(solved: DaysSolved) -> np.ndarray:
    """Grafts of the first session that the solution in fractions holds, or nearly does."""
    program, course = solved.program, solved.course
    columns = course.grafted[:, 0]
    entries = program.values * solved.duals[program.rows]
    reduced = program.cost - np.bincount(program.columns, entries, len(program.cost))
    dear = SEARCH.likely_percent * max(w.weight for w in course.facts.wounds)
    return (columns != ABSENT) & ((solved.amount(columns) > 0) | (reduced[columns] < dear))


def _without(columns: np.ndarray, program: LinearProgram) -> LinearProgram:
    """The problem with columns held at zero."""
    upper = program.upper.copy()
    upper[columns[columns != ABSENT]] = 0.0
    return replace(program, upper=upper)


def _plate_harvest(course: Course) -> float:
    """Skin to harvest for one plate. [%TBSA]"""
    quantities = course.facts.quantities
    return float(quantities.plate_hundredths / quantities.kept_fraction / 10) / course.facts.percent


def smallest_piece(session: _Session) -> None:
    """A graft is at least the smallest piece, and so is what it leaves of its wound, unless it leaves nothing."""
    course, model = session.course, session.course.model
    for _, wound, options in session.classes:
        grafted = course.grafted[options, 0]
        smallest = min(min(w.piece for w in wound.wounds) / course.facts.percent, wound.area)
        for column, is_there in zip(grafted, session.is_there[options], strict=True):
            row = model.rows(2, upper=0)
            model.put(row[:1], column, 1)
            model.put(row[:1], is_there, -wound.area)
            model.put(row[1:], column, -1)
            model.put(row[1:], is_there, smallest)
        if smallest < wound.area and not wound.is_whole:
            is_done = model.columns(1, upper=1, is_whole=True)
            rows = model.rows(2, lower=[0, -np.inf], upper=[np.inf, wound.area - smallest])
            model.put(rows[0], grafted, 1)  # grafted >= area * done
            model.put(rows[0], is_done, -wound.area)
            model.put(rows[1], grafted, 1)  # grafted <= area - smallest * (1 - done)
            model.put(rows[1], is_done, -smallest)


def whole_region(session: _Session) -> None:
    """A region that is grafted whole: all of it by one method, or nothing."""
    course, model = session.course, session.course.model
    for _, wound, options in session.classes:
        if wound.is_whole:
            rows = model.rows(len(options), lower=0, upper=0)
            model.put(rows, course.grafted[options, 0], 1)
            model.put(rows, session.is_there[options], -wound.area)
            model.put(model.rows(1, upper=1), session.is_there[options], 1)


def spare_skin_of_plates(session: _Session) -> None:
    """Island grafts take whole plates by method, in parts by wound: the last of each is half over, as likely as not."""
    course, facts, model = session.course, session.course.facts, session.course.model
    islands = np.array([o.method.kind is GraftKind.ISLAND for o in course.options], bool)
    plate = _plate_harvest(course)
    spare = plate / facts.quantities.plate_parts / 2
    by_area = np.array([spare * len(w.wounds) / w.area for w in facts.wounds])[course.option_class]
    for thickness, rows in course.skin_rows.items():
        mine = islands & np.array([o.thickness is thickness for o in course.options], bool)
        model.put(rows[0], session.is_there[mine], spare)
        model.put(rows[0], course.grafted[mine, 0], by_area[mine])
        for method in dict.fromkeys(o.method for o, is_mine in zip(course.options, mine, strict=True) if is_mine):
            by_method = np.flatnonzero(mine & np.array([o.method is method for o in course.options], bool))
            is_used = model.columns(1, upper=1)
            used = model.rows(len(by_method), upper=0)
            model.put(used, session.is_there[by_method], 1)
            model.put(used, is_used, -1)
            model.put(rows[0], is_used, plate / 2)


def smallest_harvest(session: _Session) -> None:
    """A harvest is at least the smallest, or all of a smaller site."""
    course, model, facts = session.course, session.course.model, session.course.facts
    for d, donor in enumerate(facts.donors):
        columns = np.array([c[d, 0] for c in (course.thin, course.medium) if c[d, 0] != ABSENT], int)
        if columns.size:
            sites = [tenths(site.area_cm2) for site in donor.sites]
            smallest = min(facts.quantities.smallest_harvest, *sites) / facts.percent
            is_there = model.columns(1, upper=1, is_whole=True)
            rows = model.rows(2, upper=0)
            model.put(rows[0], columns, 1)
            model.put(rows[0], is_there, -donor.area)
            model.put(rows[1], columns, -1)
            model.put(rows[1], is_there, smallest)


def minutes_of_turn(session: _Session) -> None:
    """What can be reached lying only one way and what only the other cost a turn between them."""
    course, model, facts = session.course, session.course.model, session.course.facts
    if session_positions(facts, course.slots)[0] == 1:
        return
    lying = model.columns(len(Position), upper=1, is_whole=True)
    turned = model.columns(1, upper=1)
    for pose, used in zip(Position, lying, strict=True):
        for columns, limits in _reached_only(course, pose):
            there = columns != ABSENT
            rows = model.rows(int(there.sum()), upper=0)
            model.put(rows, columns[there], 1)
            model.put(rows, used, -limits[there])
    row = model.rows(1, upper=1)
    model.put(row, lying, 1)
    model.put(row, turned, -1)
    model.put(course.minutes_rows[0], turned, facts.quantities.whole_budget.turn_minutes)


def _reached_only(course: Course, pose: Position) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Columns of the first session, with their limits, of what can be reached lying only so."""
    facts = course.facts
    areas = np.array([w.area for w in facts.wounds])
    wounds, sites = reached_only(facts, pose)
    options = wounds[course.option_class]
    skin = np.array([d.area for d in facts.donors])
    yield course.grafted[options, 0], areas[course.option_class][options]
    yield course.excised[wounds, 0], areas[wounds]
    yield course.thin[sites, 0], skin[sites]
    yield course.medium[sites, 0], skin[sites]


def minutes_of_special_areas(session: _Session) -> None:
    """A special area takes its minutes once, however little of it is grafted."""
    course, model = session.course, session.course.model
    minutes = course.facts.quantities.whole_budget.special_minutes
    regions: dict[str, list[int]] = {}
    for index, wound, _ in session.classes:
        if wound.special_area is not None:
            regions.setdefault(wound.wounds[0].special_region, []).append(index)
    for classes in regions.values():
        options = np.concatenate([session.of_class(c) for c in classes])
        is_there = model.columns(1, upper=1)
        rows = model.rows(len(options), upper=0)
        model.put(rows, session.is_there[options], 1)
        model.put(rows, is_there, -1)
        rest = model.columns(1, upper=minutes)
        row = model.rows(1, upper=0)
        counted = [minutes / course.facts.wounds[c].special_area for c in course.option_class[options]]
        model.put(row, is_there, minutes)
        model.put(row, course.grafted[options, 0], -np.array(counted))
        model.put(row, rest, -1)
        model.put(course.minutes_rows[0], rest, 1)


def one_load(session: _Session) -> None:
    """Front and back are not grafted in one session: one of them would be lain on."""
    course, model = session.course, session.course.model
    loads = [pose for pose in Position if any(w.loaded is pose for w in course.facts.wounds)]
    if len(loads) < len(Position):
        return
    front = model.columns(1, upper=1, is_whole=True)
    for _, wound, options in session.classes:
        if wound.loaded is not None:
            is_front = wound.loaded is Position.PRONE
            rows = model.rows(len(options), upper=0 if is_front else 1)
            model.put(rows, session.is_there[options], 1)
            model.put(rows, front, -1 if is_front else 1)


RULES = (
    smallest_piece, whole_region, spare_skin_of_plates, smallest_harvest, minutes_of_turn,
    minutes_of_special_areas, one_load,
)
