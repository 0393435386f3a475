"""Reasons of a plan as codes that ``wording`` puts in sentences."""

from __future__ import annotations

from service.domain.plan import Reason, SettledPlan
from service.wording.methods import method_in_words


def explain_plan(plan: SettledPlan) -> tuple[Reason, ...]:
    """How far grafts are expanded."""
    widest = max((p.method for p in plan.placements), default=None, key=lambda m: m.claimed_expansion_ratio)
    if widest is None or widest.claimed_expansion_ratio <= 1:
        return ()
    return (Reason("expansion-level", (("method", method_in_words(widest)),)),)
