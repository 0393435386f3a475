"""What if: conditions that the caller wants planned beside the plan."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from service.domain.body_region import REGIONS, Place, Region, Side, Surface
from service.domain.graft import GraftKind, GraftMethod
from service.domain.what_if import WhatIf
from service.fhir.read_decision import read_decision
from service.fhir.read_log import ReadLog
from service.fhir.read_out_of_scope import read_graft_method

WHAT_IF = "what-if"


def read_what_if(read: dict[str, list[tuple[str, Any]]], log: ReadLog) -> WhatIf | None:
    """The conditions of the request; ``None`` when it states none.

    Parameters
    ----------
    read : dict
        Parameters by name, each with its FHIRPath.
    log : ReadLog
        Gets a fault for what contradicts itself.
    """
    if WHAT_IF not in read:
        return None
    (expression, parts), = read[WHAT_IF]
    place = f"{expression}.part"
    if not parts:
        log.fault("what-if-empty", expression)
    if any(value == "transaction" for _, value in read.get("answer", [])):
        log.fault("what-if-in-transaction", expression)
    excluded, freed = (_read_sites(parts.get(name, []), place, log) for name in ("exclude-site", "free-site"))
    if any(_overlap(one, other) for one in excluded for other in freed):
        log.fault("what-if-contradicts", place)
    unavailable = frozenset(_methods(parts))
    decisions = tuple(filter(None, (read_decision(one, expression, log) for one in parts.get("fixed-decision", []))))
    if any(d.method in unavailable or d.day in parts.get("drop-day", []) for d in decisions):
        log.fault("what-if-contradicts", place)
    return WhatIf(
        excluded_sites=excluded,
        freed_sites=freed,
        dropped_days=tuple(parts.get("drop-day", [])),
        cover_stock_cm2=parts.get("cover-stock"),
        transfusion_units=parts.get("transfusion-units"),
        session_area_limit_percent_tbsa=parts.get("session-area-limit"),
        session_minutes_limit=parts.get("session-minutes-limit"),
        methods_unavailable=unavailable,
        fixed_decisions=decisions,
    )


def _read_sites(sent: list[dict[str, str]], place: str, log: ReadLog) -> tuple[str, ...]:
    return tuple(filter(None, (_read_site(one, place, log) for one in sent)))


def _read_site(parts: dict[str, str], place: str, log: ReadLog) -> str | None:
    """Key of the place, or of the region with every surface."""
    region = Region(parts["region"])
    facts = REGIONS[region]
    if facts.sided != ("side" in parts):
        log.fault("side-missing" if facts.sided else "side-not-expected", place)
        return None
    if not facts.gives_skin:
        givers = ", ".join(name for name, one in REGIONS.items() if one.gives_skin)
        log.fault("what-if-no-donor-site", place, allowed=givers)
        return None
    side = Side(parts["side"]) if facts.sided else None
    if "surface" not in parts:
        return Place(region, side, facts.surfaces[0]).region_key
    surface = Surface(parts["surface"])
    if surface not in facts.surfaces:
        log.fault("surface-not-expected", place)
        return None
    return Place(region, side, surface).key


def _overlap(one: str, other: str) -> bool:
    """Whether two keys name the same place, or a region and a surface of it."""
    return one == other or one.startswith(f"{other}-") or other.startswith(f"{one}-")


def _methods(parts: dict[str, Any]) -> Iterator[GraftMethod]:
    yield from filter(None, map(read_graft_method, parts.get("method-unavailable", [])))
    ratios = {name.removeprefix("1-") for name in parts.get("ratio-unavailable", [])}
    yield from (m for m in GraftMethod if m.kind is not GraftKind.SHEET and str(m.claimed_expansion_ratio) in ratios)
