"""From recorded extents and history to the wounds that still need skin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.assessment.areas import need_cm2
from service.assessment.wound_history import WoundAccount, WoundHistory
from service.domain.body_region import Place
from service.domain.burn_wound import (
    NEEDS_GRAFT,
    ZERO,
    BurnExtent,
    BurnWound,
    Depth,
)
from service.domain.case import BurnRecord
from service.domain.finding import Finding, Severity
from service.evidence.library import Evidence
from service.preferences.library import Preferences


def extent_percent_tbsa(extent: BurnExtent, place_percent: dict[Place, Decimal]) -> Decimal:
    """Recorded extent as a share of body surface. [%TBSA]"""
    if extent.percent_tbsa is not None:
        return extent.percent_tbsa
    return extent.percent_of_region * place_percent[extent.place] / 100


def _joint_fraction(extent: BurnExtent, evidence: Evidence) -> Decimal:
    if extent.over_joint_fraction is not None:
        return extent.over_joint_fraction
    region = extent.place.region
    return evidence.value("joint-share", region) if evidence.has("joint-share", region) else ZERO


def _account(place: Place, depth: Depth | None, over_joint: bool, area: Decimal, source: str,
             watch_day: int | None = None) -> WoundAccount:
    wound_id = f"{place.key}:{depth or 'open-wound'}{':joint' if over_joint else ''}"
    wound = BurnWound(wound_id, place, depth, over_joint, area, wait_until_day=watch_day, sources=(source,))
    return WoundAccount(wound, area, area)


def _watch_day(extent: BurnExtent, day_of: Callable[[date], int], demarcated_day: int) -> int | None:
    """Day until which a burn is not excised: the caller watches it, or its depth is not settled."""
    days = [] if extent.watch_until is None else [day_of(extent.watch_until)]
    if extent.depth is Depth.INDETERMINATE:
        days.append(demarcated_day)
    return max(days, default=None)


def _accounts_of_extent(extent: BurnExtent, percent: Decimal, surface_m2: Decimal, evidence: Evidence,
                        watch_day: int | None) -> list[WoundAccount]:
    total = need_cm2(percent * surface_m2 * 100)
    joint = need_cm2(total * _joint_fraction(extent, evidence))
    parts = ((False, total - joint), (True, joint))
    return [_account(extent.place, extent.depth, over_joint, area, extent.source, watch_day)
            for over_joint, area in parts if area > 0]


@dataclass(frozen=True)
class AssessedWounds:
    """Wounds to graft, burns that close by themselves, and burns that are not planned."""

    wounds: tuple[BurnWound, ...]
    closes_by_itself: tuple[BurnExtent, ...]
    not_planned: tuple[BurnExtent, ...]
    findings: tuple[Finding, ...]


def _leave_small_losses(accounts: dict[Place, list[WoundAccount]], surface_m2: Decimal,
                        preferences: Preferences) -> list[Finding]:
    """A recorded loss below a share of body surface or of the graft, by region, heals by dressing."""
    regions: dict[str, list[WoundAccount]] = {}
    for place, of_place in accounts.items():
        regions.setdefault(place.region_key, []).extend(a for a in of_place if a.lost_cm2 > 0)
    findings = []
    for region_key, losing in regions.items():
        lost = sum((a.lost_cm2 for a in losing), ZERO)
        read = sum((a.read_cm2 for a in losing), ZERO)
        is_small = (lost < preferences.value("regraft-percent") * surface_m2 * 100
                    or lost < preferences.value("regraft-fraction") * read)
        if losing and is_small:
            for account in losing:
                account.dress_loss()
            values = (("area_cm2", f"{lost:.0f}"),)
            findings.append(Finding("loss-heals-by-dressing", Severity.LOW, values, place=region_key))
    return findings


def _leave_small_remainders(accounts: dict[Place, list[WoundAccount]], surface_m2: Decimal, evidence: Evidence,
                            preferences: Preferences) -> list[Finding]:
    """What grafts left of a burn within the accuracy of recorded areas, and below the smallest piece, is dressed.

    A wound that nothing was grafted on is untouched, and one that the caller recorded as open is open.
    """
    tolerance = evidence.value("history-tolerance-fraction")
    smallest_cm2 = preferences.value("smallest-piece") * surface_m2 * 100
    findings = []
    for place, of_place in accounts.items():
        grafted = [a for a in of_place if a.wound.placed and a.wound.depth is not None]
        remainder = sum((a.never_grafted_cm2 for a in grafted), ZERO)
        if 0 < remainder < min(smallest_cm2, tolerance * sum(a.total_cm2 for a in grafted)):
            for account in grafted:
                account.dress_remainder()
            if remainder >= 1:  # less is rounding: records and answers are in whole cm²
                findings.append(Finding("remainder-heals-by-dressing", Severity.MODERATE,
                                        (("area_cm2", f"{remainder:.0f}"),), place=place.key))
    return findings


def assess_wounds(record: BurnRecord, place_percent: dict[Place, Decimal], surface_m2: Decimal,
                  day_of: Callable[[date], int], injury_day: int, evidence: Evidence,
                  preferences: Preferences) -> AssessedWounds:
    """Wounds that still need skin, from extents, other wounds and what was already done.

    Areas are rounded up. A wound whose graft has no recorded take keeps the graft in
    ``placed``; a recorded loss comes back as open area on a ready bed, unless it is so small
    that it heals by dressing, as does what grafts left of a burn within the accuracy of the
    record. Indeterminate burns become wounds that wait for demarcation.
    """
    accounts: dict[Place, list[WoundAccount]] = {}
    by_itself, not_planned = [], []
    demarcated_day = injury_day + int(evidence.value("demarcation-days"))
    for extent in record.extents:
        percent = extent_percent_tbsa(extent, place_percent)
        may_need_graft = extent.depth in NEEDS_GRAFT or extent.depth is Depth.INDETERMINATE
        if may_need_graft and not extent.place.facts.methods:
            not_planned.append(extent)
        elif may_need_graft:
            watch_day = _watch_day(extent, day_of, demarcated_day)
            accounts.setdefault(extent.place, []).extend(
                _accounts_of_extent(extent, percent, surface_m2, evidence, watch_day))
        elif extent.depth is Depth.SUPERFICIAL_PARTIAL:
            by_itself.append(extent)
    findings = []
    for wound in record.open_wounds:
        if not wound.place.facts.methods:
            findings.append(
                Finding("region-not-planned", Severity.HIGH, place=wound.place.key, sources=(wound.source,)))
            continue
        account = _account(wound.place, None, False, need_cm2(wound.area_cm2), wound.source)
        account.excised_cm2 = account.total_cm2  # an open wound has no eschar to excise
        accounts.setdefault(wound.place, []).append(account)
    life = int(evidence.value("cover-life"))
    for place, of_place in accounts.items():
        history = WoundHistory(of_place, record, day_of, life)
        history.book()
        total = sum((a.total_cm2 for a in of_place), ZERO)
        if history.unbooked_cm2 > total * evidence.value("history-tolerance-fraction"):
            findings.append(Finding("history-exceeds-wound", Severity.HIGH, place=place.key))
    findings += _leave_small_remainders(accounts, surface_m2, evidence, preferences)
    findings += _leave_small_losses(accounts, surface_m2, preferences)
    wounds = [account.close() for of_place in accounts.values() for account in of_place]
    kept = tuple(sorted((w for w in wounds if w.area_cm2 > 0 or w.placed), key=lambda w: w.wound_id))
    return AssessedWounds(kept, tuple(by_itself), tuple(not_planned), tuple(findings))
