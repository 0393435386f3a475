"""Form of a plan: a malformed act cannot be weighed, so it is refused before any rule is.

Each line names a field, what it must be, and the rule that could not be checked without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

from service.domain.body_region import Position
from service.domain.graft import GraftMethod, SkinClass, Thickness
from service.domain.plan import SettledPlan
from service.domain.rule import Rule
from service.domain.session import CoverKind, Placement
from service.verification.violation import Violation

#: No person has this much skin; larger numbers are refused before they cost time. [cm²]
IMPOSSIBLE_AREA_CM2 = Decimal(10) ** 6
#: Nor is skin printed finer than this power of ten. [cm²]
FINEST_EXPONENT = -6


def is_whole_number(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def is_count(value: object) -> bool:
    return is_whole_number(value) and value >= 0


def is_text(value: object) -> bool:
    return isinstance(value, str)


def is_flag(value: object) -> bool:
    return isinstance(value, bool)


def is_size(value: object) -> bool:
    """A positive, finite, possible area, in whatever steps."""
    if not isinstance(value, Decimal) or not value.is_finite():
        return False
    return 0 < value < IMPOSSIBLE_AREA_CM2 and value.normalize().as_tuple().exponent >= FINEST_EXPONENT


def is_area(value: object) -> bool:
    """A positive multiple of 0.1 cm²."""
    return is_size(value) and _is_in_steps(value)


def is_area_or_none_left(value: object) -> bool:
    """A multiple of 0.1 cm², zero included."""
    return is_area(value) or (isinstance(value, Decimal) and value.is_finite() and value == 0)


def is_plates(value: object) -> bool:
    """A count, or a decimal number of plates where wounds share one; none for other methods."""
    return value is None or is_whole_number(value) or (isinstance(value, Decimal) and value.is_finite())


def is_skin_class(value: object) -> bool:
    if not isinstance(value, SkinClass):
        return False
    return isinstance(value.thickness, Thickness) and is_flag(value.above_clavicle)


def is_positions(value: object) -> bool:
    return isinstance(value, tuple) and all(isinstance(position, Position) for position in value)


def one_of(kind: type) -> Callable[[object], bool]:
    return lambda value: isinstance(value, kind)


def _is_in_steps(area_cm2: Decimal) -> bool:
    numerator, denominator = area_cm2.as_integer_ratio()
    return numerator * 10 % denominator == 0


FIELDS: tuple[tuple[str, str, Callable[[object], bool], Rule], ...] = (
    ("sessions", "ordinal", is_whole_number, Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "day", is_whole_number, Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "is_contingent", is_flag, Rule.NOTHING_WITHOUT_A_SESSION),
    ("sessions", "positions", is_positions, Rule.POSITION),
    ("sessions", "procedure_minutes", is_count, Rule.SESSION_MINUTES),
    ("sessions", "blood_loss_ml", is_count, Rule.SESSION_BLOOD),
    ("excisions", "day", is_whole_number, Rule.NOTHING_WITHOUT_A_SESSION),
    ("excisions", "wound_id", is_text, Rule.PLACE_EACH_WOUND_ONCE),
    ("excisions", "area_cm2", is_area, Rule.GRAFT_ON_READY_BED),
    ("harvests", "day", is_whole_number, Rule.NOTHING_WITHOUT_A_SESSION),
    ("harvests", "site_id", is_text, Rule.DONOR_REGROWTH),
    ("harvests", "area_cm2", is_area, Rule.DONOR_REGROWTH),
    ("harvests", "thickness", one_of(Thickness), Rule.SKIN_CLASS),
    ("harvests", "harvest_number", is_whole_number, Rule.DONOR_HARVEST_COUNT),
    ("placements", "day", is_whole_number, Rule.NOTHING_WITHOUT_A_SESSION),
    ("placements", "wound_id", is_text, Rule.PLACE_EACH_WOUND_ONCE),
    ("placements", "area_cm2", is_area, Rule.PLACE_EACH_WOUND_ONCE),
    ("placements", "method", one_of(GraftMethod), Rule.METHOD_OF_REGION),
    ("placements", "skin_class", is_skin_class, Rule.SKIN_CLASS),
    ("placements", "skin_cm2", is_size, Rule.SKIN_BALANCE),
    ("placements", "plates", is_plates, Rule.WHOLE_PLATES),
    ("placements", "is_regraft", is_flag, Rule.NOTHING_WITHOUT_A_SESSION),
    ("covers", "day", is_whole_number, Rule.NOTHING_WITHOUT_A_SESSION),
    ("covers", "wound_id", is_text, Rule.PLACE_EACH_WOUND_ONCE),
    ("covers", "area_cm2", is_area, Rule.COVER_EXCISED_BED),
    ("covers", "kind", one_of(CoverKind), Rule.COVER_EXCISED_BED),
    ("covers", "until_day", is_whole_number, Rule.COVER_EXCISED_BED),
    ("still_open", "wound_id", is_text, Rule.PLACE_EACH_WOUND_ONCE),
    ("still_open", "area_cm2", is_area_or_none_left, Rule.PLACE_EACH_WOUND_ONCE),
    ("unreserved", "region_key", is_text, Rule.FAILED_GRAFTS_COME_BACK),
    ("unreserved", "area_cm2", is_area_or_none_left, Rule.FAILED_GRAFTS_COME_BACK),
)
SUBJECT_FIELDS = ("wound_id", "site_id", "region_key")


def check_form(plan: SettledPlan) -> Iterator[Violation]:
    """Every field of every act is of its kind; areas are positive multiples of 0.1 cm²."""
    for group, field, is_well_formed, rule in FIELDS:
        parts = getattr(plan, group)
        if not isinstance(parts, tuple):
            yield Violation(rule, group)
            continue
        for part in parts:
            is_kind = is_well_formed(getattr(part, field, None))
            if not is_kind or (field == "skin_cm2" and not _is_printable_skin(part)):
                yield Violation(rule, _subject_of(part, group), _day_of(part))


def _is_printable_skin(placement: Placement) -> bool:
    """Skin that is not cut in plates is measured in steps of 0.1 cm²."""
    return placement.plates is not None or is_area(placement.skin_cm2)


def _subject_of(part: object, group: str) -> str:
    named = (getattr(part, field, None) for field in SUBJECT_FIELDS)
    return next((name for name in named if is_text(name)), group)


def _day_of(part: object) -> int | None:
    day = getattr(part, "day", None)
    return day if is_whole_number(day) else None
