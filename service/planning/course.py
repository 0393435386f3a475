"""The state of a course while sessions are added to it: what is open, excised, placed, reserved."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.domain.body_region import Position
from service.domain.donor_site import Harvest
from service.domain.graft import GraftMethod, SkinClass
from service.domain.session import CoverPlacement, Excision, Placement, Session
from service.planning.donor_reserve import DonorReserve
from service.planning.quantities import PlanningQuantities, tenths
from service.planning.wound_facts import WoundFacts


@dataclass(frozen=True)
class Policy:
    """One way of playing the rule of thumb.

    ``level``: how wide to expand. ``smallest_session_percent``: a smaller session waits for
    more skin. ``excises_ahead``: excise more than is grafted, under cover. ``joints_last``:
    joint parts, which expand little, wait until the fields are grafted.
    """

    level: GraftMethod
    smallest_session_percent: float = 0.0
    excises_ahead: bool = False
    joints_last: bool = False


@dataclass(frozen=True)
class GraftDraft:
    """A graft that a session draft holds. Areas in tenths of a cm², skin in hundredths."""

    wound: WoundFacts
    method: GraftMethod
    skin_class: SkinClass
    area: int
    excised: int
    skin_hundredths: int


@dataclass
class BedCover:
    """Temporary cover on a bed excised ahead, alive through ``until_day``."""

    wound_id: str
    until_day: int


@dataclass
class Course:
    """Acts so far, and what is left. Areas in tenths of a cm², by wound id."""

    quantities: PlanningQuantities
    reserve: DonorReserve
    wounds: tuple[WoundFacts, ...]
    decided_days: tuple[int, ...]
    remaining: dict[str, int]
    open_bed: dict[str, int]  # excised or ready, and not grafted
    ahead_bed: dict[str, int]  # part of it that this plan excised
    cover_left: int
    loaded_days: list[tuple[int, Position]] = field(default_factory=list)
    covers_alive: list[BedCover] = field(default_factory=list)
    sessions: list[Session] = field(default_factory=list)
    excisions: list[Excision] = field(default_factory=list)
    harvests: list[Harvest] = field(default_factory=list)
    placements: list[Placement] = field(default_factory=list)
    covers: list[CoverPlacement] = field(default_factory=list)

    @property
    def is_first_session(self) -> bool:
        return not self.sessions

    def demand(self) -> dict[str, int]:
        """Area still to graft by wound that can be grafted at all, in tenths of a cm²."""
        return {w.wound_id: self.remaining[w.wound_id] for w in self.wounds
                if w.is_plannable and self.remaining[w.wound_id] > 0}

    def loaded_clear_day(self, wound: WoundFacts) -> int:
        """First day on which no recent graft would be lain on because of a graft on this wound."""
        if wound.loaded is None:
            return 0
        return max((day + self.quantities.protect_days for day, other in self.loaded_days
                    if other is not wound.loaded), default=0)

    def next_event(self, day: int) -> int | None:
        """The next day after ``day`` on which something can be done that could not before."""
        days = [self.reserve.next_release(day), self.cover_deadline(), *self.decided_days]
        for wound in self.wounds:
            if wound.is_plannable and self.remaining[wound.wound_id] > 0:
                days += [wound.earliest_day, self.loaded_clear_day(wound)]
        return min((d for d in days if d is not None and d > day), default=None)

    def bed_under_cover(self) -> int:
        """Bed that this plan excised ahead and has not grafted: what a renewal would need."""
        return sum(self.ahead_bed.values())

    def cover_deadline(self) -> int | None:
        """Last day of the cover that ends first on a bed still open."""
        return min((c.until_day for c in self.covers_alive if self.ahead_bed[c.wound_id] > 0), default=None)


def start_course(quantities: PlanningQuantities, wounds: tuple[WoundFacts, ...]) -> Course:
    """The course before its first session: the true state of the record, with skin kept aside."""
    case = quantities.case
    reserve = DonorReserve(quantities)
    for keep in case.request.keep_for:
        reserve.keep(keep.region, tenths(keep.area_cm2))
    decided = {case.day_of(d.day) for d in case.request.fixed_decisions if d.day is not None}
    return Course(
        quantities,
        reserve,
        wounds,
        tuple(sorted(decided)),
        remaining={w.wound_id: w.area for w in wounds},
        open_bed={w.wound_id: tenths(w.wound.excised_cm2) for w in wounds},
        ahead_bed={w.wound_id: 0 for w in wounds},
        cover_left=tenths(case.request.cover_stock_cm2 or 0),
        loaded_days=[(graft.placed_day, w.loaded) for w in wounds if w.loaded is not None for graft in w.wound.placed],
    )
