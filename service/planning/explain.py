"""Reasons of a plan, session by session, as codes that ``wording`` puts in sentences."""

from __future__ import annotations

from service.domain.plan import Reason, SettledPlan
from service.wording.methods import method_in_words


def explain_plan(plan: SettledPlan) -> tuple[Reason, ...]:
    """How far grafts are expanded, and which rules held each session back."""
    reasons = []
    widest = max((p.method for p in plan.placements), default=None, key=lambda m: m.claimed_expansion_ratio)
    if widest is not None and widest.claimed_expansion_ratio > 1:
        reasons.append(Reason("expansion-level", None, (("method", method_in_words(widest)),)))
    for session in plan.sessions:
        reasons += [Reason(f"bound-by-{rule}", session.ordinal) for rule in session.binding_rules]
    return tuple(reasons)
