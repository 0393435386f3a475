"""The first session in whole pieces: what each rule asks for holds in random cases, and breaks without the rule."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
import pytest

from service.domain.body_region import Position
from service.domain.graft import GraftKind
from service.evidence.library import load_evidence
from service.planning import whole_session
from service.planning.chosen_days import DaysSolved, solve_days
from service.planning.course_classes import merged_sites, planned_wounds
from service.planning.course_model import Choices, Facts, session_minutes, session_positions
from service.planning.quantities import PlanningQuantities, tenths
from service.planning.whole_session import solve_whole_session
from service.planning.wound_facts import WoundFacts
from service.preferences.library import load_preferences
from service.solver.answer import SolverFault
from service.solver.highs import HighsSolver
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
SEEDS = range(40)
HAIR = 1e-4


@lru_cache(maxsize=1)
def in_fractions() -> tuple[DaysSolved, ...]:
    """Three sessions of each case, in fractions."""
    return tuple(solved for seed in SEEDS if (solved := _solve_three_days(random_case(seed))) is not None)


def _solve_three_days(case) -> DaysSolved | None:
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    wounds = planned_wounds(quantities, tuple(WoundFacts(w, quantities) for w in case.wounds))
    facts = Facts(quantities, wounds, merged_sites(quantities), case.first_session_day)
    first, rest = case.first_session_day, case.limits.rest_days
    try:
        return solve_days(facts, (first, first + rest, first + 5 * rest), Choices(open_cost=1000.0), HighsSolver())
    except SolverFault:
        return None


def in_pieces(solved: DaysSolved) -> DaysSolved | None:
    try:
        return solve_whole_session(solved, HighsSolver())
    except SolverFault:
        return None


def grafts(solved: DaysSolved) -> Iterator[tuple[int, float]]:
    """Class and area of each graft of the first session."""
    for option, area in enumerate(solved.amount(solved.course.grafted)[:, 0]):
        if area > HAIR:
            yield int(solved.course.option_class[option]), float(area)


def keeps_smallest_piece(solved: DaysSolved) -> bool:
    facts = solved.course.facts
    for index, wound in enumerate(facts.wounds):
        smallest = min(w.piece for w in wound.wounds) / facts.percent
        areas = [area for c, area in grafts(solved) if c == index]
        left = wound.area - sum(areas)
        if any(area < smallest - HAIR for area in areas) or (areas and HAIR < left < smallest - HAIR):
            return False
    return True


def keeps_whole_region(solved: DaysSolved) -> bool:
    wounds = solved.course.facts.wounds
    return all(abs(area - wounds[c].area) < HAIR for c, area in grafts(solved) if wounds[c].is_whole)


def keeps_spare_skin_of_plates(solved: DaysSolved) -> bool:
    course = solved.course
    grafted = solved.amount(course.grafted)[:, 0]
    islands = np.array([o.method.kind is GraftKind.ISLAND for o in course.options], bool)
    quantities = course.facts.quantities
    plate = float(quantities.plate_hundredths / quantities.kept_fraction) / 10 / course.facts.percent
    there = islands & (grafted > HAIR)
    methods = {o.method for o, is_there in zip(course.options, there, strict=True) if is_there}
    spare = plate / 2 * (there.sum() / quantities.plate_parts + len(methods))
    thin = np.array([o.thickness.value == "thin" for o in course.options], bool)
    return solved.amount(course.thin)[:, 0].sum() >= (grafted * course.option_skin)[thin].sum() + spare - HAIR


def keeps_smallest_harvest(solved: DaysSolved) -> bool:
    course = solved.course
    harvested = solved.amount(course.thin)[:, 0] + solved.amount(course.medium)[:, 0]
    smallest = [min(course.facts.quantities.smallest_harvest, *(tenths(s.area_cm2) for s in d.sites))
                / course.facts.percent for d in course.facts.donors]
    return all(area < HAIR or area > least - HAIR for area, least in zip(harvested, smallest, strict=True))


def minutes(solved: DaysSolved) -> float:
    """Minutes of the first session beyond its fixed part, by the rules of a plan."""
    facts = solved.course.facts
    budget, wounds = facts.quantities.whole_budget, facts.wounds
    per_percent = budget.per_tenth_minutes * facts.percent
    operated = sum(max(
        sum(area for c, area in grafts(solved) if c == index),
        solved.amount(solved.course.excised)[index, 0]) for index in range(len(wounds)))
    special = {wounds[c].wounds[0].special_region for c, _ in grafts(solved)} - {None}
    may_turn = session_positions(facts, solved.course.slots)[0] > 1  # else the position is chosen before
    lying = {pose for pose in Position if may_turn and _is_used(solved, frozenset({pose}))}
    return per_percent * operated + budget.special_minutes * len(special) + budget.turn_minutes * (len(lying) == 2)


def _is_used(solved: DaysSolved, only: frozenset[Position]) -> bool:
    facts = solved.course.facts
    skin = solved.amount(solved.course.thin)[:, 0] + solved.amount(solved.course.medium)[:, 0]
    return (any(facts.wounds[c].reached == only for c, _ in grafts(solved))
            or any(d.reached == only and area > HAIR for d, area in zip(facts.donors, skin, strict=True)))


def keeps_minutes(solved: DaysSolved) -> bool:
    return minutes(solved) <= session_minutes(solved.course)[0] + HAIR


def keeps_one_load(solved: DaysSolved) -> bool:
    return len({solved.course.facts.wounds[c].loaded for c, _ in grafts(solved)} - {None}) < 2


RULES = {
    whole_session.smallest_piece: keeps_smallest_piece,
    whole_session.whole_region: keeps_whole_region,
    whole_session.spare_skin_of_plates: keeps_spare_skin_of_plates,
    whole_session.smallest_harvest: keeps_smallest_harvest,
    whole_session.minutes_of_turn: keeps_minutes,
    whole_session.minutes_of_special_areas: keeps_minutes,
    whole_session.one_load: keeps_one_load,
}


def test_every_rule_has_its_test():
    assert set(RULES) == set(whole_session.RULES)


def test_the_session_keeps_every_rule():
    found = [solved for one in in_fractions() if (solved := in_pieces(one)) is not None]
    assert len(found) > len(SEEDS) // 2
    for rule, keeps in RULES.items():
        assert all(keeps(solved) for solved in found), rule.__name__


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_without_the_rule_some_session_breaks_it(rule, monkeypatch):
    monkeypatch.setattr(whole_session, "RULES", tuple(other for other in whole_session.RULES if other is not rule))
    found = (in_pieces(one) for one in in_fractions())
    assert any(not RULES[rule](solved) for solved in found if solved is not None)


def test_pieces_cost_no_less_than_fractions():
    for one in in_fractions():
        solved = in_pieces(one)
        assert solved is None or solved.cost >= one.cost - HAIR
