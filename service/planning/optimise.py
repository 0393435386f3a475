"""The course of one case with a proven bound: sessions chosen by linear models, settled and judged.

First the relaxed model: a bound, and days that it would like. Then models of chosen days beside
each other, the best of them played session by session. The rule of thumb is the first plan in
hand, so that the answer is never worse than it.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from decimal import ROUND_FLOOR, Decimal

from service.domain.case import GraftingCase
from service.domain.plan import PlanOutcome, SearchEnd, SettledPlan, SkinPrice
from service.domain.search_news import SearchNews, SearchStep, SearchWatch
from service.evidence.library import Evidence
from service.planning.choose_days import course_slots, days_of_bound, neighbours, spaced
from service.planning.chosen_days import DaysSolved, decide_lying, solve_days
from service.planning.course_bound import Root, branch, least_open, solve_root
from service.planning.course_classes import merged_sites, merged_wounds, planned_wounds, single_wounds
from service.planning.course_model import Choices, Facts
from service.planning.decisions import unkept_decisions
from service.planning.losses import reserve_for_losses
from service.planning.objective import unavoidable_days, weighted_open_days
from service.planning.quantities import PlanningQuantities, tenths
from service.planning.rule_of_thumb import ThumbPlan, best_by_rule_of_thumb, cover_holds
from service.planning.settle import settle
from service.planning.settle_days import play_days
from service.planning.skin_prices import skin_prices
from service.planning.work import CountingSolver, WorkCounts, WorkEnded
from service.planning.wound_facts import WoundFacts
from service.preferences.library import Preferences
from service.solver.answer import SolverFault, SolverTimeOut
from service.solver.limits import SEARCH
from service.solver.process import SOLVERS, SolverPool

_TENTH = Decimal("0.1")
_GAP_STEP = _TENTH * _TENTH * _TENTH * _TENTH  # a hundredth of a per cent
_HAIR = 1e-9


@dataclass(frozen=True)
class OptimisedPlan:
    """The best plan in hand, what is proven about it, and how the search ended.

    ``bound_days``: no plan that leaves as little open costs less; ``None`` when nothing was
    proven. ``gap``: what may be left to gain, as a share of the days that a plan can avoid.
    [%TBSA-days]; ``thumb_days``: objective of the rule of thumb, which may leave more open.
    """

    plan: SettledPlan
    objective_days: Decimal
    bound_days: Decimal | None
    gap: Decimal | None
    outcome: PlanOutcome
    thumb_days: Decimal
    thumb_open_cm2: Decimal
    search_end: SearchEnd = SearchEnd.WORK
    work: WorkCounts = field(default_factory=WorkCounts)
    skin_prices: tuple[SkinPrice, ...] = ()

    @property
    def gap_days(self) -> Decimal | None:
        return None if self.bound_days is None else self.objective_days - self.bound_days


def optimise_course(case: GraftingCase, evidence: Evidence, preferences: Preferences,
                    thumb: ThumbPlan | None = None, *, accepts: Callable[[SettledPlan], bool],
                    in_hand: SettledPlan | None = None, seconds: float | None = None,
                    solvers: SolverPool = SOLVERS, watch: SearchWatch | None = None) -> OptimisedPlan:
    """Search for the best course of a case and prove how good it is.

    Parameters
    ----------
    case, evidence, preferences : what to plan, and with which numbers and judgements
    thumb : the plan of the rule of thumb, if it is at hand already
    accepts : whether a plan keeps every rule; only such a plan takes the place of another
    in_hand : a plan that is there already, for the search to better
    seconds : what the work allowed takes at most on one core; by default what the request allows
    solvers : where the solver process comes from
    watch : gets the news of the search, if somebody waits for it

    Returns
    -------
    OptimisedPlan
        Never worse than the rule of thumb. When the solver fails, that very plan under its name.
    """
    thumb = thumb or best_by_rule_of_thumb(case, evidence, preferences)
    allowed = float(case.request.search_seconds) if seconds is None else seconds
    search = _Search(PlanningQuantities(case, evidence, preferences), thumb, accepts, watch)
    if in_hand is not None:
        search.offer(in_hand)
    try:
        with solvers.lend(allowed * SEARCH.clock_factor) as solver:
            search.run(CountingSolver(solver, int(allowed * SEARCH.work_a_second)))
    except SolverTimeOut:
        search.end = SearchEnd.CLOCK
    except (SolverFault, OSError):
        search.end = SearchEnd.FAULT
    return search.result()


@dataclass
class _InHand:
    """A plan with what it is compared by."""

    plan: SettledPlan
    objective_days: Decimal
    unkept: int  # decisions of the caller that it does not keep

    @property
    def rank(self) -> tuple:
        """Decisions kept, least open, least weighted days; then fewer sessions, then fewer sites opened."""
        sites = {h.site_id for h in self.plan.harvests}
        return self.unkept, self.plan.open_cm2, self.objective_days, len(self.plan.sessions), len(sites)


class _Search:
    """One search: the best plan and the best bound so far."""

    def __init__(self, quantities: PlanningQuantities, thumb: ThumbPlan,
                 accepts: Callable[[SettledPlan], bool], watch: SearchWatch | None) -> None:
        self.quantities, self.case, self.thumb, self.accepts = quantities, quantities.case, thumb, accepts
        self.watch = watch
        self.wounds = tuple(WoundFacts(w, quantities) for w in self.case.wounds)
        self.best = self._in_hand(thumb.plan, thumb.objective_days)
        self.bound: float | None = None
        self.least_open_percent = 0.0
        self.end = SearchEnd.WORK
        self.work = WorkCounts()
        self.prices: tuple[SkinPrice, ...] = ()
        first = self.case.first_session_day
        self.merged = Facts(quantities, merged_wounds(quantities, self.wounds), merged_sites(quantities), first)
        self.singles = single_wounds(quantities, self.wounds)
        self.planned = planned_wounds(quantities, self.wounds)
        self.slots = course_slots(self.merged, SEARCH.single_days, SEARCH.fine_slots)

    def run(self, solver: CountingSolver) -> None:
        """Bound, days, plans, better bound; each part as long as there is work left."""
        self.work = solver.counts
        if not self.merged.wounds or not len(self.slots):
            return
        self._tell(SearchStep.BOUND)
        root = self._bound_best(solver)
        self._tell(SearchStep.DAYS)
        if self._is_near_enough():
            return
        with suppress(WorkEnded):
            for solved in self._likely_days(root, solver):
                self._tell(SearchStep.SESSIONS)
                self._play(solved, solver)
                if self._is_near_enough():
                    break
        self._tell(SearchStep.PROOF)
        self._prove(solver)
        self._price(solver)
        self._tell(SearchStep.PROOF)

    # -- bounds

    def _bound_best(self, solver: CountingSolver) -> Root:
        """The relaxed model for plans that leave as little open as the best in hand."""
        root = solve_root(self.merged, self.slots, self._open_percent(self.best.plan), solver)
        self.bound = root.bound
        return root

    def _prove(self, solver: CountingSolver) -> None:
        """The bound for the area that the best plan leaves open, made better by branching."""
        prover = _with_more_work(solver, SEARCH.share_to_prove)
        with suppress(WorkEnded):
            root = self._bound_best(prover)
            if self._open_percent(self.best.plan) > self._unplannable_percent() + _HAIR:
                self.least_open_percent = least_open(root, prover)
            near = float(self.best.objective_days) * (1 - _HAIR)
            self.bound = branch(root, near, SEARCH.bound_nodes, prover)

    def _price(self, solver: CountingSolver) -> None:
        """What more skin would be worth; nothing where the work does not suffice to say it."""
        with suppress(WorkEnded):
            self.prices = skin_prices(self.quantities, self.singles, self.wounds, self.best.plan, self._choices(),
                                      _with_more_work(solver, SEARCH.share_to_price))

    def _open_percent(self, plan: SettledPlan) -> float:
        return tenths(plan.open_cm2) / float(self.quantities.percent_tenths)

    def _unplannable_percent(self) -> float:
        """Area that no plan grafts: no method is allowed on it."""
        return sum(w.area for w in self.merged.wounds if not w.options)

    # -- days and plans

    def _likely_days(self, root: Root, solver: CountingSolver) -> list[DaysSolved]:
        """Chosen days with the cheapest models: from the bound, from the rule of thumb, and beside the best."""
        thumb_days = tuple(s.day for s in self.thumb.plan.firm_sessions)
        decided = [self.case.day_of(d.day) for d in self.case.request.fixed_decisions if d.day is not None]
        guesses = [*days_of_bound(self.merged, self.slots, root.held, SEARCH.thresholds), thumb_days]
        guesses = [spaced(self.merged, sorted({*days, *decided})) if decided else days for days in guesses]
        found: dict[tuple[int, ...], DaysSolved] = {}
        for days in dict.fromkeys(guesses):
            self._try(days, found, solver)
        self._improve(found, solver)
        cheapest = sorted(found.values(), key=lambda s: (s.cost, len(s.days), s.days))[:SEARCH.plays]
        by_thumb = [found[days] for days in (thumb_days,) if days in found and all(s.days != days for s in cheapest)]
        return cheapest[:1] + self._under_cover(cheapest[:1], solver) + cheapest[1:] + by_thumb

    def _under_cover(self, cheapest: list[DaysSolved], solver: CountingSolver) -> list[DaysSolved]:
        """The days once more with bed excised ahead, where cover is in stock."""
        if not self.merged.cover_stock:
            return []
        choices = replace(self._choices(), excises_ahead=True)
        again = (self._solved(solved.days, choices, solver) for solved in cheapest)
        return [solved for solved in again if solved is not None]

    def _try(self, days: tuple[int, ...], found: dict, solver: CountingSolver) -> DaysSolved | None:
        solved = None if not days or days in found else self._solved(days, self._choices(), solver)
        if solved is not None:
            found[days] = solved
        return solved

    def _solved(self, days: tuple[int, ...], choices: Choices, solver: CountingSolver) -> DaysSolved | None:
        """The model of chosen days; none where the solver finds no solution to believe."""
        try:
            return solve_days(self.merged, days, choices, solver)
        except SolverTimeOut:
            raise
        except SolverFault:
            return None

    def _choices(self) -> Choices:
        dearest = max(w.weight for w in self.merged.wounds) * self.case.horizon_day
        return Choices(open_cost=10 * dearest, first_margin=SEARCH.first_margin,
                       later_margin=SEARCH.later_margin, regraft_level=self.thumb.policy.level, excises_ahead=False)

    def _improve(self, found: dict, solver: CountingSolver) -> None:
        """Walk to cheaper days while there are some, at most so many models."""
        best = min(found.values(), key=lambda s: (s.cost, s.days), default=None)
        left = SEARCH.neighbours
        enough = SEARCH.share_beside * solver.work_limit
        while best is not None and left > 0 and solver.counts.work < enough:
            better = None
            for days in neighbours(self.merged, best.days):
                solved = self._try(days, found, solver)
                left -= solved is not None
                if solved is not None and solved.cost < best.cost - _HAIR:
                    better = solved
                if better is not None or left <= 0 or solver.counts.work > enough:
                    break
            if better is None:
                return
            best = better

    def _play(self, solved: DaysSolved, solver: CountingSolver) -> None:
        """Play the days session by session; the plan counts if it is better and keeps every rule."""
        choices = decide_lying(solved, solver)
        course = play_days(self.quantities, self.planned, self.wounds, solved.days, choices, self.thumb.policy,
                           solver)
        if not cover_holds(course):
            return
        self.offer(settle(course, reserve_for_losses(course, self.thumb.policy)))

    def offer(self, plan: SettledPlan) -> None:
        """Take a plan in hand if it is better than the best and keeps every rule."""
        found = self._in_hand(plan, weighted_open_days(self.quantities, plan))
        if found.rank < self.best.rank and self.accepts(plan):
            self.best = found

    def _in_hand(self, plan: SettledPlan, objective_days: Decimal) -> _InHand:
        return _InHand(plan, objective_days, len(unkept_decisions(self.case, plan)))

    # -- the answer

    def _tell(self, step: SearchStep) -> None:
        if self.watch is not None:
            best = self.best
            self.watch.latest = SearchNews(
                step, best.objective_days, self._bound_days(), self._gap(), best.plan.open_cm2,
                len(best.plan.firm_sessions))

    def _gap(self) -> Decimal | None:
        """What may be left to gain, as a share of what a plan can avoid at all."""
        if self.bound is None:
            return None
        avoidable = float(self.best.objective_days) - unavoidable_days(self.quantities, self.best.plan)
        left = max(0.0, float(self.best.objective_days) - self.bound)
        return Decimal(min(1.0, left / avoidable) if avoidable > _HAIR else 0.0).quantize(_GAP_STEP)

    def _is_near_enough(self) -> bool:
        gap = self._gap()
        return gap is not None and gap <= self.quantities.preferences.value("optimal-gap") and self._is_least_open()

    def _is_least_open(self) -> bool:
        least = max(self._unplannable_percent(), self.least_open_percent)
        return self._open_percent(self.best.plan) <= least + SEARCH.open_tolerance_percent

    def _outcome(self) -> PlanOutcome:
        if self._is_near_enough():
            return PlanOutcome.OPTIMAL
        is_thumb = self.best.plan is self.thumb.plan
        if is_thumb and (self.bound is None or self.end is not SearchEnd.WORK):
            return PlanOutcome.RULE_OF_THUMB
        return PlanOutcome.BEST_FOUND

    def _bound_days(self) -> Decimal | None:
        return None if self.bound is None else Decimal(self.bound).quantize(_TENTH, ROUND_FLOOR)

    def result(self) -> OptimisedPlan:
        return OptimisedPlan(
            self.best.plan, self.best.objective_days, self._bound_days(), self._gap(), self._outcome(),
            self.thumb.objective_days, self.thumb.plan.open_cm2, self.end, self.work,
            self.prices)


def _with_more_work(solver: CountingSolver, share: float) -> CountingSolver:
    """The solver with so much more work allowed than is done, as a share of the whole."""
    return solver.with_limit(solver.counts.work + int(share * solver.work_limit))
