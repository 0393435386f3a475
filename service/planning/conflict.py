"""The smallest set of limits behind a wound that stays open, or a decision that cannot be kept.

By planning again with limits lifted: all of them first, then each alone, then the set is thinned
until none can be put back. "Not enough" means that no such plan was found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.planning.limits_lifted import lifted, limits_of

Names = tuple[str, ...]


@dataclass(frozen=True)
class Conflict:
    """What stands in the way.

    ``alone``: limits of which each one lifted is enough. ``together``: else the smallest set
    found that is enough. Both empty: not even all of ``tried`` are enough, and ``best`` is the plan
    without any of them. ``is_complete``: false when the count of plans ended the search, so that a
    smaller set may exist.
    """

    tried: Names
    alone: Names = ()
    together: Names = ()
    best: SettledPlan | None = None
    is_complete: bool = True


class _Search:
    """Plans made so far, none twice, and no more than allowed."""

    def __init__(self, case: GraftingCase, is_reached: Callable[[GraftingCase, SettledPlan], bool],
                 choose: Callable[[GraftingCase], SettledPlan | None], most_runs: int) -> None:
        self.case, self.is_reached, self.choose, self.left = case, is_reached, choose, most_runs
        self.plans: dict[Names, SettledPlan | None] = {}

    def is_enough(self, names: Names) -> bool | None:
        """Whether a plan without these limits reaches the aim; ``None`` when no run is left."""
        other = lifted(self.case, names)
        if names not in self.plans:
            if self.left <= 0:
                return None
            self.left -= 1
            self.plans[names] = self.choose(other)
        plan = self.plans[names]
        return plan is not None and self.is_reached(other, plan)


def find_conflict(case: GraftingCase, is_reached: Callable[[GraftingCase, SettledPlan], bool],
                  choose: Callable[[GraftingCase], SettledPlan | None], most_runs: int) -> Conflict | None:
    """Which limits to lift so that the aim is reached.

    Parameters
    ----------
    case : the case in which the plan misses the aim
    is_reached : whether a plan of a case reaches it
    choose : makes a verified plan of a case, or none
    most_runs : plans made at most

    Returns
    -------
    Conflict or None
        ``None`` when there is no limit to lift, or no run was allowed.
    """
    search = _Search(case, is_reached, choose, most_runs)
    names = limits_of(case)
    reached = search.is_enough(names) if names else None
    if reached is None:
        return None
    if not reached:
        return Conflict(names, best=search.plans[names])
    verdicts = [(name, search.is_enough((name,))) for name in names]
    alone = tuple(name for name, enough in verdicts if enough)
    if alone:
        return Conflict(names, alone=alone, is_complete=all(enough is not None for _, enough in verdicts))
    return _thin(search, names)


def _thin(search: _Search, names: Names) -> Conflict:
    """Put limits back one by one, the hardest to lift first, as long as the rest is enough."""
    kept, is_complete = names, all(search.is_enough((name,)) is not None for name in names)
    for name in reversed(names):
        rest = tuple(other for other in kept if other != name)
        enough = search.is_enough(rest) if rest else False
        if enough:
            kept = rest
        is_complete = is_complete and enough is not None
    return Conflict(names, together=kept, is_complete=is_complete)
