"""The linear model of chosen days, and what is decided for all of them at once.

On which days front and back may be grafted (nobody lies on a fresh graft), and the position
of each session that may have only one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from service.domain.body_region import Position
from service.planning.course_model import (
    Choices,
    Course,
    Facts,
    freeze,
    reached_only,
    session_positions,
    sites_reached,
    slots_chosen,
    slots_of_days,
    start_model,
)
from service.planning.course_rules import add_rules
from service.solver.answer import LinearAnswer, LinearSolver, SolverFault, SolverTimeOut, believe
from service.solver.linear_model import LinearProgram


@dataclass(frozen=True)
class DaysSolved:
    """A solved model of chosen days. ``cost`` has the price of open area in it."""

    course: Course
    program: LinearProgram
    values: np.ndarray
    duals: np.ndarray
    cost: float

    @property
    def days(self) -> tuple[int, ...]:
        return tuple(int(day) for day in self.course.slots.first)

    def amount(self, columns: np.ndarray) -> np.ndarray:
        """Values of columns, 0 where there is none."""
        return np.where(columns >= 0, self.values[columns], 0.0)


def solve_days(facts: Facts, days: tuple[int, ...], choices: Choices, solver: LinearSolver) -> DaysSolved:
    """The linear model of chosen days under choices.

    Raises
    ------
    SolverFault
        No believable solution: the choices may leave none.
    """
    course = add_rules(start_model(facts, slots_of_days(days), choices))
    program = freeze(course)
    return believed(course, program, solver.solve(program))


def believed(course: Course, program: LinearProgram, answer: LinearAnswer) -> DaysSolved:
    """The solution, if it stands up; ``SolverFault`` if not."""
    believe(program, answer)
    cost = float(program.cost @ answer.values) + course.constant
    return DaysSolved(course, program, answer.values, answer.duals, cost)


def decide_lying(solved: DaysSolved, solver: LinearSolver) -> Choices:
    """Days for front and back, and positions, that cost the solved days least."""
    lying = _Lying(solved, solver)
    lying.choose(_front_and_back(solved))
    lying.choose_positions()
    return lying.best_choices


class _Lying:
    """Choices compared on one kept model, as bounds of its columns."""

    def __init__(self, solved: DaysSolved, solver: LinearSolver) -> None:
        self.solver, self.start = solver, solved
        self.best, self.best_choices = solved, solved.course.choices
        self.is_kept = False

    def choose(self, candidates: Iterable[Choices]) -> None:
        """The cheapest of the candidates takes the place of what was chosen before."""
        found = [(solved.cost, order, solved, choices) for order, choices in enumerate(candidates)
                 if (solved := self._solve(choices)) is not None]
        if found:
            _, _, self.best, self.best_choices = min(found, key=lambda item: item[:2])

    def choose_positions(self) -> None:
        """One position where a session may have only one: what is used more, or the other if that is better."""
        slots = self.start.course.slots
        single = np.flatnonzero(session_positions(self.start.course.facts, slots) == 1)
        if not single.size:
            return
        used, days = used_lying(self.best), self.start.days
        poses = {days[t]: max(Position, key=lambda pose: used[pose][t]) for t in single}
        self.choose([replace(self.best_choices, only_lying=tuple(poses.items()))])
        for day in poses:
            now = dict(self.best_choices.only_lying)
            turned = tuple({**now, day: now[day].other}.items())
            self.choose([self.best_choices, replace(self.best_choices, only_lying=turned)])

    def _solve(self, choices: Choices) -> DaysSolved | None:
        program, course = _within(self.start, choices), self.start.course
        try:
            if not self.is_kept:
                believe(self.start.program, self.solver.keep(self.start.program))
                self.is_kept = True
            return believed(course, program, self.solver.again(program.lower, program.upper, program.row_upper))
        except SolverTimeOut:
            raise
        except SolverFault:
            return None


def _within(solved: DaysSolved, choices: Choices) -> LinearProgram:
    """The model of the days with what the choices exclude held at zero."""
    course, upper = solved.course, solved.program.upper.copy()
    for c, wound in enumerate(course.facts.wounds):
        columns = course.grafted[course.option_class == c][:, ~slots_chosen(wound, choices, course.slots)]
        upper[columns[columns >= 0]] = 0.0
    reached = sites_reached(course.facts, choices, course.slots)
    for columns in (course.thin[~reached], course.medium[~reached]):
        upper[columns[columns >= 0]] = 0.0
    return replace(solved.program, upper=upper)


def _front_and_back(solved: DaysSolved) -> Iterator[Choices]:
    """Front before back, from each session on; a face that waits may come after the back again."""
    facts = solved.course.facts
    case, protect, days = facts.quantities.case, facts.quantities.protect_days, solved.days
    if case.off_loading or all(w.loaded is not Position.SUPINE for w in facts.wounds):
        return
    is_face_late = any(w.loaded is Position.PRONE and w.graft_from > days[0] for w in facts.wounds)
    clear = {pose: max((g.placed_day + protect for w in case.wounds if w.place.loaded_in not in (pose, None)
                        for g in w.placed), default=0) for pose in Position}
    for start in range(len(days) + 1):
        for end in range(start + 1, len(days) + 1) if is_face_late and start < len(days) else [len(days)]:
            after_front = days[start - 1] + protect if start > 0 else 0
            back = {d for d in days[start:end] if d >= max(clear[Position.SUPINE], after_front)}
            after_back = max(back) + protect if back else 0
            front = {d for d in (*days[:start], *days[end:]) if d >= clear[Position.PRONE]}
            front -= {d for d in days[end:] if d < after_back}
            yield replace(solved.course.choices, front_days=frozenset(front), back_days=frozenset(back))


def used_lying(solved: DaysSolved) -> dict[Position, np.ndarray]:
    """Area grafted and harvested by slot that can be reached lying only so."""
    course, used = solved.course, {}
    for pose in Position:
        wounds, sites = reached_only(course.facts, pose)
        used[pose] = solved.amount(course.grafted[wounds[course.option_class]]).sum(axis=0) + sum(
            solved.amount(columns[sites]).sum(axis=0) for columns in (course.thin, course.medium))
    return used
