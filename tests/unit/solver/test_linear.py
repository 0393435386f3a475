"""Linear problems from arrays, the solver, and a bound that trusts nobody."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.solver.answer import SolverFault, SolveStatus, believe, dual_bound
from service.solver.highs import HighsSolver
from service.solver.linear_model import ABSENT, LinearModel


def least_cost_cover(need=5.0):
    """Cover a need from three sources of which the second is empty: costs 1, 2 and 3 each."""
    model = LinearModel()
    columns = model.columns(3, upper=[3, 0, 10], cost=[1, 2, 3])
    row = model.rows(1, lower=need)
    model.put(row, columns, 1)
    return model.freeze(), columns


def test_a_column_that_can_only_be_zero_is_not_made():
    program, columns = least_cost_cover()
    assert list(columns) == [0, ABSENT, 1]
    assert len(program.cost) == 2


def test_entries_are_broadcast_and_stand_by_column():
    model = LinearModel()
    columns = model.columns((2, 3), upper=1.0)
    rows = model.rows(3, upper=[1, 2, 3])
    model.put(rows, columns, np.array([[1.0], [2.0]]))
    program = model.freeze()
    assert list(program.columns) == [0, 1, 2, 3, 4, 5]
    assert list(program.rows) == [0, 1, 2, 0, 1, 2]
    assert list(program.values) == [1, 1, 1, 2, 2, 2]


def test_the_solution_and_its_bound_agree():
    program, _ = least_cost_cover()
    answer = believe(program, HighsSolver().keep(program))
    assert list(answer.values) == pytest.approx([3, 2])
    assert dual_bound(program, answer.duals) == pytest.approx(9) and dual_bound(program, answer.duals) <= 9


@settings(max_examples=50, deadline=None)
@given(st.floats(-100, 100, allow_nan=False))
def test_any_dual_gives_a_bound_that_is_not_above_the_optimum(dual):
    program, _ = least_cost_cover()
    assert dual_bound(program, np.array([dual])) <= 9


def test_a_kept_problem_is_solved_again_under_other_bounds():
    program, _ = least_cost_cover()
    solver = HighsSolver()
    solver.keep(program)
    other = solver.again(program.lower, np.array([1.0, 10.0]), program.row_upper)
    assert list(other.values) == pytest.approx([1, 4])
    assert list(solver.again(program.lower, program.upper, program.row_upper).values) == pytest.approx([3, 2])


def test_a_problem_without_a_solution_is_not_believed():
    program, _ = least_cost_cover(need=50.0)
    answer = HighsSolver().solve(program)
    assert answer.status is SolveStatus.INFEASIBLE
    with pytest.raises(SolverFault):
        believe(program, answer)
