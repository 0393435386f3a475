"""From pieces of wounds to a whole plan in printable steps: skin, harvests, positions, minutes, blood.

Written from the rules, for small cases without reserve for losses; verification judges what comes out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from service.domain.body_region import Position, Region
from service.domain.burn_wound import BurnWound
from service.domain.case import GraftingCase
from service.domain.donor_site import DonorSite, Harvest
from service.domain.graft import GraftKind, GraftMethod, SkinClass, thickness_for
from service.domain.plan import SettledPlan, StillOpen
from service.domain.session import Excision, Placement, Session
from service.evidence.donor_healing import healing_days
from service.evidence.library import Evidence
from service.preferences.library import Preferences

TENTH = Decimal("0.1")
FLAT = (Region.ANTERIOR_TRUNK, Region.POSTERIOR_TRUNK, Region.THIGH)


@dataclass(frozen=True, order=True)
class Piece:
    """Part of a wound grafted on a day, and excised then where its bed is not ready."""

    day: int
    method: GraftMethod
    area_cm2: Decimal


def round_up(area_cm2: Fraction) -> Decimal:
    """To the next 0.1 cm²."""
    return Decimal(ceil(area_cm2 * 10)) / 10


#: Skin wished from a site on a day. [cm²]
Wishes = dict[tuple[int, str], Decimal]


class PlanBuilder:
    """Numbers of one case, read from evidence; a plan from what each wound does."""

    def __init__(self, case: GraftingCase, evidence: Evidence, preferences: Preferences) -> None:
        self.case, self.evidence, self.preferences = case, evidence, preferences
        self.kept = 1 - Fraction(evidence.value("handling-loss"))
        self.plate_cm2 = evidence.value("plate-side-mm") ** 2 / 100
        self.plate_parts = preferences.integer("plate-parts")
        self.smallest_harvest_cm2 = preferences.value("smallest-harvest")
        self.percent_cm2 = Fraction(case.body_surface_m2) * 100

    def number(self, parameter: str, applies_to: str = "any") -> Fraction:
        return Fraction(self.evidence.value(parameter, applies_to))

    def loss_ml(self, act: str) -> Fraction:
        """Blood lost by an adult per cm², cautious end."""
        return Fraction(self.evidence.row("blood-loss-per-cm2", f"{act}-adult").high)

    def healing(self, site: DonorSite, method_thickness, number: int) -> int:
        return healing_days(self.evidence, site.place, method_thickness, self.case.age_band, number,
                            self.preferences.value("healing-quantile"))

    def placement(self, wound: BurnWound, piece: Piece) -> Placement:
        row = self.evidence.row("achieved-expansion-ratio", piece.method)
        quantile = self.evidence.quantile(row.parameter, row.applies_to, self.preferences.value("planning-quantile"))
        shape = self.number("shape-factor", "flat" if wound.place.region in FLAT else "concave")
        skin = Fraction(piece.area_cm2) / (Fraction(min(row.value, quantile)) * shape)
        is_island = piece.method.kind is GraftKind.ISLAND
        plates = Decimal(ceil(skin / Fraction(self.plate_cm2) * self.plate_parts)) / self.plate_parts
        plates = plates if is_island else None
        skin_cm2 = plates * self.plate_cm2 if is_island else round_up(skin)
        thickness = thickness_for(piece.method, wound.place, thick_allowed=self.case.thick_skin_allowed)[0]
        return Placement(piece.day, wound.wound_id, piece.method, piece.area_cm2, SkinClass(thickness, False),
                         skin_cm2, plates)

    def excisions(self, wound: BurnWound, pieces: tuple[Piece, ...]) -> list[Excision]:
        """What of each piece has no ready bed, by day."""
        bed, by_day = wound.excised_cm2, {}
        for piece in sorted(pieces):
            on_bed = min(bed, piece.area_cm2)
            bed -= on_bed
            if piece.area_cm2 > on_bed:
                by_day[piece.day] = by_day.get(piece.day, Decimal(0)) + piece.area_cm2 - on_bed
        return [Excision(day, wound.wound_id, area) for day, area in sorted(by_day.items())]

    def part_of_plan(self, wound: BurnWound, pieces: tuple[Piece, ...]) -> SettledPlan:
        """What one wound adds to a plan, harvests and sessions apart."""
        left = wound.area_cm2 - sum((piece.area_cm2 for piece in pieces), Decimal(0))
        return SettledPlan(
            excisions=tuple(self.excisions(wound, pieces)),
            placements=tuple(self.placement(wound, piece) for piece in sorted(pieces)),
            still_open=(StillOpen(wound.wound_id, left),) if left else ())

    def plan(self, pieces_by_wound: tuple[tuple[Piece, ...], ...], wishes: Wishes) -> SettledPlan | None:
        """The whole plan, skin from the sites that are wished; ``None`` when they cannot give it."""
        parts = [self.part_of_plan(w, p) for w, p in zip(self.case.wounds, pieces_by_wound, strict=True)]
        joined = {kind: tuple(act for part in parts for act in getattr(part, kind))
                  for kind in ("excisions", "placements", "still_open")}
        joined["placements"] = self._in_whole_plates(joined["placements"])
        harvests = self._harvests(joined["placements"], wishes)
        if harvests is None:
            return None
        acts = (*joined["excisions"], *joined["placements"])
        days = sorted({act.day for act in acts})
        sessions = tuple(self._session(n, day, joined, harvests) for n, day in enumerate(days, start=1))
        return SettledPlan(sessions=sessions, harvests=harvests, **joined)

    def _in_whole_plates(self, placements: tuple[Placement, ...]) -> tuple[Placement, ...]:
        """The rest of a last plate goes to the first graft that is cut from it."""
        rest: dict[tuple, Decimal] = {}
        for p in placements:
            if p.plates is not None:
                rest[p.day, p.method, p.skin_class] = rest.get((p.day, p.method, p.skin_class), Decimal(0)) - p.plates
        filled = []
        for p in placements:
            more = rest.pop((p.day, p.method, p.skin_class), None)
            if more is not None:
                plates = p.plates + more - Decimal(floor(more))
                p = replace(p, plates=plates, skin_cm2=plates * self.plate_cm2)
            filled.append(p)
        return tuple(filled)

    def _harvests(self, placements: tuple[Placement, ...], wishes: Wishes) -> tuple[Harvest, ...] | None:
        reserve = _Reserve(self, min((p.day for p in placements), default=0))
        for day in sorted({p.day for p in placements}):
            needs: dict[SkinClass, Decimal] = {}
            for p in placements:
                if p.day == day:
                    needs[p.skin_class] = needs.get(p.skin_class, Decimal(0)) + p.skin_cm2
            needs = {skin_class: round_up(Fraction(skin) / self.kept) for skin_class, skin in sorted(needs.items())}
            short = self.smallest_harvest_cm2 - sum(needs.values(), Decimal(0))
            if short > 0:
                needs[next(iter(needs))] += short
            if not reserve.take(day, needs, wishes):
                return None
        return tuple(reserve.harvests)

    def _session(self, ordinal: int, day: int, joined: dict, harvests: tuple[Harvest, ...]) -> Session:
        wounds = {w.wound_id: w for w in self.case.wounds}
        places = {s.site_id: s.place for s in self.case.donor_sites}
        excised = {e.wound_id: Fraction(e.area_cm2) for e in joined["excisions"] if e.day == day}
        placed: dict[str, Fraction] = {}
        for p in joined["placements"]:
            if p.day == day:
                placed[p.wound_id] = placed.get(p.wound_id, Fraction(0)) + Fraction(p.area_cm2)
        operated = {w: max(excised.get(w, Fraction(0)), placed.get(w, Fraction(0))) for w in {*excised, *placed}}
        reached = [wounds[w].place.reached for w in operated] + [
            places[h.site_id].reached for h in harvests if h.day == day]
        one = next((pose for pose in Position if all(pose in poses for poses in reached)), None)
        positions = (one,) if one else tuple(Position)
        special = {wounds[w].place.region_key for w in operated if wounds[w].place.facts.is_special}
        minutes = (self.number("theatre-minutes", "fixed")
                   + self.number("theatre-minutes", "per-percent") * sum(operated.values()) / self.percent_cm2
                   + self.number("theatre-minutes", "turn") * (len(positions) - 1)
                   + self.number("theatre-minutes", "special-area") * len(special))
        blood = (self.loss_ml("excision") * sum(excised.values(), Fraction(0))
                 + self.loss_ml("harvest") * sum((Fraction(h.area_cm2) for h in harvests if h.day == day), Fraction(0)))
        return Session(ordinal, day, positions, False, ceil(minutes), ceil(blood), 0)


class _Reserve:
    """Donor skin in strips, and what was taken of it."""

    def __init__(self, builder: PlanBuilder, first_day: int) -> None:
        self.builder = builder
        self.harvests: list[Harvest] = []
        self.strips = [
            _Strip(site, p.area_cm2, p.harvest_count, 0 if p.healed_recorded else max(p.healed_day, first_day + 1))
            for site in builder.case.donor_sites for p in site.parcels]

    def take(self, day: int, needs: dict[SkinClass, Decimal], wishes: Wishes) -> bool:
        """First what is wished of each site, then more of the same sites; whether all of it was there."""
        wished = {site_id: area for (when, site_id), area in wishes.items() if when == day}
        for skin_class, left in needs.items():
            for is_within_wish in (True, False):
                for strip in sorted(self.strips, key=lambda strip: (strip.site.site_id, strip.taken_count)):
                    site_id = strip.site.site_id
                    most = wished.get(site_id, Decimal(0)) if is_within_wish else left
                    is_free = strip.free_day <= day and strip.taken_count < strip.site.harvests_allowed
                    if site_id not in wished or not is_free:
                        continue
                    part = min(left, strip.area_cm2, most)
                    if part > 0:
                        left -= part
                        wished[site_id] -= part
                        self._cut(strip, day, skin_class, part)
            if left > 0:
                return False
        return True

    def _cut(self, strip: _Strip, day: int, skin_class: SkinClass, area_cm2: Decimal) -> None:
        number = strip.taken_count + 1
        strip.area_cm2 -= area_cm2
        healed_day = day + self.builder.healing(strip.site, skin_class.thickness, number)
        self.strips.append(_Strip(strip.site, area_cm2, number, healed_day))
        self.harvests.append(Harvest(day, strip.site.site_id, skin_class.thickness, area_cm2, number))


@dataclass
class _Strip:
    site: DonorSite
    area_cm2: Decimal
    taken_count: int
    free_day: int
