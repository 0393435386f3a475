"""Skin that the planned grafts of a session turn out to need, whatever happened before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from service.domain.graft import SkinClass
from service.simulation.course_book import CourseBook, WoundLine
from service.simulation.scenarios import Scenarios


@dataclass(frozen=True)
class LineNeed:
    """Skin placed for a line of one session, and plates for islands in parts, by course. [cm², count]"""

    line: WoundLine
    skin_cm2: np.ndarray
    plates: np.ndarray | None


def needs_of_lines(book: CourseBook, scenarios: Scenarios, scales: list[np.ndarray], session: int) -> list[LineNeed]:
    """What each planned graft of a firm session needs: the wound as it turns out, the expansion as achieved."""
    return list(_needs(book, scenarios, scales, session))


def _needs(book: CourseBook, scenarios: Scenarios, scales: list[np.ndarray], session: int) -> Iterator[LineNeed]:
    for line in book.lines:
        planned = line.planned_cm2[session]
        if planned <= 0:
            continue
        shape = scenarios.shape(is_flat=book.wounds[line.wound].is_flat)
        skin = planned * scales[line.wound] / (scenarios.ratio(session, line.method) * shape)
        if line.is_island:
            parts = np.ceil(skin / book.plate_part_cm2)
            yield LineNeed(line, parts * book.plate_part_cm2, parts / book.plate_parts)
        else:
            yield LineNeed(line, skin, None)


def harvest_needs(book: CourseBook, scenarios: Scenarios, needs: list[LineNeed]) -> dict[SkinClass, np.ndarray]:
    """Harvest that each class of skin needs, trimming and handling included. [cm²]"""
    total: dict[SkinClass, np.ndarray] = {}
    for need in needs:
        before = total.get(need.line.skin_class, 0)
        total[need.line.skin_class] = before + need.skin_cm2 / scenarios.kept_fraction
    return total


def planned_harvests(book: CourseBook, session: int) -> dict[SkinClass, list[tuple[int, float]]]:
    """Sites and areas of the planned harvest by class of skin. [cm²]"""
    planned: dict[SkinClass, list[tuple[int, float]]] = {}
    for site, thickness, area in book.sessions[session].harvests:
        planned.setdefault(SkinClass(thickness, book.sites[site].above_clavicle), []).append((site, area))
    return planned
