"""Reasons of a plan, session by session, as codes that ``wording`` puts in sentences."""

from __future__ import annotations

from service.domain.graft import GraftMethod
from service.domain.plan import Reason, SettledPlan
from service.planning.candidates import LADDER
from service.wording.methods import method_in_words

_UNEXPANDED = LADDER[0]


def explain_plan(plan: SettledPlan, level: GraftMethod) -> tuple[Reason, ...]:
    """Why expansion is what it is, and which rules held each session back."""
    reasons = []
    widest = max((p.method for p in plan.placements), default=None, key=lambda m: m.claimed_expansion_ratio)
    if widest is not None and level is not _UNEXPANDED:
        reasons.append(Reason("expansion-level", None, (("method", method_in_words(level)),)))
    for session in plan.sessions:
        reasons += [Reason(f"bound-by-{rule}", session.ordinal) for rule in session.binding_rules]
    return tuple(reasons)
