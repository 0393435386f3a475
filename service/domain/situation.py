"""What stands to be said about a plan at this moment: what is due, and what is grave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from service.domain.dressing import CareEvent
from service.domain.finding import Finding
from service.domain.session import Session


@dataclass(frozen=True)
class DueItem:
    """One thing that is due or grave, with names by which it is known again on another day.

    ``names`` hold no date of the plan: the same thing put off is the same thing. ``amount_cm2``
    is set where a changed size is news. ``event`` is what a Task would ask for; ``session`` is
    set for a theatre session, ``finding`` for what is grave. ``round_name`` is set for a routine
    round of the ward, which is told once: a place that joins it later is no news.
    """

    names: frozenset[str]
    event: CareEvent | None = None
    session: Session | None = None
    finding: Finding | None = None
    amount_cm2: Decimal | None = None
    round_name: str | None = None
    treated_cm2: Decimal | None = None  # what was last placed or harvested there, as recorded

    @property
    def is_urgent(self) -> bool:
        return self.finding is not None or (self.event is not None and self.event.priority != "routine")

    def is_news(self, shown: Mapping[str, Decimal | None], change_share: Decimal) -> bool:
        """Whether a reader who was shown all of ``shown`` would learn something.

        Parameters
        ----------
        shown : mapping
            Amount by name, as last shown. [cm²]
        change_share : Decimal
            Relative change of an amount from which it is news. [-]
        """
        if self.round_name is not None and self.round_name in shown:
            return False
        if not self.names <= shown.keys():
            return True
        if self.amount_cm2 is None:
            return False
        before = max((amount for name in self.names if (amount := shown[name]) is not None), default=Decimal(0))
        return abs(self.amount_cm2 - before) > change_share * before


@dataclass(frozen=True)
class Situation:
    """Everything that is due or grave, most decisive first."""

    items: tuple[DueItem, ...] = ()

    def news(self, shown: Mapping[str, Decimal | None], change_share: Decimal) -> tuple[DueItem, ...]:
        return tuple(item for item in self.items if item.is_news(shown, change_share))

    @property
    def amounts_cm2(self) -> dict[str, Decimal | None]:
        """Amount by name: what a reader of all of it has been shown."""
        rounds = {item.round_name: None for item in self.items if item.round_name is not None}
        return rounds | {name: item.amount_cm2 for item in self.items for name in item.names}
