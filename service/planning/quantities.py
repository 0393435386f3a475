"""The numbers of one case that planning needs, looked up once.

Planning counts in whole tenths of a cm² (``_tenths``), the printable step, so that sums are
exact; skin placed counts in hundredths, because a plate is not a multiple of 0.1 cm².
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from service.domain.body_region import Place, Region
from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.graft import GraftKind, GraftMethod, Thickness
from service.evidence.donor_healing import healing_days
from service.evidence.library import Evidence
from service.formulas.blood_loss import allowable_blood_loss_simple_ml
from service.preferences.library import Preferences

VISIBLE = (Region.FACE, Region.NECK, Region.HAND)
FLAT = (Region.ANTERIOR_TRUNK, Region.POSTERIOR_TRUNK, Region.THIGH)
CHILDREN = (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD)


def tenths(area_cm2: Decimal) -> int:
    """Whole tenths of a cm²; areas of a case stand in 0.1 cm² steps."""
    return int(area_cm2 * 10)


def divide_up(numerator: int, denominator: int) -> int:
    """Whole-number division that rounds up."""
    return -(-numerator // denominator)


def _parts_of(plate_hundredths: int, most: int) -> int:
    """Parts of a plate that a wound may take: as many as allowed that divide its area evenly."""
    return next(parts for parts in range(most, 0, -1) if plate_hundredths % parts == 0)


def cm2(area_tenths: int) -> Decimal:
    return Decimal(area_tenths) / 10


def cautious_ratio(evidence: Evidence, method: GraftMethod, probability: Decimal) -> Fraction:
    """Achieved expansion to plan with: the quantile, and never more than the default value.

    A range that lies mostly above its default has a low quantile above it; the smaller counts.
    """
    parameter = "achieved-expansion-ratio"
    return Fraction(min(evidence.value(parameter, method), evidence.quantile(parameter, method, probability)))


@dataclass(frozen=True)
class Blood:
    """Cautious blood loss. [mL per tenth of a cm²]"""

    excision_ml: Fraction
    harvest_ml: Fraction
    tourniquet_ml: Fraction  # excision of a limb under a tourniquet


@dataclass(frozen=True)
class Minutes:
    """Parts of the procedure time. [minutes]"""

    fixed: Fraction
    per_percent: Fraction
    turn: Fraction
    special_area: Fraction
    in_room: Fraction


@dataclass(frozen=True)
class WholeBudget:
    """Limits and costs of a session as plain numbers for the search; areas in tenths of a cm²."""

    excise: int
    graft: int
    blood_ml: float
    harvest_ml: float
    fixed_minutes: float
    turn_minutes: float
    special_minutes: float
    per_tenth_minutes: float


class PlanningQuantities:
    """Expansion, take, healing, blood and minutes for one case, from evidence and preferences."""

    def __init__(self, case: GraftingCase, evidence: Evidence, preferences: Preferences) -> None:
        self.case = case
        self.evidence = evidence
        self.preferences = preferences
        quantile = preferences.value("planning-quantile")
        self._ratio = {m: cautious_ratio(evidence, m, quantile) for m in GraftMethod}
        self._coverage: dict[tuple[GraftMethod, Place], Fraction] = {}
        self._flat = Fraction(evidence.value("shape-factor", "flat"))
        self._concave = Fraction(evidence.value("shape-factor", "concave"))
        self._take = {k: Fraction(evidence.value("take", k)) for k in GraftKind}
        self._colonised = Fraction(evidence.value("take-multiplier", "colonised"))
        self.kept_fraction = 1 - Fraction(evidence.value("handling-loss"))
        self.regraft_percent = Fraction(preferences.value("regraft-percent"))
        self.regraft_fraction = Fraction(preferences.value("regraft-fraction"))
        self.plate_hundredths = int(evidence.value("plate-side-mm") ** 2)
        self.plate_parts = _parts_of(self.plate_hundredths, preferences.integer("plate-parts"))
        self.plate_part_hundredths = self.plate_hundredths // self.plate_parts
        self.percent_tenths = Fraction(case.body_surface_m2) * 1000  # 1 %TBSA in tenths of a cm²
        self.smallest_piece = ceil(Fraction(preferences.value("smallest-piece")) * self.percent_tenths)
        self.smallest_harvest = tenths(preferences.value("smallest-harvest"))
        self.read_days = {k: int(evidence.value("read-day", k)) for k in GraftKind}
        self.closure_days = {m: Fraction(evidence.value("closure-days", m)) for m in GraftMethod}
        self.cover_life_days = int(evidence.value("cover-life"))
        self.protect_days = int(evidence.value("protect-days"))
        self.face_from_day = case.injury_day + int(evidence.value("face-earliest-day"))
        age = "child" if case.age_band in CHILDREN else "adult"
        self.blood = Blood(*(Fraction(evidence.row("blood-loss-per-cm2", act).high) / 10
                             for act in (f"excision-{age}", f"harvest-{age}", "limb-with-tourniquet")))
        self.minutes = Minutes(*(Fraction(evidence.value("theatre-minutes", part)) for part in (
            "fixed", "per-percent", "turn", "special-area")), sum(Fraction(
                evidence.value("theatre-minutes", part)) for part in ("induction", "preparation", "exit")))
        self.whole_budget = self._whole_budget()
        self._regraft_wait_days = preferences.integer("regraft-wait-days")
        self._cover_weight = float(preferences.value("cover-weight"))
        self._bare_bed_weight = float(preferences.value("bare-bed-weight"))
        self._eschar_weight = float(preferences.value("eschar-weight"))
        self._eschar_factor = float(preferences.value("eschar-rise-factor"))
        self._eschar_rises_on = max(0, case.injury_day + preferences.integer("eschar-rise-after-day"))
        self.allowable_loss_ml = self._allowable_loss_ml()
        self.red_cell_unit_ml = evidence.value("red-cell-unit-volume")
        self._healing: dict[tuple, int] = {}
        self.face_needs_skin_from_above = self._face_needs_skin_from_above()

    def _whole_budget(self) -> WholeBudget:
        limits, minutes = self.case.limits, self.minutes
        return WholeBudget(
            tenths(limits.excised_cm2), tenths(limits.grafted_cm2), float(limits.blood_ml),
            float(self.blood.harvest_ml), float(minutes.fixed), float(minutes.turn), float(minutes.special_area),
            float(minutes.per_percent / self.percent_tenths))

    def _face_needs_skin_from_above(self) -> bool:
        """Face grafts come from above the clavicle when those sites could cover all face wounds by sheet."""
        faces = [w for w in self.case.wounds if w.place.region is Region.FACE]
        if not faces:
            return False
        supply = sum(tenths(s.area_cm2) for s in self.case.donor_sites if s.above_clavicle)
        need = sum(tenths(w.area_cm2) for w in faces)
        return supply * self.kept_fraction * self.coverage(GraftMethod.SHEET, faces[0].place) >= need

    def _allowable_loss_ml(self) -> Decimal:
        """Loss that needs no transfusion: simple form, the lowest in print."""
        haemoglobin = self.case.record.patient.haemoglobin_g_dl.value
        floor = min(self.preferences.value("haemoglobin-floor"), haemoglobin)
        return allowable_blood_loss_simple_ml(self.case.blood_volume_ml, haemoglobin, floor)

    def shape_factor(self, place: Place) -> Fraction:
        return self._flat if place.region in FLAT else self._concave

    def ratio(self, method: GraftMethod) -> Fraction:
        """Cautious achieved expansion, wound per skin placed, before the shape of the wound."""
        return self._ratio[method]

    def coverage(self, method: GraftMethod, place: Place) -> Fraction:
        """Wound covered per skin placed: R · s."""
        key = (method, place)
        if key not in self._coverage:
            self._coverage[key] = self._ratio[method] * self.shape_factor(place)
        return self._coverage[key]

    def take(self, method: GraftMethod, wound: BurnWound) -> Fraction:
        """Expected take; lower on a colonised bed. [0-1]"""
        take = self._take[method.kind]
        return take * self._colonised if wound.bed_state is BedState.COLONISED else take

    def skin_hundredths(self, method: GraftMethod, place: Place, area: int) -> int:
        """Skin placed to cover an area (in tenths), rounded up to the part of a plate or the printable step."""
        step, coverage = self._skin_step(method), self.coverage(method, place)
        return divide_up(area * 10 * coverage.denominator, step * coverage.numerator) * step

    def _skin_step(self, method: GraftMethod) -> int:
        return self.plate_part_hundredths if method.kind is GraftKind.ISLAND else 10

    def in_whole_plates(self, method: GraftMethod, skin_hundredths: int) -> int:
        """Skin that a session places by a method, with the rest of the last plate of islands."""
        rest = -skin_hundredths % self.plate_hundredths if method.kind is GraftKind.ISLAND else 0
        return skin_hundredths + rest

    def area_from_skin(self, method: GraftMethod, place: Place, skin_hundredths: int) -> int:
        """Largest area (in tenths) that the skin covers, rounded down."""
        step, coverage = self._skin_step(method), self.coverage(method, place)
        return (skin_hundredths - skin_hundredths % step) * coverage.numerator // (10 * coverage.denominator)

    def area_of_whole_steps(self, method: GraftMethod, place: Place, area: int) -> int:
        """The part of an area (in tenths) that its skin covers with nothing over, rounded down."""
        step, coverage = self._skin_step(method), self.coverage(method, place)
        steps = area * 10 * coverage.denominator // (step * coverage.numerator)
        return self.area_from_skin(method, place, steps * step)

    def harvest_for(self, skin_hundredths: int) -> int:
        """Harvest (in tenths) that leaves the skin after trimming and handling, rounded up."""
        kept = self.kept_fraction
        return divide_up(skin_hundredths * kept.denominator, 10 * kept.numerator)

    def skin_from(self, harvest: int) -> int:
        """Skin in hundredths that a harvest (in tenths) leaves to place, rounded down."""
        return harvest * 10 * self.kept_fraction.numerator // self.kept_fraction.denominator

    def excision_ml(self, place: Place) -> Fraction:
        """Blood lost per tenth of a cm² excised; less on a limb when the caller states a tourniquet."""
        under_tourniquet = bool(self.case.request.limb_tourniquet) and place.facts.is_limb
        return self.blood.tourniquet_ml if under_tourniquet else self.blood.excision_ml

    def healing_days(self, place: Place, thickness: Thickness, harvest_number: int) -> int:
        key = (place.region, thickness, harvest_number)
        if key not in self._healing:
            self._healing[key] = healing_days(self.evidence, place, thickness, self.case.age_band,
                                              harvest_number, self.preferences.value("healing-quantile"))
        return self._healing[key]

    def regraft_closure_day(self, placed_day: float, method: GraftMethod) -> float:
        """When a lost part is expected to be closed: read, a wait for theatre, and closure once more. [d]"""
        wait = self.read_days[method.kind] + self._regraft_wait_days + float(self.closure_days[method])
        return min(self.case.horizon_day, placed_day + wait)

    def eschar_days(self, day: float) -> float:
        """What deep burn left unexcised until a day costs. [%TBSA-days per %TBSA]"""
        late = max(0, day - self._eschar_rises_on)
        return self._eschar_weight * (day - late) + self._eschar_weight * self._eschar_factor * late

    def bed_days(self, wound: BurnWound, day: float) -> float:
        """What a bed open at the start costs until it is grafted. [%TBSA-days per %TBSA]

        Under cover, for as long as the cover lives, it costs what cover does; bare it costs more.
        """
        until = wound.covered_until_day
        if not wound.covered_cm2 or until is None:
            return self._bare_bed_weight * day
        share, until = float(wound.covered_cm2 / wound.excised_cm2), max(0, until)
        under_cover = self._cover_weight * min(day, until) + self._bare_bed_weight * max(0, day - until)
        return share * under_cover + (1 - share) * self._bare_bed_weight * day

    def scar_days(self, method: GraftMethod, place: Place) -> float:
        """Pattern that expansion leaves, double where it shows. [%TBSA-days per %TBSA]"""
        factor = float(self.preferences.value("scar-visible-factor")) if place.region in VISIBLE else 1
        return float(self.preferences.value("scar", method)) * factor

    def donor_days(self, place: Place, thickness: Thickness, harvest_number: int) -> float:
        """An open donor wound until healed, and how much its scar shows. [%TBSA-days per %TBSA]"""
        value = self.preferences.value
        healing = self.healing_days(place, thickness, harvest_number)
        shown = value("donor-cosmesis", place.region) * value("donor-cosmesis-scale")
        return float(value("open-donor-weight")) * healing + float(shown)

    def weight(self, region: Region) -> Fraction:
        """Weight of an open region, of the set that the burn's size calls for."""
        return Fraction(self.preferences.value(f"weight-{self.case.weight_set}", region))

    def percent(self, area: int) -> Fraction:
        """Tenths of a cm² as %TBSA."""
        return area / self.percent_tenths
