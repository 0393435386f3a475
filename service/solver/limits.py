"""How much a search may do: counted, so that the same case ends the same way on any machine."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SearchLimits:
    """None of these is clinical: they set how long is searched, never what is allowed.

    ``work_a_second``: columns and rows of the problems solved, and iterations at their price, per
    second of the request; about half of what one core does, so that the clock does not end
    a search before the work does.
    """

    clock_factor: int = 10  # of the seconds: some seven times what a search takes alone, so that load changes no plan
    work_a_second: int = 350_000
    work_an_iteration: int = 15  # what an iteration takes, in columns and rows built
    share_to_prove: float = 0.4  # work beside the other, for the bound of the plan in hand
    share_beside: float = 0.4  # of the work, for models of days beside the best
    share_to_price: float = 0.15  # and for the prices of skin
    share_to_look_further: float = 0.4  # of the seconds, for each further horizon tried
    priced: int = 4  # sites and sessions for which more skin is priced
    single_days: int = 20  # days that are slots of their own in the model of the bound
    fine_slots: int = 10  # spans as long as the rest after them; later ones are twice that
    thresholds: tuple[float, ...] = (0.2, 0.4, 0.5, 0.6, 0.8, 0.999)  # where a part of a session becomes one
    neighbours: int = 40  # models tried beside the best days
    plays: int = 4  # days that are played session by session
    bound_nodes: int = 60  # problems of the branching that makes the bound better
    first_margin: float = 0.0003  # of each limit of the session that is settled, left free for rounding
    later_margin: float = 0.01  # of each limit of later sessions, whose plates are not whole yet
    later_plate_share: float = 1.0  # of a plate, by what a later session leaves over of each %TBSA of island skin
    again_share: int = 4  # a problem kept and solved again takes such a part of building one
    whole_iterations: int = 3  # iterations of a linear problem that one with whole numbers takes as long as
    near_whole_days: float = 0.015  # how near to the best a session in pieces is searched for. [d on all that is open]
    likely_percent: float = 0.5  # reduced cost, of the dearest days of an area, up to which a graft is tried
    open_tolerance_percent: float = 0.02  # open area below this is rounding. [%TBSA]


SEARCH = SearchLimits()
