"""Decisions that the caller has made: which rule stands against one that cannot be kept."""

from __future__ import annotations

from service.domain.case import Act, FixedDecision, GraftingCase
from service.domain.finding import Finding, Severity
from service.domain.graft import methods_of_place
from service.domain.plan import SettledPlan
from service.domain.rule import Rule
from service.planning.calendar import next_theatre_day
from service.planning.candidates import STOPPED_BEDS


def rule_against(case: GraftingCase, decision: FixedDecision) -> Rule:
    """The first rule that forbids the decision by itself; else that it does not fit with the rest."""
    wounds = [w for w in case.wounds if (w.place.region, w.place.side) == (decision.region, decision.side)]
    sites = [s for s in case.donor_sites if (s.place.region, s.place.side) == (decision.region, decision.side)]
    if decision.day is not None:
        day = case.day_of(decision.day)
        if not case.first_session_day <= day <= case.horizon_day:
            return Rule.NOTHING_WITHOUT_A_SESSION
        if next_theatre_day(case, day) != day:
            return Rule.THEATRE_DAY
        waits = [d for w in wounds for d in (w.ready_from_day, w.wait_until_day) if d is not None]
        if decision.act is not Act.HARVEST and any(day < d for d in waits):
            return Rule.GRAFT_ON_READY_BED
    if decision.act is Act.HARVEST:
        return Rule.FIXED_DECISION if sites else Rule.DONOR_REGROWTH
    if not wounds:
        return Rule.PLACE_EACH_WOUND_ONCE
    if any(w.bed_state in STOPPED_BEDS for w in wounds):
        return Rule.INFECTED_BED
    available = case.request.methods_available
    methods = [methods_of_place(w.place, w.over_joint) & available for w in wounds]
    if decision.method is not None and not all(decision.method in allowed for allowed in methods):
        return Rule.METHOD_OF_REGION
    return Rule.FIXED_DECISION


def _is_kept(case: GraftingCase, plan: SettledPlan, decision: FixedDecision) -> bool:
    key = decision.region_key
    wounds = {w.wound_id: w for w in case.wounds if w.place.region_key == key}
    day = None if decision.day is None else case.day_of(decision.day)
    if decision.act is Act.HARVEST:
        sites = {s.site_id for s in case.donor_sites if s.place.region_key == key}
        days = {h.day for h in plan.harvests if h.site_id in sites}
        return bool(days) and (day is None or day in days)
    if decision.act is Act.EXCISE:
        if not any(w.unexcised_cm2 > 0 for w in wounds.values()):
            return True
        acts = [e for e in plan.excisions if e.wound_id in wounds]
        methods_fit = True
    else:
        acts = [p for p in plan.placements if p.wound_id in wounds and not p.is_regraft]
        methods_fit = decision.method is None or all(p.method is decision.method for p in acts)
    return bool(acts) and methods_fit and (day is None or all(a.day == day for a in acts))


def unkept_decisions(case: GraftingCase, plan: SettledPlan) -> tuple[FixedDecision, ...]:
    """Decisions of the caller that the plan does not keep."""
    return tuple(d for d in case.request.fixed_decisions if not _is_kept(case, plan, d))


def find_infeasible_decisions(case: GraftingCase, unkept: tuple[FixedDecision, ...]) -> tuple[Finding, ...]:
    """A finding for each decision that the plan cannot keep, naming the rule that it breaks."""
    findings = []
    for decision in unkept:
        values = (("act", str(decision.act)), ("rule", str(rule_against(case, decision))))
        findings.append(Finding("fixed-decision-infeasible", Severity.HIGH, values, place=decision.region_key))
    return tuple(findings)
