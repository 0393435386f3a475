"""The frozen benchmark set planned, by band of burn size: how fast, how near to the best, against both baselines.

The optimiser runs as the service runs it, with its solver in a process of its own. Seconds belong to the machine
and the hour; ratios and work counts beside them do not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from statistics import geometric_mean, median
from time import perf_counter

from service.domain.case import GraftingCase
from service.domain.plan import PlanOutcome, SettledPlan
from service.evidence.library import load_evidence
from service.planning.objective import weighted_open_days
from service.planning.optimise import OptimisedPlan, optimise_course
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from tests.bench.area_first import plan_area_first
from tests.bench.frozen_cases import BANDS, FrozenCase, frozen_cases
from tests.reference.case_numbers import CaseNumbers
from tests.reference.plain_formulation import PlainFormulation

#: Seconds that the stock formulation gets for one case; where it ends then, its time counts as this.
STOCK_SECONDS = 20.0
#: Cases above 45 %TBSA on which the stock formulation is run.
STOCK_COUNT = 12
#: Two objectives nearer than this are a tie. [share]
TIE = 0.001


@dataclass(frozen=True)
class Size:
    """A plan in the numbers that are compared. Areas in %TBSA, the objective in %TBSA-days."""

    open_percent: float
    objective_days: float
    sessions: int
    skin_percent: float


@dataclass(frozen=True)
class Measured:
    """One case planned three ways."""

    frozen: FrozenCase
    found: OptimisedPlan
    first_seconds: float  # until a verified plan was in hand that took the place of the rule of thumb, else the end
    seconds: float
    thumb_seconds: float
    best: Size
    thumb: Size
    area_first: Size
    same_days: bool  # as the rule of thumb


def size_of(case: GraftingCase, plan: SettledPlan) -> Size:
    objective = weighted_open_days(PlanningQuantities(case, load_evidence(), load_preferences()), plan)
    firm = {session.day for session in plan.firm_sessions}
    skin = sum((h.area_cm2 for h in plan.harvests if h.day in firm), Decimal(0))
    return Size(float(case.percent_tbsa(plan.open_cm2)), float(objective), len(firm), float(case.percent_tbsa(skin)))


def measure(frozen: FrozenCase) -> Measured:
    """Plan one frozen case by the rule of thumb, by the second baseline and by the optimiser."""
    case, evidence, preferences = frozen.case, load_evidence(), load_preferences()
    started = perf_counter()
    thumb = best_by_rule_of_thumb(case, evidence, preferences)
    thumb_seconds = perf_counter() - started
    accepted_at: list[float] = []

    def accepts(plan: SettledPlan) -> bool:
        is_accepted = verify_plan(case, plan, evidence, preferences) == ()
        accepted_at.extend([perf_counter()] if is_accepted else [])
        return is_accepted

    started = perf_counter()
    found = optimise_course(case, evidence, preferences, thumb, accepts=accepts)
    ended = perf_counter()
    area_first = plan_area_first(case, evidence, preferences)
    assert verify_plan(case, area_first, evidence, preferences) == (), frozen.name
    return Measured(
        frozen, found, thumb_seconds + min([*accepted_at, ended]) - started, thumb_seconds + ended - started,
        thumb_seconds, size_of(case, found.plan), size_of(case, thumb.plan), size_of(case, area_first),
        [s.day for s in found.plan.firm_sessions] == [s.day for s in thumb.plan.firm_sessions])


def quantile(values: Iterable[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def spread(values: Iterable[float], form: str) -> str:
    """Median, 95th percentile, largest."""
    values = list(values)
    return " / ".join(f"{value:{form}}" for value in (median(values), quantile(values, 0.95), max(values)))


def report_plans(measured: list[Measured]) -> None:
    """Tables by band: time and gap, then both baselines."""
    print(f"\n{'band':<13}{'n':>4}  {'first plan, ms':>20}  {'all, ms':>20}  {'gap, %':>20}  "
          "outcomes; problems, iterations")
    for band, group in by_band(measured):
        gaps = [100 * float(m.found.gap) for m in group if m.found.gap is not None]
        outcomes = Counter(str(m.found.outcome) for m in group)
        work = ", ".join(f"{median(getattr(m.found.work, count) for m in group):.0f}"
                         for count in ("problems", "iterations"))
        print(f"{band:<13}{len(group):>4}  {spread((1000 * m.first_seconds for m in group), '.0f'):>20}  "
              f"{spread((1000 * m.seconds for m in group), '.0f'):>20}  {spread(gaps, '.1f') if gaps else 'none':>20}  "
              f"{', '.join(f'{count} {name}' for name, count in sorted(outcomes.items()))}; {work}")
    for name, of in (("rule of thumb", lambda m: m.thumb), ("largest area first", lambda m: m.area_first)):
        report_against(name, of, measured)
    report_ties(measured)


def report_against(name: str, of: Callable[[Measured], Size], measured: list[Measured]) -> None:
    """What the optimised plan costs of a baseline's: 10th percentile, median, 90th of the ratio and differences."""
    print(f"\nagainst {name}: 10th percentile, median, 90th")
    print(f"{'band':<13}{'objective, ratio':>22}{'open at the end, %TBSA':>26}{'sessions':>18}"
          f"{'skin, %TBSA':>22}  ties")
    for band, group in by_band(measured):
        same_open = [m for m in group if abs(m.best.open_percent - of(m).open_percent) < 0.05]
        cells = (
            thirds((m.best.objective_days / of(m).objective_days for m in same_open), ".3f"),
            thirds((m.best.open_percent - of(m).open_percent for m in group), "+.1f"),
            thirds((m.best.sessions - of(m).sessions for m in group), "+.0f"),
            thirds((m.best.skin_percent - of(m).skin_percent for m in group), "+.1f"))
        ties = sum(is_tie(m.best, of(m)) for m in group)
        print(f"{band:<13}{cells[0]:>22}{cells[1]:>26}{cells[2]:>18}{cells[3]:>22}  {100 * ties / len(group):.0f} %")


