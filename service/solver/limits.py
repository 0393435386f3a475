"""How much a search may do: counted, so that the same case ends the same way on any machine."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SearchLimits:
    """None of these is clinical: they set how long is searched, never what is allowed.

    ``work_a_second``: columns and rows of the problems solved, and iterations at their price, per
    second of the request; less than half of what one core does, so that the clock does not end
    a search before the work does.
    """

    clock_factor: int = 4  # a machine so many times slower still ends by work, and so with the same plan
    work_a_second: int = 160_000
    work_an_iteration: int = 15  # what an iteration takes, in columns and rows built
    work_to_prove: int = 120_000  # kept aside for the bound of the plan in hand
    share_beside: float = 0.4  # of the work, for models of days beside the best
    fine_slots: int = 20  # spans as long as the rest; later ones are twice that
    thresholds: tuple[float, ...] = (0.2, 0.4, 0.5, 0.6, 0.8, 0.999)  # where a part of a session becomes one
    neighbours: int = 60  # models tried beside the best days
    plays: int = 3  # days that are played session by session
    bound_nodes: int = 24  # problems of the branching that makes the bound better
    margin: float = 0.003  # of each limit, left free for rounding
    open_tolerance_percent: float = 0.02  # open area below this is rounding. [%TBSA]


SEARCH = SearchLimits()
