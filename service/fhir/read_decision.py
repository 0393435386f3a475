"""A decision that the caller has taken: does what it says fit together?"""

from __future__ import annotations

from typing import Any

from service.domain.body_region import REGIONS, Place, Region, Side
from service.domain.case import Act, FixedDecision
from service.domain.graft import GraftMethod, methods_of_place
from service.fhir.read_log import ReadLog
from service.fhir.read_out_of_scope import read_graft_method


def _takes_method(region: Region, side: Side | None, method: GraftMethod) -> bool:
    place = Place(region, side, REGIONS[region].surfaces[0])
    return method in methods_of_place(place, over_joint=False)


def read_decision(parts: dict[str, Any], expression: str, log: ReadLog) -> FixedDecision | None:
    """The decision; ``None`` with a fault where region and side or region and method do not fit."""
    region = Region(parts["region"])
    side = Side(parts["side"]) if "side" in parts else None
    if REGIONS[region].sided != (side is not None):
        log.fault("side-missing" if side is None else "side-not-expected", f"{expression}.part")
        return None
    method = read_graft_method(parts.get("method"))
    if method and not _takes_method(region, side, method):
        allowed = ", ".join(str(m) for m in GraftMethod if _takes_method(region, side, m))
        log.fault("method-not-for-region", f"{expression}.part", allowed=allowed or "none")
        return None
    return FixedDecision(Act(parts["act"]), region, side, parts.get("date"), method)