def thirds(values: Iterable[float], form: str) -> str:
    values = list(values)
    if not values:
        return "none"
    return " ".join(f"{value:{form}}" for value in (quantile(values, 0.1), median(values), quantile(values, 0.9)))


def is_tie(best: Size, baseline: Size) -> bool:
    is_same_open = abs(best.open_percent - baseline.open_percent) < 0.05
    return is_same_open and best.objective_days >= baseline.objective_days * (1 - TIE)


def report_ties(measured: list[Measured]) -> None:
    """Cases in which a baseline is as good, and why."""
    for name, of in (("rule of thumb", lambda m: m.thumb), ("largest area first", lambda m: m.area_first)):
        reasons = Counter(reason_of_tie(m) for m in measured if is_tie(m.best, of(m)))
        print(f"as good, {name}: " + ("; ".join(f"{count} {why}" for why, count in reasons.most_common()) or "none"))


def reason_of_tie(measured: Measured) -> str:
    if measured.best.sessions <= 1:
        return "one session: nothing to order"
    if measured.found.outcome is PlanOutcome.OPTIMAL:
        return "proven: there is nothing more to gain"
    if measured.same_days:
        return "same days, and the bound leaves a gap"
    return "the search ended first"


def by_band(measured: list[Measured]) -> list[tuple[str, list[Measured]]]:
    groups = [(band, [m for m in measured if m.frozen.band == band]) for band in BANDS]
    return [(band, group) for band, group in groups if group]


def stock_days(case: GraftingCase) -> list[int]:
    """Every third day, or the theatre days that the caller names."""
    stated = sorted({case.day_of(theatre.day) for theatre in case.request.theatre_days})
    days = stated or list(range(case.first_session_day, case.horizon_day + 1, 3))
    return [day for day in days if case.first_session_day <= day <= case.horizon_day]


def report_stock(measured: list[Measured]) -> None:
    """Time of the stock formulation to the gap that the optimiser reached, in %TBSA-days, on a sample."""
    large = [m for m in measured if m.frozen.case.burn_percent_tbsa > 45 and m.found.gap_days is not None]
    sample = large[::max(1, len(large) // STOCK_COUNT)][:STOCK_COUNT]
    print(f"\nstock formulation, {len(sample)} of {len(large)} cases above 45 %TBSA, "
          f"at most {STOCK_SECONDS:.0f} s each")
    ratios = []
    for m in sample:
        numbers = CaseNumbers(m.frozen.case, load_evidence(), load_preferences())
        stock = PlainFormulation(numbers, stock_days(m.frozen.case), patches=True)
        gap_days = max(float(m.found.gap_days), 0.1)
        solved = stock.problem.solve_with_highs(seconds=STOCK_SECONDS, absolute_gap=gap_days, threads=2)
        took = min(solved.seconds, STOCK_SECONDS)
        ratios.append(took / m.seconds)
        print(f"  {m.frozen.name:<14}{m.frozen.case.burn_percent_tbsa:>4.0f} %TBSA  {len(stock.problem.cost)} columns, "
              f"{sum(stock.problem.is_whole)} whole  {took:.1f} s {solved.status.lower()}, "
              f"{word_stock(stock, solved)}; "
              f"ours {m.seconds:.2f} s, {m.best.objective_days:.0f} with {m.best.open_percent:.1f} %TBSA open, "
              f"gap {gap_days:.0f} days")
    if ratios:
        print(f"  times slower than the optimiser, geometric mean: at least {geometric_mean(ratios):.0f}")


def word_stock(stock: PlainFormulation, solved) -> str:
    if solved.values is None:
        return "no plan"
    left = sum(float(solved.values[column]) for column in stock.left_open)
    return f"{stock.days_without_price_of_open(solved.objective, solved.values):.0f} with {left:.1f} %TBSA open"


def bench_frozen_set(every: int = 1) -> None:
    """The whole report; ``every`` takes each so-manieth case of the set."""
    measured = [measure(frozen) for frozen in frozen_cases()[::every]]
    print(f"\nfrozen set, {len(measured)} cases: median / 95th percentile / largest")
    report_plans(measured)
    report_stock(measured)
