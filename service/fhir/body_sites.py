"""Body sites: region and side from one CodeableConcept, surface from it or from a component."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from service.domain.body_region import REGIONS, Place, Region, Side, Surface
from service.fhir.codes import codings_of, note_display
from service.fhir.read_context import ReadContext

_KINDS = ("region", "side", "surface", "sided-region")


@dataclass(frozen=True)
class Site:
    """A region with its side. ``surface`` is ``None`` when a region with two has none stated."""

    region: Region
    side: Side | None
    surface: Surface | None

    @property
    def places(self) -> tuple[Place, ...]:
        """The place meant, or both surfaces when none is stated."""
        surfaces = (self.surface,) if self.surface else REGIONS[self.region].surfaces
        return tuple(Place(self.region, self.side, surface) for surface in surfaces)

    @property
    def place(self) -> Place | None:
        return self.places[0] if self.surface else None

    @property
    def region_key(self) -> str:
        return self.places[0].region_key


def _collect(concept: Any, expression: str, context: ReadContext) -> dict[str, set[str]] | None:
    """What the codings of a body site say, by kind; ``None`` with a fault for a code we do not know."""
    said: dict[str, set[str]] = {"region": set(), "side": set(), "surface": set()}
    for index, coding in codings_of(concept):
        place = f"{expression}.coding[{index}]"
        rows = [row for row in context.code_map.rows_of(coding) if row.kind in _KINDS]
        if not rows and coding.get("system") == context.code_map.local_system:
            context.log.fault("code-unknown", f"{place}.code", value_set="region")
            return None
        if any(context.code_map.is_ours_under_another_system(coding, kind) for kind in _KINDS):
            context.log.fault(
                "code-system-unknown", f"{place}.system", system=context.code_map.local_system)
            return None
        for row in rows:
            note_display(row, coding, place, context.log)
            if row.kind == "sided-region":
                side, region = row.name.split("-", 1)
                said["side"].add(side)
                said["region"].add(region)
            else:
                said[row.kind].add(row.name)
    return said


def _is_consistent(said: dict[str, set[str]], expression: str, context: ReadContext) -> bool:
    if any(len(names) > 1 for names in said.values()):
        context.log.fault("code-conflict", expression)
        return False
    if not said["region"]:
        context.log.fault("code-unknown", expression, value_set="region")
        return False
    return True


def _check_side(region: Region, side: Side | None, expression: str, context: ReadContext) -> bool:
    if REGIONS[region].sided == (side is not None):
        return True
    context.log.fault("side-missing" if side is None else "side-not-expected", expression)
    return False


def read_site(concept: Any, surface: str | None, expression: str, context: ReadContext) -> Site | None:
    """A body site; ``None`` with a fault when it is not exactly one place or region.

    Parameters
    ----------
    concept : dict
        CodeableConcept with codings for region, side and perhaps surface.
    surface : str or None
        Surface stated by a component beside it.
    """
    said = _collect(concept, expression, context)
    if said is None:
        return None
    if surface:
        said["surface"].add(surface)
    if not _is_consistent(said, expression, context):
        return None
    region = Region(next(iter(said["region"])))
    side = Side(next(iter(said["side"]))) if said["side"] else None
    if not _check_side(region, side, expression, context):
        return None
    surfaces = REGIONS[region].surfaces
    if said["surface"]:
        stated = Surface(next(iter(said["surface"])))
        if stated not in surfaces:
            context.log.fault("surface-not-expected", expression)
            return None
        return Site(region, side, stated)
    return Site(region, side, surfaces[0] if len(surfaces) == 1 else None)
