"""A neutral outline of the body, front and back, with the proportions of the patient's age.

Drawn by rule for this service: a standing figure 200 units tall, one polygon for each place that wounds and donor
sites lie on. Heads of children are larger and their legs shorter; the shares are those that drawing courses teach
(common practice, no source) and serve recognition only. Areas come from the burn chart, never from the drawing.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from decimal import Decimal

from service.domain.body_region import Place, Region, Side, Surface, all_places

Point = tuple[float, float]
Polygon = tuple[Point, ...]

HEIGHT = 200.0
_ADULT_HEAD = 0.13
#: Head height as a share of stature, by age in years.
_HEAD_BY_AGE = ((0, 0.25), (2, 0.20), (6, 0.165), (12, 0.145), (18, _ADULT_HEAD))
#: Chin, shoulder line and crotch of the adult figure, where the proportions of a child change.
_CHIN, _SHOULDER, _CROTCH = 26.0, 32.0, 110.0
_LEG_SHARE = (HEIGHT - _CROTCH) / HEIGHT
_STOCKIER = 2.0  # a child's trunk is broader for the same drawn stature

# Right half of the drawing, x from the midline, y down from the crown. The other half is mirrored.
_HEAD = ((0, 0), (4.5, 0.8), (8, 4), (9, 10), (8.6, 16), (7, 21), (4, 25), (0, 26))
_NECK = ((0, 24), (5, 23.5), (5.2, 29), (8, 32), (0, 34))
_CHEST = ((0, 34), (8, 32), (18, 35.5), (19, 44), (17.5, 56), (15.5, 76), (18, 96), (9, 107), (4, 103), (0, 103))
_BACK = ((0, 34), (8, 32), (18, 35.5), (19, 44), (17.5, 56), (15.5, 76), (17.3, 90), (0, 90))
_BUTTOCK = ((0.6, 90), (17.3, 90), (18.6, 98), (18, 108), (10, 113), (0.6, 111))
_GROIN = ((0, 103), (4, 103), (5, 109), (3, 115), (0, 116))
_UPPER_ARM = ((18, 35.5), (22.5, 38.5), (25.5, 48), (31.5, 74), (25.2, 76), (17.8, 55), (19, 44))
_FOREARM = ((31.5, 74), (34.5, 84), (37.5, 105), (33.2, 106), (27, 88), (25.2, 76))
_HAND = ((37.5, 105), (39.6, 112), (39.6, 124), (36.4, 125), (34.6, 117), (31.2, 115), (33.2, 106))
_THIGH_FRONT = ((18, 96), (19.4, 108), (18, 130), (15.6, 152), (5.6, 152), (2.2, 118), (5, 109), (9, 107))
_THIGH_BACK = ((18, 108), (19, 112), (18, 130), (15.6, 152), (5.6, 152), (1.6, 114), (0.6, 111), (10, 113))
_LOWER_LEG = ((15.6, 152), (16.2, 166), (11, 191), (6.4, 191), (4.6, 166), (5.6, 152))
_FOOT = ((11, 191), (14.4, 198), (13, 200), (5, 200), (4.4, 197), (6.4, 191))

_WHOLE: dict[tuple[Region, Surface], Polygon] = {
    (Region.FACE, Surface.FRONT): _HEAD,
    (Region.SCALP, Surface.BACK): _HEAD,
    (Region.NECK, Surface.FRONT): _NECK,
    (Region.NECK, Surface.BACK): _NECK,
    (Region.ANTERIOR_TRUNK, Surface.FRONT): _CHEST,
    (Region.POSTERIOR_TRUNK, Surface.BACK): _BACK,
    (Region.GENITALIA, Surface.FRONT): _GROIN,
}
_HALF: dict[tuple[Region, Surface], Polygon] = {
    (Region.BUTTOCK, Surface.BACK): _BUTTOCK,
    (Region.THIGH, Surface.FRONT): _THIGH_FRONT,
    (Region.THIGH, Surface.BACK): _THIGH_BACK,
    **{(Region.UPPER_ARM, surface): _UPPER_ARM for surface in Surface},
    **{(Region.FOREARM, surface): _FOREARM for surface in Surface},
    **{(Region.HAND, surface): _HAND for surface in Surface},
    **{(Region.LOWER_LEG, surface): _LOWER_LEG for surface in Surface},
    **{(Region.FOOT, surface): _FOOT for surface in Surface},
}


def outline_of(age_years: Decimal) -> dict[Place, Polygon]:
    """A polygon for each place of the body, as an observer sees it.

    On the front the patient's right is at the observer's left; on the back left is left.

    Parameters
    ----------
    age_years : Decimal
        Age of the patient. [years]

    Returns
    -------
    dict
        Corner points by place; x from the midline, y from the crown down, 200 for the whole figure.
    """
    fit = _fit_to(_head_share(float(age_years)))
    return {place: tuple(map(fit, _polygon(place))) for place in all_places()}


def middle_of(polygon: Polygon) -> Point:
    """Where a label goes: the centre of the polygon's area."""
    doubled = x_sum = y_sum = 0.0
    for (x1, y1), (x2, y2) in zip(polygon, (*polygon[1:], polygon[0]), strict=True):
        cross = x1 * y2 - x2 * y1
        doubled += cross
        x_sum += (x1 + x2) * cross
        y_sum += (y1 + y2) * cross
    return x_sum / (3 * doubled), y_sum / (3 * doubled)


def _polygon(place: Place) -> Polygon:
    key = place.region, place.surface
    if key in _WHOLE:
        half = _WHOLE[key]
        return (*half, *((-x, y) for x, y in reversed(half) if x))
    seen_right = (place.side is Side.LEFT) == (place.surface is Surface.FRONT)
    return _HALF[key] if seen_right else tuple((-x, y) for x, y in _HALF[key])


def _head_share(age_years: float) -> float:
    """Between the ages of the table in a straight line, beyond them as at its ends."""
    ages = [age for age, _ in _HEAD_BY_AGE]
    index = bisect_right(ages, age_years)
    if index == len(ages):
        return _ADULT_HEAD
    (low, before), (high, after) = _HEAD_BY_AGE[index - 1], _HEAD_BY_AGE[index]
    return before + (after - before) * (age_years - low) / (high - low)


def _fit_to(head: float) -> Callable[[Point], Point]:
    """Moves a point of the adult figure to where it lies with a head of this share of stature."""
    chin = head * HEIGHT
    shoulder = chin + _SHOULDER - _CHIN
    crotch = HEIGHT * (1 - _LEG_SHARE + (head - _ADULT_HEAD))
    lines = ((0, 0), (_CHIN, chin), (_SHOULDER, shoulder), (_CROTCH, crotch), (HEIGHT, HEIGHT))
    broader = 1 + _STOCKIER * (head - _ADULT_HEAD)

    def fit(point: Point) -> Point:
        x, y = point
        (low, low_at), (high, high_at) = next(
            pair for pair in zip(lines, lines[1:], strict=False) if pair[0][0] <= y <= pair[1][0])
        wide = head / _ADULT_HEAD if y <= _CHIN else broader
        return x * wide, low_at + (high_at - low_at) * (y - low) / (high - low)

    return fit
