"""The theatre list of one session, to tick and to fill in: what to have ready, the order of work, what was done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from service.domain.answer import PlanAnswer
from service.domain.body_region import Place
from service.domain.done_session import DoneKind
from service.domain.graft import GraftMethod
from service.domain.session import CoverKind, Session
from service.domain.theatre_list import HarvestLine, TheatreList
from service.evidence.library import Evidence, load_evidence
from service.sheet.basis import Basis, bedside_checks, make_basis
from service.sheet.numbering import donor_places, wound_places
from service.sheet.session_page import SessionPage, make_session_page
from service.wording.dates import date_in_words
from service.wording.languages import Words
from service.wording.methods import method_in_words
from service.wording.places import place_in_words, surface_in_words
from service.wording.rounding import need_cm2
from service.wording.theatre_list import (
    word_leftover,
    word_preparation,
    word_shortage,
    word_step,
    word_stored,
    word_surplus,
    word_team,
    word_timer,
)


@dataclass(frozen=True)
class DoneField:
    """One number to note after the act: what is planned, and the name of the field it is entered in."""

    name: str
    kind: DoneKind
    place: str
    how: str
    planned: str
    needs_thickness: bool = False


@dataclass(frozen=True)
class ListPage:
    """The page in words."""

    basis: Basis
    page: SessionPage
    date: str
    checks: list[tuple[str, str]]
    ready: list[str]
    left_over: list[str]
    steps: list[str]
    timers: list[str]
    team: list[str]
    preparation: list[str]
    fields: list[DoneField]


def make_list_page(answer: PlanAnswer, ordinal: int, plan_sha256: str, _: Words) -> ListPage:
    """The theatre list of a session.

    Raises ``KeyError`` when the plan has no session of that number.
    """
    session = next((s for s in answer.plan.settled.sessions if s.ordinal == ordinal), None)
    if session is None:
        raise KeyError(f"session {ordinal}")
    listed = next(t for t in answer.theatre_lists if t.session == ordinal)
    evidence = load_evidence()
    return ListPage(
        basis=make_basis(answer, plan_sha256, _),
        page=make_session_page(answer, session, _),
        date=date_in_words(answer.case.date_of(session.day)),
        checks=bedside_checks(answer, _),
        ready=list(_ready(listed, evidence, _)),
        left_over=list(_left_over(listed, evidence, _)),
        steps=[word_step(step, _) for step in listed.steps],
        timers=[word_timer(timer, _) for timer in listed.timers],
        team=word_team((listed,), _),
        preparation=[word_preparation(code, evidence, _) for code in listed.preparation],
        fields=list(done_fields(answer, session)),
    )


def _ready(listed: TheatreList, evidence: Evidence, _: Words) -> Iterator[str]:
    """Skin in strips and plates, shortages, stored skin."""
    for line in listed.harvests:
        yield _word_harvest(line, _)
    yield from (word_shortage(short, _) for short in listed.carriers_short)
    yield from (word_stored(stored, evidence, _) for stored in listed.stored)


def _left_over(listed: TheatreList, evidence: Evidence, _: Words) -> Iterator[str]:
    """What becomes of skin that is or may be too much."""
    yield from (word_leftover(leftover, evidence, _) for leftover in listed.leftovers)
    if listed.surplus is not None:
        yield word_surplus(listed.surplus, evidence, _)


def _word_harvest(line: HarvestLine, _: Words) -> str:
    parts = [_(str(line.thickness)), need_cm2(line.area.value), _.ngettext("{num} strip", "{num} strips", line.strips)]
    if line.plates_with_piecing:
        parts.append(_.ngettext("{num} plate", "{num} plates", line.plates_with_piecing))
    return f"{place_in_words(line.site_id, _)}: {_.series(parts)}"


def done_fields(answer: PlanAnswer, session: Session) -> Iterator[DoneField]:
    """A field for each act at each place, the wound parts of one place and method together.

    The name of a field holds everything that the record needs beside the number: ``skin-harvest:left-buttock:thin``,
    ``graft-placement:left-hand-back:sheet``.
    """
    for (kind, place, how), area in _planned(answer, session).items():
        words = method_in_words(GraftMethod(how)) if kind is DoneKind.PLACEMENT else how
        name = ":".join(part for part in (kind, place.key, how) if part)
        yield DoneField(
            name, kind, surface_in_words(place), words, need_cm2(area), needs_thickness=kind is DoneKind.HARVEST)


def _planned(answer: PlanAnswer, session: Session) -> dict[tuple[DoneKind, Place, str], object]:
    """Planned areas by act, place, and method or thickness. [cm²]"""
    plan, wounds, sites = answer.plan.settled, wound_places(answer), donor_places(answer)
    acts = [
        *((DoneKind.EXCISION, wounds[e.wound_id], "", e) for e in plan.excisions),
        *((DoneKind.HARVEST, sites[h.site_id], str(h.thickness), h) for h in plan.harvests),
        *((DoneKind.PLACEMENT, wounds[p.wound_id], str(p.method), p) for p in plan.placements),
        *((DoneKind.COVER, wounds[c.wound_id], "", c) for c in plan.covers if c.kind is CoverKind.TEMPORARY),
    ]
    areas: dict = {}
    for kind, place, how, act in acts:
        if act.day == session.day:
            key = kind, place, how
            areas[key] = areas.get(key, 0) + act.area_cm2
    return areas
