"""Strips of skin: how many a harvest is, and how many plates can be cut from them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.evidence.library import Evidence
from service.wording.rounding import round_need_up, round_supply_down


@dataclass(frozen=True)
class Strip:
    """The strip that the knife cuts, and the square plate. Lengths in mm."""

    width_mm: Decimal
    length_mm: Decimal
    plate_side_mm: Decimal

    @property
    def area_cm2(self) -> Decimal:
        return self.width_mm * self.length_mm / 100

    def whole_squares(self, length_mm: Decimal | None = None) -> int:
        """Whole plates cut from one strip, or from a shorter one of ``length_mm``."""
        length = self.length_mm if length_mm is None else length_mm
        return int(self.width_mm // self.plate_side_mm) * int(length // self.plate_side_mm)

    @property
    def whole_square_share(self) -> Decimal:
        """Share of a strip that whole plates use. [0-1]"""
        return self.whole_squares() * self.plate_side_mm**2 / (self.width_mm * self.length_mm)

    def strips_needed(self, harvest_cm2: Decimal) -> int:
        """Strips that give a harvest, the last one cut short. Area in cm²."""
        return int(round_need_up(harvest_cm2 / self.area_cm2))

    def plates_from_whole_squares(self, harvest_cm2: Decimal) -> int:
        """Plates from a harvest when only whole squares are cut. Area in cm²."""
        full = int(harvest_cm2 // self.area_cm2)
        rest_length_mm = (harvest_cm2 - full * self.area_cm2) * 100 / self.width_mm
        return full * self.whole_squares() + self.whole_squares(rest_length_mm)

    def plates_with_piecing(self, usable_cm2: Decimal) -> int:
        """Plates when pieces are laid together on further plates. Usable skin in cm²."""
        return int(round_supply_down(usable_cm2 * 100 / self.plate_side_mm**2))


def usual_strip(evidence: Evidence) -> Strip:
    """The strip of the site configuration.

    References
    ----------
    .. [1] evidence/tables/skin.csv and site_configuration.csv
    """
    return Strip(*(evidence.value(name) for name in ("strip-width-mm", "strip-length-mm", "plate-side-mm")))


def harvest_for_whole_squares_cm2(plates: int, plate_area_cm2: Decimal, whole_square_share: Decimal) -> Decimal:
    """Skin to harvest for plates when only whole squares are cut. Area in cm², share [0-1]."""
    return plates * plate_area_cm2 / whole_square_share
