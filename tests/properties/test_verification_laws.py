"""Laws of the verification, on plans that it accepts and on what becomes of them."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal
from fractions import Fraction
from random import Random

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan, StillOpen
from service.domain.rule import Rule
from service.domain.session import Placement
from service.verification.verify import verify_plan
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    PREFERENCES,
    STEP,
    amended,
    area_per_skin,
    least_harvest_cm2,
)
from tests.unit.verification.random_courses import random_course

SEEDS = st.integers(0, 100_000)
GROUPS = ("sessions", "excisions", "harvests", "placements", "covers", "still_open", "unreserved")
NOT_WEIGHED = frozenset({"units_to_have_ready", "binding_rules"})  # printed, but no rule reads them
NONSENSE = (
    None, "nowhere", 1.5, object(), Decimal("NaN"), Decimal("sNaN"), Decimal("Infinity"), Decimal("-0.1"),
    Decimal("0.05"), Decimal("1E+999999"), Decimal("1E-999999"), -(10**30), (), ("supine",),
)


def verify(case: GraftingCase, plan: SettledPlan):
    return verify_plan(case, plan, EVIDENCE, PREFERENCES)


def broken_rules(case: GraftingCase, plan: SettledPlan) -> set[Rule]:
    return {fault.rule for fault in verify(case, plan)}


@settings(max_examples=100, deadline=None)
@given(seed=SEEDS, choice=st.randoms(use_true_random=False), step=st.sampled_from((STEP, -STEP)))
def test_a_step_more_or_less_on_one_graft_alone_is_refused(seed: int, choice: Random, step: Decimal) -> None:
    """Each step of a firm graft is owed to its wound, each step of a regraft to its loss."""
    case, plan = random_course(seed)
    assume(plan.placements)
    index = choice.randrange(len(plan.placements))
    graft = plan.placements[index]
    changed = amended(plan, "placements", index, area_cm2=graft.area_cm2 + step)
    owed = Rule.FAILED_GRAFTS_COME_BACK if graft.is_regraft else Rule.PLACE_EACH_WOUND_ONCE
    assert owed in broken_rules(case, changed)


@settings(max_examples=100, deadline=None)
@given(seed=SEEDS, choice=st.randoms(use_true_random=False), step=st.sampled_from((STEP, -STEP)))
def test_a_step_moved_between_graft_and_open_wound_is_refused_or_balances(
    seed: int, choice: Random, step: Decimal
) -> None:
    """Where the moved step is accepted, the graft still has its skin, and the wound its bed."""
    case, plan = random_course(seed)
    firm = [index for index, graft in enumerate(plan.placements) if not graft.is_regraft]
    assume(firm)
    index = choice.choice(firm)
    moved = _move_to_graft(plan, index, step)
    if moved is not None and not verify(case, moved):
        assert _balances(case, moved, moved.placements[index])


def _move_to_graft(plan: SettledPlan, index: int, step: Decimal) -> SettledPlan | None:
    """One step taken from the open rest of the wound, or given to it; ``None`` if nothing is open."""
    graft = plan.placements[index]
    open_cm2 = {left.wound_id: left.area_cm2 for left in plan.still_open}
    rest = open_cm2.get(graft.wound_id, Decimal(0)) - step
    if rest < 0:
        return None
    open_cm2[graft.wound_id] = rest
    still_open = tuple(StillOpen(wound_id, area) for wound_id, area in open_cm2.items() if area)
    moved = amended(plan, "placements", index, area_cm2=graft.area_cm2 + step)
    return replace(moved, still_open=still_open)


def _balances(case: GraftingCase, plan: SettledPlan, graft: Placement) -> bool:
    wound = next(wound for wound in case.wounds if wound.wound_id == graft.wound_id)
    same_wound = [p for p in plan.placements if p.wound_id == wound.wound_id and not p.is_regraft]
    placed = sum(p.area_cm2 for p in same_wound)
    left = sum(o.area_cm2 for o in plan.still_open if o.wound_id == wound.wound_id)
    bed = wound.excised_cm2 + sum(e.area_cm2 for e in plan.excisions if e.wound_id == wound.wound_id)
    covered = Fraction(graft.skin_cm2) * Fraction(area_per_skin(graft.method, wound.place))
    return placed + left == wound.area_cm2 and placed <= bed and graft.area_cm2 <= covered


@settings(max_examples=100, deadline=None)
@given(seed=SEEDS, choice=st.randoms(use_true_random=False))
def test_a_step_less_harvested_is_refused_or_still_enough(seed: int, choice: Random) -> None:
    """A harvest may lose a step only where it was larger than its grafts need."""
    case, plan = random_course(seed)
    assume(plan.harvests)
    index = choice.randrange(len(plan.harvests))
    harvest = plan.harvests[index]
    less = amended(plan, "harvests", index, area_cm2=harvest.area_cm2 - STEP)
    site = next(site for site in case.donor_sites if site.site_id == harvest.site_id)
    grafts = tuple(
        p for p in plan.placements if p.day == harvest.day
        and (p.skin_class.thickness, p.skin_class.above_clavicle) == (harvest.thickness, site.above_clavicle))
    is_enough = harvest.area_cm2 - STEP >= least_harvest_cm2(grafts)
    assert (Rule.SKIN_BALANCE in broken_rules(case, less)) == (not is_enough)


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, choice=st.randoms(use_true_random=False), is_broken=st.booleans())
def test_the_order_of_acts_never_changes_the_verdict(seed: int, choice: Random, is_broken: bool) -> None:
    case, plan = random_course(seed)
    if is_broken:
        plan = _break_somewhere(plan, choice)
    shuffled = replace(plan, **{
        group: tuple(choice.sample(getattr(plan, group), len(getattr(plan, group)))) for group in GROUPS})
    assert verify(case, shuffled) == verify(case, plan)
    assert bool(verify(case, plan)) == is_broken


def _break_somewhere(plan: SettledPlan, choice: Random) -> SettledPlan:
    """An excision, a harvest or a graft on an unknown place, or a session on a wrong day."""
    groups = [group for group in GROUPS[:4] if getattr(plan, group)]
    assume(groups)
    group = choice.choice(groups)
    field = {"sessions": "day", "harvests": "site_id"}.get(group, "wound_id")
    index = choice.randrange(len(getattr(plan, group)))
    value = getattr(plan, group)[index].day + 1 if field == "day" else "nowhere"
    return amended(plan, group, index, **{field: value})


@settings(max_examples=300, deadline=None)
@given(seed=SEEDS, choice=st.randoms(use_true_random=False), value=st.sampled_from(NONSENSE))
def test_nonsense_is_refused_and_never_raises(seed: int, choice: Random, value: object) -> None:
    case, plan = random_course(seed)
    groups = [group for group in GROUPS if getattr(plan, group)]
    assume(groups)
    group = choice.choice(groups)
    index = choice.randrange(len(getattr(plan, group)))
    part = getattr(plan, group)[index]
    field = choice.choice([f.name for f in fields(part) if f.name not in NOT_WEIGHED])
    assume(getattr(part, field) is not value)
    assert verify(case, amended(plan, group, index, **{field: value}))


@given(group=st.sampled_from(GROUPS), value=st.sampled_from((None, "nowhere", 5, (None,), (object(),))))
def test_a_group_of_nonsense_is_refused_and_never_raises(group: str, value: object) -> None:
    case, plan = random_course(1)
    assert verify(case, replace(plan, **{group: value}))
