"""From recorded extents and history to the wounds that still need skin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from service.assessment.areas import need_cm2
from service.domain.body_region import Place
from service.domain.burn_wound import (
    NEEDS_GRAFT,
    ZERO,
    BedState,
    BurnExtent,
    BurnWound,
    Depth,
    PlacedGraft,
)
from service.domain.case import BurnRecord
from service.domain.finding import Finding, Severity
from service.domain.graft import methods_of_place
from service.evidence.library import Evidence
from service.preferences.library import Preferences

#: Deepest first: history is booked on the deepest wound of a place.
_DEEPEST_FIRST = (Depth.FULL_THICKNESS, Depth.DEEP_PARTIAL, Depth.INDETERMINATE, None)


def extent_percent_tbsa(extent: BurnExtent, place_percent: dict[Place, Decimal]) -> Decimal:
    """Recorded extent as a share of body surface. [%TBSA]"""
    if extent.percent_tbsa is not None:
        return extent.percent_tbsa
    return extent.percent_of_region * place_percent[extent.place] / 100


@dataclass
class _Draft:
    """A wound while history is booked on it."""

    wound: BurnWound
    total_cm2: Decimal
    unplaced_cm2: Decimal
    excised_cm2: Decimal = ZERO
    covered_cm2: Decimal = ZERO
    read_cm2: Decimal = ZERO  # grafts whose take is recorded
    lost_cm2: Decimal = ZERO  # what they lost

    @property
    def open_loss_cm2(self) -> Decimal:
        """Loss that no later graft covers."""
        return min(self.lost_cm2, self.unplaced_cm2)


def _joint_fraction(extent: BurnExtent, evidence: Evidence) -> Decimal:
    if extent.over_joint_fraction is not None:
        return extent.over_joint_fraction
    region = extent.place.region
    return evidence.value("joint-share", region) if evidence.has("joint-share", region) else ZERO


def _draft(place: Place, depth: Depth | None, over_joint: bool, area: Decimal, source: str,
           watch_day: int | None = None) -> _Draft:
    wound_id = f"{place.key}:{depth or 'open-wound'}{':joint' if over_joint else ''}"
    wound = BurnWound(wound_id, place, depth, over_joint, area, wait_until_day=watch_day, sources=(source,))
    return _Draft(wound, area, area)


def _watch_day(extent: BurnExtent, day_of: Callable[[date], int], demarcated_day: int) -> int | None:
    """Day until which a burn is not excised: the caller watches it, or its depth is not settled."""
    days = [] if extent.watch_until is None else [day_of(extent.watch_until)]
    if extent.depth is Depth.INDETERMINATE:
        days.append(demarcated_day)
    return max(days, default=None)


def _drafts_of_extent(extent: BurnExtent, percent: Decimal, surface_m2: Decimal, evidence: Evidence,
                      watch_day: int | None) -> list[_Draft]:
    total = need_cm2(percent * surface_m2 * 100)
    joint = need_cm2(total * _joint_fraction(extent, evidence))
    parts = ((False, total - joint), (True, joint))
    return [_draft(extent.place, extent.depth, over_joint, area, extent.source, watch_day)
            for over_joint, area in parts if area > 0]


def _order(draft: _Draft) -> tuple[int, bool]:
    return _DEEPEST_FIRST.index(draft.wound.depth), draft.wound.over_joint


def _book(drafts: list[_Draft], area: Decimal, room: Callable[[_Draft], Decimal],
          book: Callable[[_Draft, Decimal], None]) -> Decimal:
    """Book an area on the drafts in order, as far as each has room; return what found none."""
    for draft in drafts:
        part = min(area, room(draft))
        if part > 0:
            book(draft, part)
            area -= part
    return area


class _History:
    """Books what was done on one place onto its wounds, deepest first, field before joint."""

    def __init__(self, drafts: list[_Draft], record: BurnRecord, day_of: Callable[[date], int],
                 cover_life_days: int) -> None:
        self.drafts = sorted(drafts, key=_order)
        self.place = drafts[0].wound.place
        self.record = record
        self.day_of = day_of
        self.cover_life_days = cover_life_days
        self.unbooked = ZERO

    def book(self) -> None:
        self._book_excisions()
        self._book_placements()
        self._book_covers()
        self._book_beds()

    def _of_place(self, records):
        return sorted((r for r in records if r.place == self.place), key=lambda r: (r.day, r.source))

    def _book_excisions(self) -> None:
        for excision in self._of_place(self.record.excisions):
            def excise(draft: _Draft, area: Decimal) -> None:
                draft.excised_cm2 += area
            self.unbooked += _book(self.drafts, excision.area_cm2,
                                   lambda d: d.total_cm2 - d.excised_cm2, excise)

    def _book_placements(self) -> None:
        for placed in self._of_place(self.record.placements):
            fitting = [d for d in self.drafts if placed.method in methods_of_place(self.place, d.wound.over_joint)]

            def place(draft: _Draft, area: Decimal) -> None:
                graft = PlacedGraft(self.day_of(placed.day), placed.method, area, placed.take_fraction,
                                    None if placed.take_day is None else self.day_of(placed.take_day))
                lost = ZERO if placed.take_fraction is None else need_cm2(area * (1 - placed.take_fraction))
                draft.read_cm2 += ZERO if placed.take_fraction is None else area
                draft.lost_cm2 += lost
                draft.unplaced_cm2 -= area - lost
                draft.excised_cm2 = max(draft.excised_cm2, draft.total_cm2 - draft.unplaced_cm2 + lost)
                draft.wound = replace(draft.wound, placed=(*draft.wound.placed, graft),
                                      sources=(*draft.wound.sources, placed.source))
            # the record names the place only: what the fitting part cannot hold lies on the other
            rest = _book(fitting, placed.area_cm2, lambda d: d.unplaced_cm2, place)
            self.unbooked += _book(self.drafts, rest, lambda d: d.unplaced_cm2, place)

    def _book_covers(self) -> None:
        for cover in self._of_place(self.record.covers):
            until = self.day_of(cover.day) + self.cover_life_days
            if until < 0:
                continue  # its life is over: the bed counts as uncovered

            def lay(draft: _Draft, area: Decimal) -> None:
                draft.covered_cm2 += area
                draft.wound = replace(draft.wound, covered_until_day=until,
                                      sources=(*draft.wound.sources, cover.source))
            _book(self.drafts, cover.area_cm2, lambda d: self._open_bed(d) - d.covered_cm2, lay)

    def _book_beds(self) -> None:
        beds = sorted((b for b in self.record.beds if b.place == self.place), key=lambda b: (b.observed, b.source))
        if not beds:
            return
        bed = beds[-1]
        ready_from = None if bed.ready_from is None else self.day_of(bed.ready_from)
        for draft in self.drafts:
            draft.wound = replace(draft.wound, bed_state=bed.state, ready_from_day=ready_from,
                                  sources=(*draft.wound.sources, bed.source))
            if bed.state in (BedState.READY, BedState.UNDER_TEMPLATE):
                draft.excised_cm2 = draft.total_cm2

    @staticmethod
    def _open_bed(draft: _Draft) -> Decimal:
        """Bed excised, or lost again after grafting, and not under a graft now."""
        return max(ZERO, draft.excised_cm2 - (draft.total_cm2 - draft.unplaced_cm2))


def _finish(draft: _Draft) -> BurnWound:
    open_bed = min(draft.unplaced_cm2, _History._open_bed(draft))
    is_excised = open_bed >= draft.unplaced_cm2  # nothing is left to wait for
    return replace(draft.wound, area_cm2=draft.unplaced_cm2, excised_cm2=open_bed,
                   covered_cm2=min(draft.covered_cm2, open_bed),
                   wait_until_day=None if is_excised else draft.wound.wait_until_day)


@dataclass(frozen=True)
class AssessedWounds:
    """Wounds to graft, burns that close by themselves, and burns that are not planned."""

    wounds: tuple[BurnWound, ...]
    closes_by_itself: tuple[BurnExtent, ...]
    not_planned: tuple[BurnExtent, ...]
    findings: tuple[Finding, ...]


def _leave_small_losses(drafts: dict[Place, list[_Draft]], surface_m2: Decimal,
                        preferences: Preferences) -> list[Finding]:
    """A recorded loss below a share of body surface or of the graft, by region, heals by dressing."""
    regions: dict[str, list[_Draft]] = {}
    for place, place_drafts in drafts.items():
        regions.setdefault(place.region_key, []).extend(d for d in place_drafts if d.open_loss_cm2 > 0)
    findings = []
    for region_key, losing in regions.items():
        lost = sum((d.open_loss_cm2 for d in losing), ZERO)
        read = sum((d.read_cm2 for d in losing), ZERO)
        is_small = (lost < preferences.value("regraft-percent") * surface_m2 * 100
                    or lost < preferences.value("regraft-fraction") * read)
        if losing and is_small:
            for draft in losing:
                part = draft.open_loss_cm2
                draft.wound = replace(draft.wound, dressed_loss_cm2=part)
                draft.unplaced_cm2 -= part
                draft.total_cm2 -= part
                draft.excised_cm2 -= min(part, draft.excised_cm2)
            values = (("area_cm2", f"{lost:.0f}"),)
            findings.append(Finding("loss-heals-by-dressing", Severity.LOW, values, place=region_key))
    return findings


def assess_wounds(record: BurnRecord, place_percent: dict[Place, Decimal], surface_m2: Decimal,
                  day_of: Callable[[date], int], injury_day: int, evidence: Evidence,
                  preferences: Preferences) -> AssessedWounds:
    """Wounds that still need skin, from extents, other wounds and what was already done.

    Areas are rounded up. A wound whose graft has no recorded take keeps the graft in
    ``placed``; a recorded loss comes back as open area on a ready bed, unless it is so small
    that it heals by dressing. Indeterminate burns become wounds that wait for demarcation.
    """
    drafts: dict[Place, list[_Draft]] = {}
    by_itself, not_planned = [], []
    demarcated_day = injury_day + int(evidence.value("demarcation-days"))
    for extent in record.extents:
        percent = extent_percent_tbsa(extent, place_percent)
        may_need_graft = extent.depth in NEEDS_GRAFT or extent.depth is Depth.INDETERMINATE
        if may_need_graft and not extent.place.facts.methods:
            not_planned.append(extent)
        elif may_need_graft:
            watch_day = _watch_day(extent, day_of, demarcated_day)
            drafts.setdefault(extent.place, []).extend(
                _drafts_of_extent(extent, percent, surface_m2, evidence, watch_day))
        elif extent.depth is Depth.SUPERFICIAL_PARTIAL:
            by_itself.append(extent)
    findings = []
    for wound in record.open_wounds:
        if not wound.place.facts.methods:
            findings.append(
                Finding("region-not-planned", Severity.HIGH, place=wound.place.key, sources=(wound.source,)))
            continue
        draft = _draft(wound.place, None, False, need_cm2(wound.area_cm2), wound.source)
        draft.excised_cm2 = draft.total_cm2  # an open wound has no eschar to excise
        drafts.setdefault(wound.place, []).append(draft)
    life = int(evidence.value("cover-life"))
    for place, place_drafts in drafts.items():
        history = _History(place_drafts, record, day_of, life)
        history.book()
        total = sum((d.total_cm2 for d in place_drafts), ZERO)
        if history.unbooked > total * evidence.value("history-tolerance-fraction"):
            findings.append(Finding("history-exceeds-wound", Severity.HIGH, place=place.key))
    findings += _leave_small_losses(drafts, surface_m2, preferences)
    wounds = [_finish(d) for ds in drafts.values() for d in ds]
    kept = tuple(sorted((w for w in wounds if w.area_cm2 > 0 or w.placed), key=lambda w: w.wound_id))
    return AssessedWounds(kept, tuple(by_itself), tuple(not_planned), tuple(findings))
