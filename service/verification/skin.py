"""Rules of the skin: enough of it, of the right class, in whole plates."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction

from service.domain.body_region import Region
from service.domain.graft import GraftKind, GraftMethod, SkinClass, Thickness, thickness_for
from service.domain.rule import Rule
from service.domain.session import Placement
from service.verification.exact import exact, total_area
from service.verification.under_review import PlanUnderReview
from service.verification.violation import Violation


def whole_plates(review: PlanUnderReview) -> Iterator[Violation]:
    """Islands: skin = plates × plate area, in parts that may be cut; whole plates by session, method and class.

    Every other method: no plates.
    """
    plate_cm2, parts = review.number("plate-side-mm") ** 2 / 100, review.preference("plate-parts")
    used: dict[tuple[int, GraftMethod, SkinClass], Fraction] = defaultdict(Fraction)
    for placement in review.plan.placements:
        if not _has_plates(placement, plate_cm2, parts):
            yield Violation(Rule.WHOLE_PLATES, placement.wound_id, placement.day)
        elif placement.plates is not None:
            used[placement.day, placement.method, placement.skin_class] += exact(placement.plates)
    for (day, _, skin_class), plates in used.items():
        if plates.denominator != 1:
            yield Violation(Rule.WHOLE_PLATES, skin_class.key, day)


def _has_plates(placement: Placement, plate_cm2: Fraction, parts: Fraction) -> bool:
    if placement.method.kind is not GraftKind.ISLAND:
        return placement.plates is None
    if placement.plates is None:
        return False
    plates = exact(placement.plates)
    is_cut_so = (plates * parts).denominator == 1
    return plates > 0 and is_cut_so and exact(placement.skin_cm2) == plates * plate_cm2


def skin_balance(review: PlanUnderReview) -> Iterator[Violation]:
    """Area ≤ skin placed × R × s; Σ skin placed of a class ≤ (1 − handling loss) × Σ harvested of it."""
    rule = Rule.SKIN_BALANCE
    for placement in review.plan.placements:
        place = review.place_of_wound(placement.wound_id)
        if place is None:
            continue
        covered = exact(placement.skin_cm2) * review.area_per_skin(placement.method, place)
        if exact(placement.area_cm2) > covered:
            yield Violation(rule, placement.wound_id, placement.day)
    harvested = _harvested_by_day_and_class(review)
    for (day, skin_class), placed_cm2 in _placed_by_day_and_class(review).items():
        if placed_cm2 > review.share_left_after_handling * harvested[day, skin_class]:
            yield Violation(rule, skin_class.key, day)


def _placed_by_day_and_class(review: PlanUnderReview) -> dict[tuple[int, SkinClass], Fraction]:
    placed: dict[tuple[int, SkinClass], Fraction] = defaultdict(Fraction)
    for placement in review.plan.placements:
        placed[placement.day, placement.skin_class] += exact(placement.skin_cm2)
    return placed


def _harvested_by_day_and_class(review: PlanUnderReview) -> dict[tuple[int, SkinClass], Fraction]:
    harvested: dict[tuple[int, SkinClass], Fraction] = defaultdict(Fraction)
    for harvest in review.plan.harvests:
        skin_class = review.class_of(harvest)
        if skin_class is not None:
            harvested[harvest.day, skin_class] += exact(harvest.area_cm2)
    return harvested


def skin_class(review: PlanUnderReview) -> Iterator[Violation]:
    """Thickness is one that the method takes, thick if allowed; face skin from above if that suffices."""
    rule = Rule.SKIN_CLASS
    thick_allowed = review.case.thick_skin_allowed
    face_needs_above = _above_clavicle_covers_face(review)
    for wound in review.case.wounds:
        for placement in review.placements_on[wound.wound_id]:
            allowed = thickness_for(placement.method, wound.place, thick_allowed=thick_allowed)
            is_below = not placement.skin_class.above_clavicle
            is_wrong_for_face = wound.place.region is Region.FACE and face_needs_above and is_below
            if placement.skin_class.thickness not in allowed or is_wrong_for_face:
                yield Violation(rule, wound.wound_id, placement.day)
    for harvest in review.plan.harvests:
        if harvest.thickness is Thickness.THICK and not thick_allowed:
            yield Violation(rule, harvest.site_id, harvest.day)


def _above_clavicle_covers_face(review: PlanUnderReview) -> bool:
    """Whether one sheet harvest of all sites above the clavicle would cover all face wounds."""
    faces = [wound for wound in review.case.wounds if wound.place.region is Region.FACE]
    if not faces:
        return False
    skin_cm2 = total_area(site for site in review.case.donor_sites if site.above_clavicle)
    placed_cm2 = skin_cm2 * review.share_left_after_handling
    return placed_cm2 * review.area_per_skin(GraftMethod.SHEET, faces[0].place) >= total_area(faces)
