"""The whole service as one short function: a burn record in, a verified graft plan out."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from decimal import Decimal

from service import __version__
from service.assessment.assess import assess_case
from service.assessment.fluids import estimate_fluids
from service.assessment.learning import evidence_of_patient, learn_from_record
from service.assessment.what_if import assess_what_if
from service.domain.answer import PlanAnswer, Versions
from service.domain.case import BurnRecord, GraftingCase, PlanRequest
from service.domain.dressing import CareSchedule
from service.domain.errors import ServiceFault
from service.domain.finding import Finding, Severity
from service.domain.learning import Learned
from service.domain.out_of_scope import COMFORT_CARE, OutOfScope
from service.domain.patient import TreatmentIntent
from service.domain.plan import GraftPlan, PlanOutcome, SettledPlan, Variant
from service.domain.plan_difference import EarlierCourse
from service.domain.rule import Rule
from service.domain.search_news import SearchStep, SearchWatch
from service.domain.what_if import WhatIfAnswer
from service.evidence.library import Evidence
from service.planning.beside import look_beside
from service.planning.closures import expected_closures, last_closure_day
from service.planning.conflict_findings import find_behind_decisions, find_behind_open
from service.planning.decisions import find_infeasible_decisions, unkept_decisions
from service.planning.explain import explain_plan
from service.planning.horizon import plan_far_enough
from service.planning.ledger import donor_ledger
from service.planning.next_method import find_method_changes
from service.planning.optimise import OptimisedPlan, optimise_course
from service.planning.parameter_sensitivity import find_parameter_effects
from service.planning.plan_difference import compare_with_earlier
from service.planning.plan_findings import NO_SKIN_RECORDED, find_about_plan, find_plan_changed
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb, widest_by_rule_of_thumb
from service.planning.variants import other_answers
from service.planning.what_if import compare_what_if, is_better
from service.preferences.library import Preferences
from service.schedule.carriers import find_carrier_stock_short
from service.schedule.dressings import schedule_care
from service.schedule.theatre_list import make_theatre_list
from service.simulation.simulate import DEFAULT_SEED, forecast_plan
from service.solver.limits import SEARCH
from service.verification.verify import verify_plan

_SEVERITY_ORDER = list(Severity)

#: With less time to search than this only the plan itself is made, for who cannot wait. [s]
_FIRST_PLAN_BELOW_SECONDS = Decimal("0.5")

#: Where each answer leaves its row: versions and outcome, no patient value.
Audit = Callable[[PlanAnswer], None]


def plan_grafting(record: BurnRecord, request: PlanRequest, *, input_sha256: str, evidence: Evidence,
                  preferences: Preferences, audit: Audit,
                  read_findings: tuple[Finding, ...] = (), earlier: EarlierCourse | None = None,
                  watch: SearchWatch | None = None) -> PlanAnswer:
    """Plan all sessions of one patient and verify the plan.

    Parameters
    ----------
    record, request : what the record holds, and what the caller asks for
    input_sha256 : hash of the bytes that were read, for the versions of the answer
    evidence, preferences : numbers and value judgements to plan with
    audit : gets one row for every answer
    read_findings : what reading the record already found
    earlier : the plan before, when it was sent along
    watch : where whoever waits sees how far the plan has come

    Raises
    ------
    InvalidCase
        A condition of a what-if that changes nothing or leaves nothing.
    KeyError, ValueError
        A preference of the request that does not exist or lies outside its range.
    ServiceFault
        A plan that verification refuses; it never leaves.
    """
    watch = watch or SearchWatch()
    preferences = preferences.with_overrides(request.preferences)
    seed = DEFAULT_SEED if request.seed is None else request.seed
    versions = Versions(__version__, evidence.version, evidence.sha256, preferences.sha256, input_sha256, seed)
    published = evidence
    case, evidence, learned = _assess(record, request, published, preferences)
    refusal = _refusal(record, read_findings)
    if refusal:
        plan = GraftPlan(PlanOutcome.NO_PLAN, SettledPlan(), reason_no_plan=refusal.code, findings=(refusal,))
        case, read_findings, fluids = replace(case, findings=()), (), None
    else:
        seen = plan_far_enough(case, preferences, lambda longer, in_hand: _search(
            longer, evidence, preferences, in_hand=in_hand, watch=watch))
        case, plan = seen.case, _make_plan(seen.case, seen.found, evidence, preferences)
        plan = replace(plan, findings=(*plan.findings, *seen.findings))
        if not _is_first(request):
            watch.step_on(SearchStep.COURSES)
            plan = _forecast(case, plan, evidence, preferences, seed)
            watch.step_on(SearchStep.OTHERS)
            plan = _with_others(case, plan, evidence, preferences)
        fluids = estimate_fluids(case, evidence, preferences)
    beside = (Finding("fluid-cross-check", Severity.LOW),) if fluids else ()
    difference = None
    if earlier and plan.outcome is not PlanOutcome.NO_PLAN and not _is_first(request):
        watch.step_on(SearchStep.EARLIER)
        difference = compare_with_earlier(
            earlier, (case, evidence, plan.settled), preferences,
            lambda other: _plan_other(other, request, published, preferences, case.horizon_day))
        beside += find_plan_changed(difference)
    care = _care(case, plan, evidence, preferences)
    what_if = None if refusal else _answer_what_if(record, request, case, plan, evidence, preferences)
    lists = tuple(make_theatre_list(case, plan.settled, session, evidence, preferences, plan.forecast)
                  for session in plan.settled.sessions)
    answer = PlanAnswer(
        case=case,
        plan=plan,
        events=care.events,
        disturbances_saved_count=care.disturbances_saved_count,
        theatre_lists=lists,
        findings=_in_order((*read_findings, *case.findings, *plan.findings, *find_carrier_stock_short(lists), *beside)),
        versions=versions,
        fluid_estimate=fluids,
        learned=() if refusal else learned,
        what_if=what_if,
        difference=difference,
    )
    audit(answer)
    return answer


def _is_first(request: PlanRequest) -> bool:
    """Whether a first plan is asked for: without forecast, other plans and the other answers to open questions."""
    return request.search_seconds < _FIRST_PLAN_BELOW_SECONDS


def _assess(record: BurnRecord, request: PlanRequest, evidence: Evidence,
            preferences: Preferences) -> tuple[GraftingCase, Evidence, tuple[Learned, ...]]:
    """The case, with what this patient has taught: the evidence as it holds for the patient, and what moved it."""
    case = assess_case(record, request, evidence, preferences)
    learned = learn_from_record(case, evidence, preferences)
    if learned:
        evidence = evidence_of_patient(evidence, learned)
        case = assess_case(record, request, evidence, preferences)
    return case, evidence, learned


def _plan_other(record: BurnRecord, request: PlanRequest, evidence: Evidence,
                preferences: Preferences, horizon_day: int) -> tuple[GraftingCase, Evidence, SettledPlan]:
    """Another record planned as the real one is, to compare with; this plan never leaves."""
    case, evidence, _ = _assess(record, request, evidence, preferences)
    case = replace(case, horizon_day=horizon_day)
    return case, evidence, _search(case, evidence, preferences).plan


def _search(case: GraftingCase, evidence: Evidence, preferences: Preferences, *,
            in_hand: SettledPlan | None = None, watch: SearchWatch | None = None) -> OptimisedPlan:
    """The best course in the time of the request; in part of it where a plan is in hand, and without news."""
    is_first = in_hand is None
    seconds = float(case.request.search_seconds) * (1 if is_first else SEARCH.share_to_look_further)
    return optimise_course(case, evidence, preferences, seconds=seconds, in_hand=in_hand,
                           watch=watch if is_first else None,
                           accepts=lambda plan: not verify_plan(case, plan, evidence, preferences))


def _refusal(record: BurnRecord, read_findings: tuple[Finding, ...]) -> Finding | None:
    """What stands against any plan for this patient."""
    if record.patient.treatment_intent is TreatmentIntent.COMFORT:
        return Finding(COMFORT_CARE, Severity.HIGH)
    return next((finding for finding in read_findings if finding.code in set(OutOfScope)), None)


def _care(case: GraftingCase, plan: GraftPlan, evidence: Evidence, preferences: Preferences) -> CareSchedule:
    """Dated events of a plan; without a plan there are none."""
    if plan.outcome is PlanOutcome.NO_PLAN:
        return CareSchedule()
    return schedule_care(case, plan.settled, evidence, preferences, plan.forecast)


def _forecast(case: GraftingCase, plan: GraftPlan, evidence: Evidence, preferences: Preferences,
              seed: int) -> GraftPlan:
    """The plan with how its quantities spread over simulated courses; nothing to simulate without sessions."""
    if not plan.settled.firm_sessions:
        return plan
    return replace(
        plan,
        forecast=forecast_plan(case, plan.settled, evidence, preferences, seed=seed),
        parameter_sensitivity=find_parameter_effects(case, plan.settled, evidence, preferences))


def _make_plan(case: GraftingCase, found: OptimisedPlan, evidence: Evidence, preferences: Preferences) -> GraftPlan:
    """Verify what was found, and say what follows from it; no plan when a decision cannot be kept."""
    quantities = PlanningQuantities(case, evidence, preferences)
    unkept = unkept_decisions(case, found.plan)
    if unkept:
        return GraftPlan(PlanOutcome.NO_PLAN, SettledPlan(), reason_no_plan="fixed-decision-infeasible",
                         findings=find_infeasible_decisions(case, unkept))
    _refuse_unverified(case, found.plan, evidence, preferences)
    closures = expected_closures(quantities, found.plan)
    closure_day = last_closure_day(closures)
    return GraftPlan(
        outcome=found.outcome,
        settled=found.plan,
        objective_days=found.objective_days,
        gap=found.gap,
        bound_days=found.bound_days,
        thumb_days=found.thumb_days,
        thumb_open_cm2=found.thumb_open_cm2,
        search_end=found.search_end,
        skin_prices=found.skin_prices,
        closures=closures,
        closure_day=closure_day,
        ledger=donor_ledger(quantities, found.plan),
        reasons=explain_plan(found.plan),
        variants=() if _is_first(case.request) else tuple(_variants(case, evidence, preferences)),
        findings=find_about_plan(quantities, found.plan, closure_day),
    )


def _with_others(case: GraftingCase, plan: GraftPlan, evidence: Evidence, preferences: Preferences) -> GraftPlan:
    """The plan with others to choose from beside it, and what stands in its way; each one verified."""

    def is_verified(other: SettledPlan, of_case: GraftingCase = case) -> bool:
        return not verify_plan(of_case, other, evidence, preferences)

    def choose(with_limits_lifted: GraftingCase) -> SettledPlan | None:
        other = widest_by_rule_of_thumb(with_limits_lifted, evidence, preferences)
        return other if is_verified(other, with_limits_lifted) else None

    most_runs = preferences.integer("conflict-most-runs")
    if plan.reason_no_plan == "fixed-decision-infeasible":
        return replace(plan, findings=plan.findings + find_behind_decisions(case, choose, most_runs))
    waits_for_record = any(finding.code == NO_SKIN_RECORDED for finding in plan.findings)  # no limit is behind that
    behind_open = () if waits_for_record else find_behind_open(case, plan.settled, choose, most_runs)
    return replace(
        plan,
        findings=plan.findings + behind_open,
        method_changes=find_method_changes(PlanningQuantities(case, evidence, preferences), plan.settled),
        beside=look_beside(case, plan.settled, evidence, preferences, is_verified=is_verified),
    )


def _answer_what_if(record: BurnRecord, request: PlanRequest, case: GraftingCase, plan: GraftPlan,
                    evidence: Evidence, preferences: Preferences) -> WhatIfAnswer | None:
    """The plan under the conditions of the request, made and verified like the plan of record.

    Where the plan of record keeps every rule under the conditions too and is no worse, it is the
    answer: allowing more never makes a plan worse.
    """
    if request.what_if is None:
        return None
    other = assess_what_if(record, request, case, evidence, preferences)
    made = _make_plan(other, _search(other, evidence, preferences), evidence, preferences)
    if _keeps(other, plan, evidence, preferences) and not is_better(made, plan):
        made = plan
    holds_without = is_better(made, plan) and _keeps(case, made, evidence, preferences)
    return compare_what_if(request.what_if, (case, plan), (other, made), evidence, preferences,
                           holds_without=holds_without)


def _keeps(case: GraftingCase, plan: GraftPlan, evidence: Evidence, preferences: Preferences) -> bool:
    """Whether a plan made for another case keeps every rule and decision of this one."""
    has_plan = plan.outcome is not PlanOutcome.NO_PLAN
    return has_plan and not unkept_decisions(case, plan.settled) and not verify_plan(
        case, plan.settled, evidence, preferences)


def _variants(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> Iterable[Variant]:
    """The rule-of-thumb plan under each other answer to an open question, verified like the main one."""
    for other in other_answers(case, evidence):
        plan = best_by_rule_of_thumb(other.case, evidence, preferences).plan
        if not unkept_decisions(other.case, plan):
            _refuse_unverified(other.case, plan, evidence, preferences)
            quantities = PlanningQuantities(other.case, evidence, preferences)
            closure_day = last_closure_day(expected_closures(quantities, plan))
            yield Variant(other.question, other.answer, plan, closure_day)


def _refuse_unverified(case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences) -> None:
    violations = verify_plan(case, plan, evidence, preferences)
    if violations:
        rules = sorted({Rule(violation.rule) for violation in violations})
        raise ServiceFault(f"plan refused by verification: {', '.join(rules)}")


def _in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Each finding once, the most severe first, else in the order in which they were found."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda f: _SEVERITY_ORDER.index(f.severity)))
