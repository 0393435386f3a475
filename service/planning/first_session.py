"""The first session of a solved course, made doable: whole regions, pieces, harvests, minutes.

Only the first session is decided; what that moves goes to later ones, whose turn comes when the
course has been held so far and is solved again from its new state.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from service.planning.chosen_days import DaysSolved, believed, used_lying
from service.planning.quantities import tenths
from service.solver.answer import LinearSolver, SolverFault, SolverTimeOut

_ROUNDS = 2 * 10
_HAIR = 1e-9


def make_doable(solved: DaysSolved, solver: LinearSolver) -> DaysSolved:
    """The kept solution with a first session that has no part of a whole region and no crumb, if that is found."""
    for _ in range(_ROUNDS):
        whole = [*_whole_or_not(solved)]
        wanted = whole or [*_pieces(solved), *_harvests(solved)]
        minutes = _minutes_missing(solved)
        if not wanted and minutes is None:
            break
        dropped = [(column, 0.0, 0.0) for column, _, _ in wanted]
        for changes in (wanted, dropped, [*_nothing_raised(solved), *dropped]):
            try:
                solved = _changed(solved, changes, minutes, solver)
                break
            except SolverTimeOut:
                raise
            except SolverFault:
                continue
        else:
            break
    return solved


def _nothing_raised(solved: DaysSolved) -> Iterator[tuple[int, float, float]]:
    """Grafts and harvests of the first session with no least area."""
    course = solved.course
    for column in np.concatenate([course.grafted[:, 0], course.thin[:, 0], course.medium[:, 0]]):
        if column >= 0:
            yield int(column), 0.0, float(solved.program.upper[column])


def _changed(solved: DaysSolved, changes: list[tuple[int, float, float]], minutes: float | None,
             solver: LinearSolver) -> DaysSolved:
    """The solution under other bounds of columns, and with minutes less in the first session."""
    program = solved.program
    lower, upper, row_upper = program.lower.copy(), program.upper.copy(), program.row_upper.copy()
    for column, low, high in changes:
        lower[column], upper[column] = low, high
    if minutes is not None:
        row_upper[solved.course.minutes_rows[0]] = -minutes
    program = replace(program, lower=lower, upper=upper, row_upper=row_upper)
    return believed(solved.course, program, solver.again(lower, upper, row_upper))


def _first(solved: DaysSolved) -> Iterator[tuple[int, int, float, int]]:
    """Class, column, area and option of each graft in the first session."""
    course = solved.course
    for option, column in enumerate(course.grafted[:, 0]):
        if column >= 0 and solved.values[column] > _HAIR:
            yield int(course.option_class[option]), int(column), float(solved.values[column]), option


def _whole_or_not(solved: DaysSolved) -> Iterator[tuple[int, float, float]]:
    """A region that is grafted whole: all of it if more than half is wanted now, else nothing."""
    for c, column, area, _ in _first(solved):
        wound = solved.course.facts.wounds[c]
        if wound.is_whole and area < wound.area * (1 - _HAIR):
            yield (column, wound.area, wound.area) if area > wound.area / 2 else (column, 0.0, 0.0)


def _pieces(solved: DaysSolved) -> Iterator[tuple[int, float, float]]:
    """No piece below the smallest, on the wound or left behind."""
    by_class: dict[int, list[tuple[int, float]]] = {}
    for c, column, area, _ in _first(solved):
        by_class.setdefault(c, []).append((column, area))
    for c, pieces in by_class.items():
        wound = solved.course.facts.wounds[c]
        smallest = min(wound.wounds[0].piece / solved.course.facts.percent, wound.area)
        for column, area in pieces:
            if area < smallest * (1 - _HAIR):
                is_raised = area > smallest / 2 and solved.program.upper[column] >= smallest
                yield (column, smallest, float(solved.program.upper[column])) if is_raised else (column, 0.0, 0.0)
        left = wound.area - sum(area for _, area in pieces)
        if _HAIR < left < smallest * (1 - _HAIR) and not wound.is_whole:
            column, area = max(pieces, key=lambda piece: piece[1])
            if left < smallest / 2 or area + left < 2 * smallest:
                yield column, min(area + left, float(solved.program.upper[column])), float(solved.program.upper[column])
            else:
                yield column, 0.0, area + left - smallest


def _harvests(solved: DaysSolved) -> Iterator[tuple[int, float, float]]:
    """No harvest below the smallest."""
    facts, course = solved.course.facts, solved.course
    for d, donor in enumerate(facts.donors):
        smallest = min(facts.quantities.smallest_harvest, tenths(donor.sites[0].area_cm2)) / facts.percent
        columns = [int(c[d, 0]) for c in (course.thin, course.medium) if c[d, 0] >= 0]
        total = sum(float(solved.values[c]) for c in columns)
        if columns and _HAIR < total < smallest * (1 - _HAIR):
            column = max(columns, key=lambda c: solved.values[c])
            is_raised = total > smallest / 2 and solved.program.upper[column] >= smallest
            yield (column, smallest, float(solved.program.upper[column])) if is_raised else (column, 0.0, 0.0)


def _minutes_missing(solved: DaysSolved) -> float | None:
    """Minutes of a turn and of special areas that the model has not counted; ``None`` when nothing changes."""
    course = solved.course
    budget = course.facts.quantities.whole_budget
    turn = budget.turn_minutes if all(used[0] > _HAIR for used in used_lying(solved).values()) else 0.0
    counted, regions = 0.0, set()
    for c, _, area, _ in _first(solved):
        wound = course.facts.wounds[c]
        if wound.special_area is not None:
            regions.add(wound.wounds[0].special_region)
            counted += budget.special_minutes * area / wound.special_area
    missing = turn + max(0.0, budget.special_minutes * len(regions) - counted)
    known = -float(solved.program.row_upper[course.minutes_rows[0]])
    return missing if missing > known + _HAIR else None
