"""What was done on a place, booked day by day onto its wounds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from operator import attrgetter

from service.assessment.areas import need_cm2
from service.domain.burn_wound import ZERO, BedState, BurnWound, Depth, PlacedGraft
from service.domain.case import BurnRecord, PlacementRecord
from service.domain.graft import methods_of_place

#: Deepest first: history is booked on the deepest wound of a place.
_DEEPEST_FIRST = (Depth.FULL_THICKNESS, Depth.DEEP_PARTIAL, Depth.INDETERMINATE, None)


@dataclass
class WoundAccount:
    """A wound while history is booked on it.

    ``never_grafted_cm2`` and ``lost_cm2``, the loss that no later graft covers, are open; the rest lies under grafts.
    """

    wound: BurnWound
    total_cm2: Decimal
    never_grafted_cm2: Decimal
    excised_cm2: Decimal = ZERO
    covered_cm2: Decimal = ZERO
    read_cm2: Decimal = ZERO  # grafts whose take is recorded
    lost_cm2: Decimal = ZERO

    @property
    def open_cm2(self) -> Decimal:
        return self.never_grafted_cm2 + self.lost_cm2

    @property
    def open_bed_cm2(self) -> Decimal:
        """Bed excised, or lost again after grafting, and not under a graft now."""
        return max(ZERO, self.excised_cm2 - (self.total_cm2 - self.open_cm2))

    def excise(self, area_cm2: Decimal) -> None:
        self.excised_cm2 += area_cm2

    def graft(self, area_cm2: Decimal) -> None:
        self.never_grafted_cm2 -= area_cm2
        self.excised_cm2 = max(self.excised_cm2, self.total_cm2 - self.never_grafted_cm2)

    def graft_again(self, area_cm2: Decimal) -> None:
        self.lost_cm2 -= area_cm2

    def dress_loss(self) -> None:
        """What is lost heals under dressings: it is a part of the wound no longer."""
        self._dress(self.lost_cm2)
        self.excised_cm2 -= self.lost_cm2
        self.lost_cm2 = ZERO

    def dress_remainder(self) -> None:
        """What was never grafted heals under dressings: it is a part of the wound no longer."""
        self._dress(self.never_grafted_cm2)
        self.excised_cm2 = min(self.excised_cm2, self.total_cm2)
        self.never_grafted_cm2 = ZERO

    def _dress(self, area_cm2: Decimal) -> None:
        self.wound = replace(self.wound, dressed_cm2=self.wound.dressed_cm2 + area_cm2)
        self.total_cm2 -= area_cm2

    def close(self) -> BurnWound:
        """The wound as it is open today."""
        open_bed = min(self.open_cm2, self.open_bed_cm2)
        is_excised = open_bed >= self.open_cm2  # nothing is left to wait for
        return replace(self.wound, area_cm2=self.open_cm2, excised_cm2=open_bed,
                       covered_cm2=min(self.covered_cm2, open_bed),
                       wait_until_day=None if is_excised else self.wound.wait_until_day)


#: Where a graft may lie, and how it is booked there: on bed that was never grafted before on a loss.
_BEDS = ((attrgetter("never_grafted_cm2"), WoundAccount.graft), (attrgetter("lost_cm2"), WoundAccount.graft_again))


def _order(account: WoundAccount) -> tuple[int, bool]:
    return _DEEPEST_FIRST.index(account.wound.depth), account.wound.over_joint


def _book(accounts: list[WoundAccount], area_cm2: Decimal, room: Callable[[WoundAccount], Decimal],
          act: Callable[[WoundAccount, Decimal], None]) -> Decimal:
    """Book an area on the accounts in order, as far as each has room; return what found none."""
    for account in accounts:
        part = min(area_cm2, room(account))
        if part > 0:
            act(account, part)
            area_cm2 -= part
    return area_cm2


class WoundHistory:
    """Books what was done on one place onto its wounds, deepest first, field before joint.

    A record names the place only. A graft is taken to lie on bed that was never grafted, and on
    a loss only after the rest, from the day on which the loss was read.
    """

    def __init__(self, accounts: list[WoundAccount], record: BurnRecord, day_of: Callable[[date], int],
                 cover_life_days: int) -> None:
        self.accounts = sorted(accounts, key=_order)
        self.place = accounts[0].wound.place
        self.record = record
        self.day_of = day_of
        self.cover_life_days = cover_life_days
        self.unbooked_cm2 = ZERO
        self._lost_ever_cm2 = ZERO
        self._unread: list[tuple[date, WoundAccount, Decimal]] = []  # losses that no day has read yet

    def book(self) -> None:
        """Book the excisions, grafts with their takes, covers and beds of the place."""
        excised_twice_cm2 = sum((
            _book(self.accounts, excision.area_cm2, lambda a: a.total_cm2 - a.excised_cm2, WoundAccount.excise)
            for excision in self._of_place(self.record.excisions)), ZERO)
        for placed in sorted(self._of_place(self.record.placements), key=self._choice_of_wounds):
            self._read_losses(placed.day)
            self._book_placement(placed)
        self._read_losses(date.max)
        # a bed that lost its graft may have been excised again
        self.unbooked_cm2 += max(ZERO, excised_twice_cm2 - self._lost_ever_cm2)
        self._book_covers()
        self._book_beds()

    def _of_place(self, records):
        return sorted((r for r in records if r.place == self.place), key=lambda r: (r.day, r.source))

    def _fitting(self, placed: PlacementRecord) -> list[WoundAccount]:
        return [a for a in self.accounts if placed.method in methods_of_place(self.place, a.wound.over_joint)]

    def _choice_of_wounds(self, placed: PlacementRecord) -> tuple[date, int]:
        """Of one day, first the method that fits the fewest wounds: it has nowhere else to go."""
        return placed.day, len(self._fitting(placed) or self.accounts)

    def _read_losses(self, until: date) -> None:
        for day, account, lost_cm2 in self._unread:
            if day <= until:
                account.lost_cm2 += lost_cm2
                self._lost_ever_cm2 += lost_cm2
        self._unread = [loss for loss in self._unread if loss[0] > until]

    def _book_placement(self, placed: PlacementRecord) -> None:
        rest = placed.area_cm2
        # what the wounds that the method fits cannot hold lies on the others
        for accounts in (self._fitting(placed), self.accounts):
            for room, act in _BEDS:
                rest = _book(accounts, rest, room, partial(self._lay_graft, placed, act))
        self.unbooked_cm2 += rest

    def _lay_graft(self, placed: PlacementRecord, act: Callable[[WoundAccount, Decimal], None],
                   account: WoundAccount, area_cm2: Decimal) -> None:
        """Book the part of a graft that lies on one wound, and what it is read to have lost of it later."""
        act(account, area_cm2)
        graft = PlacedGraft(self.day_of(placed.day), placed.method, area_cm2, placed.take_fraction,
                            None if placed.take_day is None else self.day_of(placed.take_day))
        account.wound = replace(account.wound, placed=(*account.wound.placed, graft),
                                sources=(*account.wound.sources, placed.source))
        if placed.take_fraction is not None:
            account.read_cm2 += area_cm2
            read_on = placed.take_day or placed.day + timedelta(days=1)
            self._unread.append((read_on, account, need_cm2(area_cm2 * (1 - placed.take_fraction))))

    def _book_covers(self) -> None:
        """The newest first: it renewed what lay there. Of several that still lie, the first to end counts."""
        for cover in reversed(self._of_place(self.record.covers)):
            until = self.day_of(cover.day) + self.cover_life_days
            if until < 0:
                continue  # its life is over: the bed counts as uncovered

            def lay(account: WoundAccount, area_cm2: Decimal) -> None:
                account.covered_cm2 += area_cm2
                account.wound = replace(account.wound, covered_until_day=until,
                                        sources=(*account.wound.sources, cover.source))
            _book(self.accounts, cover.area_cm2, lambda a: a.open_bed_cm2 - a.covered_cm2, lay)

    def _book_beds(self) -> None:
        beds = sorted((b for b in self.record.beds if b.place == self.place), key=lambda b: (b.observed, b.source))
        if not beds:
            return
        bed = beds[-1]
        ready_from = None if bed.ready_from is None else self.day_of(bed.ready_from)
        for account in self.accounts:
            account.wound = replace(account.wound, bed_state=bed.state, ready_from_day=ready_from,
                                    sources=(*account.wound.sources, bed.source))
            if bed.state in (BedState.READY, BedState.UNDER_TEMPLATE):
                account.excised_cm2 = account.total_cm2
