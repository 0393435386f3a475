"""How far a search has come: its step, the best plan in hand and what is left to gain."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum


class SearchStep(StrEnum):
    """What is being done, in the order in which it is done."""

    BOUND = "bound"  # how good any plan can be at most
    DAYS = "days"  # which days are worth a session
    SESSIONS = "sessions"  # sessions filled, day by day
    PROOF = "proof"  # how near the plan in hand is to the best
    COURSES = "courses"  # simulated courses of the plan
    OTHERS = "others"  # other plans to choose from
    EARLIER = "earlier"  # the record as it was before, to compare


@dataclass(frozen=True)
class SearchNews:
    """The plan in hand at one moment of a search.

    ``objective_days``, ``bound_days``: days with an open wound, and what no plan that leaves as little open goes
    below. [%TBSA-days] ``gap``: what may be left to gain, a share of the days that can be avoided; ``None`` as long as
    nothing is proven. ``open_cm2``: what stays open. [cm²] ``session_count``: without those that only losses bring.
    """

    step: SearchStep
    objective_days: Decimal
    bound_days: Decimal | None
    gap: Decimal | None
    open_cm2: Decimal
    session_count: int


class SearchWatch:
    """Where a search leaves its latest news for whoever waits for it.

    Nobody is called: who looks can neither slow a search nor break it, and the plan is the same with and without.
    """

    def __init__(self) -> None:
        self.latest: SearchNews | None = None

    def step_on(self, step: SearchStep) -> None:
        """The next step with the same plan in hand; nothing to say before there is one."""
        if self.latest is not None:
            self.latest = replace(self.latest, step=step)
