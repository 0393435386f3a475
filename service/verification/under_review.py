"""A plan beside its case, indexed, with the exact numbers that the rules weigh it by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from service.domain.body_region import Place, Region
from service.domain.burn_wound import BedState, BurnWound
from service.domain.case import GraftingCase
from service.domain.donor_site import DonorSite, Harvest
from service.domain.graft import GraftMethod, SkinClass
from service.domain.plan import SettledPlan
from service.domain.session import CoverPlacement, Excision, Placement
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.verification.exact import exact

FLAT_REGIONS = frozenset({Region.ANTERIOR_TRUNK, Region.POSTERIOR_TRUNK, Region.THIGH})


@dataclass(frozen=True)
class PlanUnderReview:
    """Case, plan and both libraries. Acts on unknown wounds or sites are in no index."""

    case: GraftingCase
    plan: SettledPlan
    evidence: Evidence
    preferences: Preferences

    @cached_property
    def wounds(self) -> dict[str, BurnWound]:
        return {wound.wound_id: wound for wound in self.case.wounds}

    @cached_property
    def sites(self) -> dict[str, DonorSite]:
        return {site.site_id: site for site in self.case.donor_sites}

    @cached_property
    def excisions_on(self) -> dict[str, list[Excision]]:
        return _by_wound(self.plan.excisions)

    @cached_property
    def firm_on(self) -> dict[str, list[Placement]]:
        return _by_wound(p for p in self.plan.placements if not p.is_regraft)

    @cached_property
    def placements_on(self) -> dict[str, list[Placement]]:
        return _by_wound(self.plan.placements)

    @cached_property
    def covers_on(self) -> dict[str, list[CoverPlacement]]:
        return _by_wound(self.plan.covers)

    @cached_property
    def region_wounds(self) -> dict[str, list[BurnWound]]:
        """Wounds by region and side, both surfaces together."""
        grouped = defaultdict(list)
        for wound in self.case.wounds:
            grouped[wound.place.region_key].append(wound)
        return grouped

    def is_still_open(self, wound_id: str) -> bool:
        """Whether the plan leaves part of a wound open."""
        return any(left.area_cm2 > 0 for left in self.plan.still_open if left.wound_id == wound_id)

    def place_of_wound(self, wound_id: str) -> Place | None:
        wound = self.wounds.get(wound_id)
        return wound.place if wound else None

    def place_of_site(self, site_id: str) -> Place | None:
        site = self.sites.get(site_id)
        return site.place if site else None

    def class_of(self, harvest: Harvest) -> SkinClass | None:
        """Class of the harvested skin; ``None`` when its site is unknown."""
        site = self.sites.get(harvest.site_id)
        return SkinClass(harvest.thickness, site.above_clavicle) if site else None

    def cm2_of_percent_tbsa(self, percent_tbsa: Fraction) -> Fraction:
        """A share of body surface as an area; BSA / 100 is 1 %TBSA. [cm²]"""
        return percent_tbsa * exact(self.case.body_surface_m2) * 100

    def number(self, parameter: str, applies_to: str = "any") -> Fraction:
        """Value of an evidence row."""
        return exact(self.evidence.value(parameter, applies_to))

    def preference(self, name: str) -> Fraction:
        return exact(self.preferences.value(name))

    def area_per_skin(self, method: GraftMethod, place: Place) -> Fraction:
        """Wound covered by 1 cm² of placed skin: achieved ratio × shape factor, cautious end. [-]

        The ratio is the planning quantile, and never more than the row's own value.
        """
        quantile = self.preferences.value("planning-quantile")
        row = self.evidence.row("achieved-expansion-ratio", method.value)
        ratio = min(row.value, self.evidence.quantile(row.parameter, row.applies_to, quantile))
        shape = "flat" if place.region in FLAT_REGIONS else "concave"
        return exact(ratio) * self.number("shape-factor", shape)

    @cached_property
    def share_left_after_handling(self) -> Fraction:
        """Share of harvested skin that is left after trimming and handling. [0-1]"""
        return 1 - self.number("handling-loss")

    def expected_take(self, method: GraftMethod, wound: BurnWound) -> Fraction:
        """Share of a graft expected to survive; lower on a colonised bed. [0-1]"""
        take = self.number("take", method.kind.value)
        if wound.bed_state is BedState.COLONISED:
            take *= self.number("take-multiplier", "colonised")
        return take


def _by_wound(acts: Iterable) -> dict[str, list]:
    grouped = defaultdict(list)
    for act in acts:
        grouped[act.wound_id].append(act)
    return grouped
