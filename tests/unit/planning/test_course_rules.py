"""A course in fractions: what each rule asks for holds in random cases, and breaks without the rule.

Both models are asked: chosen days as a plan has them, and slots of several days as a bound has them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from service.domain.graft import GraftMethod
from service.evidence.library import load_evidence
from service.planning import course_rules
from service.planning.choose_days import course_slots, spaced
from service.planning.chosen_days import believed
from service.planning.course_classes import merged_sites, merged_wounds
from service.planning.course_model import RELAXED, Choices, Facts, Slots, freeze, slots_of_days, start_model
from service.planning.quantities import PlanningQuantities
from service.planning.wound_facts import WoundFacts
from service.preferences.library import load_preferences
from service.solver.answer import SolverFault
from service.solver.highs import HighsSolver
from service.solver.limits import SEARCH
from tests.random_cases import random_case
from tests.unit.planning.kept_rules import (
    HAIR,
    Done,
    charges_what_is_due,
    counts_sessions,
    covers_from_stock,
    excises_each_wound_once,
    excises_what_it_grafts,
    grafts_on_ready_bed,
    grafts_only_in_sessions,
    harvests_no_more_often_than_allowed,
    harvests_what_has_healed,
    has_skin_from_above_for_the_face,
    has_skin_of_each_thickness,
    keeps_blood,
    keeps_excised_area,
    keeps_grafted_area,
    keeps_minutes,
    leaves_open_at_most,
    lies_one_way,
    places_each_wound_once,
    rests,
)

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
#: First what few cases show: lying one way, a face that skin from above the clavicle covers, losses without skin.
SEEDS = (102, 122, 112, 288, 164, *range(30))
#: These have blood enough that it limits nothing, and may be excised half as much as grafted.
TRANSFUSED = range(5)
DAYS = (0, 2, 7, 14, 28, 42)
#: As a plan is searched: least open first, room for rounding, losses regrafted at one level.
PLANNED = Choices(open_cost=10_000.0, first_margin=SEARCH.first_margin, later_margin=SEARCH.later_margin,
                  regraft_level=GraftMethod.MESHED_1_1_5)


ASKED = (
    (course_rules.place_each_wound_once, places_each_wound_once),
    (course_rules.count_sessions, counts_sessions),
    (course_rules.nothing_without_a_session, grafts_only_in_sessions),
    (course_rules.session_area, keeps_grafted_area),
    (course_rules.session_area, keeps_excised_area),
    (course_rules.session_blood, keeps_blood),
    (course_rules.session_minutes_rule, keeps_minutes),
    (course_rules.skin_balance, has_skin_of_each_thickness),
    (course_rules.skin_balance, has_skin_from_above_for_the_face),
    (course_rules.donor_regrowth, harvests_what_has_healed),
    (course_rules.donor_harvest_count, harvests_no_more_often_than_allowed),
    (course_rules.donor_harvest_count, charges_what_is_due),
    (course_rules.skin_for_losses, charges_what_is_due),
    (course_rules.graft_on_ready_bed, grafts_on_ready_bed),
    (course_rules.excise_each_wound_once, excises_each_wound_once),
    (course_rules.cover_excised_bed, covers_from_stock),
    (course_rules.cover_excised_bed, excises_what_it_grafts),
    (course_rules.cover_excised_bed, charges_what_is_due),
    (course_rules.rest_between_sessions, rests),
    (course_rules.position, lies_one_way),
    (course_rules.open_at_most, leaves_open_at_most),
)


# -- courses of random cases


@lru_cache(maxsize=1)
def cases() -> tuple[Facts, ...]:
    transfused = (replace(case, limits=replace(
        case.limits, blood_ml=10 * case.blood_volume_ml, excised_cm2=case.limits.grafted_cm2 / 2))
        for case in map(random_case, TRANSFUSED))
    return tuple(_facts(case) for case in (*transfused, *map(random_case, SEEDS)))


def _facts(case) -> Facts:
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    wounds = merged_wounds(quantities, tuple(WoundFacts(w, quantities) for w in case.wounds))
    return Facts(quantities, wounds, merged_sites(quantities), case.first_session_day)


def on_days(facts: Facts) -> Done:
    days = spaced(facts, [facts.first_session_day + day for day in DAYS])
    return _solve(facts, slots_of_days(days), PLANNED, None)


def in_slots(facts: Facts, open_at_most: float) -> Done:
    return _solve(facts, course_slots(facts, SEARCH.single_days, SEARCH.fine_slots), RELAXED, open_at_most)


def _solve(facts: Facts, slots: Slots, choices: Choices, open_at_most: float | None) -> Done:
    course = course_rules.add_rules(start_model(facts, slots, choices))
    program = freeze(course)
    if open_at_most is not None and course_rules.open_at_most in course_rules.RULES:
        row_upper = program.row_upper.copy()
        row_upper[course.open_row] = open_at_most
        program = replace(program, row_upper=row_upper)
    return Done(believed(course, program, HighsSolver().solve(program)), open_at_most)


@lru_cache(maxsize=1)
def planned() -> tuple[Done, ...]:
    """Every case on days, with every rule."""
    return tuple(on_days(facts) for facts in cases())


@lru_cache(maxsize=1)
def bounded() -> tuple[Done, ...]:
    """Every case in slots, with every rule, with no more open than on days."""
    return tuple(in_slots(done.facts, done.left_open.sum()) for done in planned())


def solved_anew() -> Iterator[Done]:
    """Courses by the rules of now, as they are asked for."""
    for done in planned():
        yield on_days(done.facts)
        yield in_slots(done.facts, done.left_open.sum())


def test_every_rule_is_asked_for():
    assert {rule for rule, _ in ASKED} == set(course_rules.RULES)


def test_the_cases_have_what_rules_speak_of():
    stated = [facts.quantities.case for facts in cases()]
    assert {facts.cover_stock > 0 for facts in cases()} == {True, False}
    assert {bool(case.request.theatre_days) for case in stated} == {True, False}
    assert {case.limits.positions for case in stated} == {1, 2}


@pytest.mark.parametrize("keeps", dict.fromkeys(keeps for _, keeps in ASKED), ids=lambda keeps: keeps.__name__)
def test_every_course_keeps_what_is_asked_for(keeps):
    assert all(keeps(done) for done in (*planned(), *bounded()))


@pytest.mark.parametrize(("rule", "keeps"), ASKED, ids=lambda function: function.__name__)
def test_without_the_rule_some_course_breaks_it(rule, keeps, monkeypatch):
    planned()  # what they leave open is by every rule
    monkeypatch.setattr(course_rules, "RULES", tuple(other for other in course_rules.RULES if other is not rule))
    assert any(not keeps(done) for done in solved_anew())


def test_days_nearer_than_the_rest_have_no_course(monkeypatch):
    facts = next(f for f in cases() if f.quantities.case.limits.rest_days > 1)
    near = slots_of_days((facts.first_session_day, facts.first_session_day + 1))
    with pytest.raises(SolverFault):
        _solve(facts, near, PLANNED, None)
    monkeypatch.setattr(course_rules, "RULES", tuple(
        rule for rule in course_rules.RULES if rule is not course_rules.rest_between_sessions))
    assert _solve(facts, near, PLANNED, None).held.sum() == len(near)


def test_bed_under_cover_is_grafted_before_the_cover_ends():
    changed = 0
    for done in planned():
        facts, second = done.facts, int(done.slots.first[1])
        waiting = np.array([w.ready > 0 and len(w.options) > 0 for w in facts.wounds]) * done.bed[:, 1]
        if waiting.sum() < 1:
            continue
        excised = tuple(replace(w, newly_open=w.ready * (bed > HAIR))
                        for w, bed in zip(facts.wounds, waiting, strict=True))
        covers = ((sum(w.newly_open for w in excised), second),)
        anew = on_days(replace(facts, wounds=excised, covers=covers, cover_left=0.0))
        changed += anew.newly_open[1:].sum() < waiting.sum()
        assert anew.charged_beside >= PLANNED.open_cost * anew.newly_open[1:].sum() - 1
    assert changed


def test_a_course_that_excises_nothing_ahead_lays_no_cover():
    laid = [_solve(done.facts, done.slots, replace(PLANNED, excises_ahead=False), None).newly_open.sum()
            for done in planned()]
    assert max(laid) < HAIR < max(done.newly_open.sum() for done in planned())


def test_slots_cost_no_more_than_days_within_them():
    for days, slots in zip(planned(), bounded(), strict=True):
        assert slots.solved.cost <= days.solved.cost - PLANNED.open_cost * days.left_open.sum() + HAIR
