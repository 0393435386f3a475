"""What a formulation needs to know about a case, read from evidence and preferences alone."""

from __future__ import annotations

from service.domain.body_region import Region
from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import GraftingCase, SkinLimitAge
from service.domain.donor_site import DonorSite
from service.domain.graft import NEEDS_OVERLAY, GraftMethod, Thickness, methods_of_place, thickness_for
from service.evidence.donor_healing import healing_days
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from tests.reference.exact_plan import FLAT

SEEN_AND_USED = (Region.FACE, Region.NECK, Region.HAND)
CHILDREN = (SkinLimitAge.INFANT, SkinLimitAge.SMALL_CHILD, SkinLimitAge.CHILD)
STOPPED = (BedState.STREPTOCOCCUS, BedState.INFECTED)


class CaseNumbers:
    """What the problem needs to know about a case, as plain floats. Areas in %TBSA."""

    def __init__(self, case: GraftingCase, evidence: Evidence, preferences: Preferences) -> None:
        self.case, self.evidence, self.preferences = case, evidence, preferences
        self.horizon = case.horizon_day
        self.cm2 = float(case.body_surface_m2) * 100
        self.kept = 1 - self.value("handling-loss")
        self.plate = self.percent(self.value("plate-side-mm") ** 2 / 100)
        self.age = "child" if case.age_band in CHILDREN else "adult"

    def value(self, parameter: str, applies_to: str = "any") -> float:
        return float(self.evidence.value(parameter, applies_to))

    def preference(self, name: str, applies_to: str = "any") -> float:
        return float(self.preferences.value(name, applies_to))

    def percent(self, area_cm2) -> float:
        return float(area_cm2) / self.cm2

    def loss_ml(self, act: str) -> float:
        """Blood lost per %TBSA, cautious end."""
        row = self.evidence.row("blood-loss-per-cm2", act)
        return float(row.high if row.high is not None else row.value) * self.cm2

    def excision_ml(self, wound: BurnWound) -> float:
        is_bloodless = bool(self.case.request.limb_tourniquet) and wound.place.facts.is_limb
        return self.loss_ml("limb-with-tourniquet" if is_bloodless else f"excision-{self.age}")

    def methods(self, wound: BurnWound) -> list[GraftMethod]:
        """Methods that the rules allow; whole regions and joints included."""
        allowed = methods_of_place(wound.place, wound.over_joint) & self.case.request.methods_available
        if not self.case.request.cover_stock_cm2:
            allowed -= NEEDS_OVERLAY
        return [] if wound.bed_state in STOPPED else sorted(allowed)

    def skin(self, wound: BurnWound, method: GraftMethod) -> float:
        """Skin placed per wound covered."""
        row = self.evidence.row("achieved-expansion-ratio", method)
        quantile = self.evidence.quantile(row.parameter, row.applies_to, self.preferences.value("planning-quantile"))
        shape = self.value("shape-factor", "flat" if wound.place.region in FLAT else "concave")
        return 1 / (float(min(row.value, quantile)) * shape)

    def thickness(self, wound: BurnWound, method: GraftMethod) -> Thickness:
        return thickness_for(method, wound.place, thick_allowed=self.case.thick_skin_allowed)[0]

    def graft_days(self, wound: BurnWound, method: GraftMethod, day: int) -> float:
        """Weighted days and scar of what is grafted on a day, per %TBSA."""
        closure = self.value("closure-days", method)
        take = self.value("take", method.kind)
        if wound.bed_state is BedState.COLONISED:
            take *= self.value("take-multiplier", "colonised")
        wait = self.value("read-day", method.kind) + self.preference("regraft-wait-days") + closure
        days = take * (day + closure) + (1 - take) * min(self.horizon, day + wait)
        doubled = self.preference("scar-visible-factor") if wound.place.region in SEEN_AND_USED else 1
        return self.weight(wound) * days + self.preference("scar", method) * doubled

    def weight(self, wound: BurnWound) -> float:
        return self.preference(f"weight-{self.case.weight_set}", wound.place.region)

    def eschar_days(self, day: int) -> float:
        """What a %TBSA of burn left unexcised until a day costs."""
        rises = max(0, self.case.injury_day + self.preferences.integer("eschar-rise-after-day"))
        late = max(0, day - rises)
        return self.preference("eschar-weight") * (day - late + self.preference("eschar-rise-factor") * late)

    def bed_days(self, wound: BurnWound, day: int) -> float:
        """What a %TBSA of bed open at the start costs until grafted on a day, bare or under its cover."""
        covered = float(wound.covered_cm2 / wound.excised_cm2) if wound.excised_cm2 else 0.0
        under = min(day, max(0, wound.covered_until_day or 0))
        bare_weight, cover_weight = self.preference("bare-bed-weight"), self.preference("cover-weight")
        return covered * cover_weight * under + bare_weight * (day - covered * under)

    def healing(self, site: DonorSite, thickness: Thickness, number: int) -> int:
        return healing_days(self.evidence, site.place, thickness, self.case.age_band, number,
                            self.preferences.value("healing-quantile"))

    def donor_days(self, site: DonorSite, thickness: Thickness, number: int) -> float:
        """Open donor wound and scar of a harvest, per %TBSA."""
        shown = self.preference("donor-cosmesis", site.place.region) * self.preference("donor-cosmesis-scale")
        return self.preference("open-donor-weight") * self.healing(site, thickness, number) + shown

    def minutes_limit(self, day: int) -> float:
        """Procedure minutes of a day."""
        around = sum(self.value("theatre-minutes", part) for part in ("induction", "preparation", "exit"))
        stated = [t.minutes - around for t in self.case.request.theatre_days
                  if self.case.day_of(t.day) == day and t.minutes is not None]
        return min([float(self.case.limits.procedure_minutes), *stated])

    def positions(self, day: int) -> int:
        stated = [t.positions for t in self.case.request.theatre_days
                  if self.case.day_of(t.day) == day and t.positions is not None]
        return min([self.case.limits.positions, *stated])

    def work_from(self, wound: BurnWound) -> tuple[int, int]:
        """First day for excising and for grafting a wound."""
        face = self.case.injury_day + int(self.value("face-earliest-day")) if wound.place.region is Region.FACE else 0
        return max(0, face, wound.wait_until_day or 0), max(0, face, wound.ready_from_day or 0)
