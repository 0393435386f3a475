"""The order of work of one session, with minutes by step: estimates, never measurements."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal

from service.domain.body_region import Place, Position
from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.domain.session import Session
from service.domain.theatre_list import ListStep
from service.evidence.library import Evidence
from service.wording.methods import method_in_words
from service.wording.places import place_in_words

_UNTURNED = ("excise", "haemostasis", "harvest", "prepare", "place", "dress")
_TURNED = ("harvest", "keep-moist", "prepare", "excise", "haemostasis", "place", "dress")
#: An act without places of its own goes with the places of another.
_SUBJECT = {"haemostasis": "excise", "prepare": "harvest", "keep-moist": "harvest", "dress": "place"}


@dataclass
class _Stage:
    """What is done while the patient lies in one position: places and areas by kind of act."""

    position: Position
    places: dict[str, list[str]] = field(default_factory=dict)
    areas: dict[str, Decimal] = field(default_factory=dict)

    def add(self, act: str, place: Place, area_cm2: Decimal) -> None:
        words = place_in_words(place.key)
        if words not in self.places.setdefault(act, []):
            self.places[act].append(words)
        self.areas[act] = self.areas.get(act, Decimal(0)) + area_cm2


def order_of_work(case: GraftingCase, plan: SettledPlan, session: Session, evidence: Evidence) -> tuple[ListStep, ...]:
    """Steps from induction to leaving the room.

    Where donor site and wound lie on opposite surfaces, the skin is taken first and kept
    moist, the patient is turned once, and then the wounds are worked on. In one position the
    wound is excised and dry before skin is taken for it.
    """
    stages = _stages(case, plan, session)
    methods = sorted({p.method for p in plan.placements if p.day == session.day})
    minutes = _minutes_by_act(stages, session, evidence)
    steps = [_room_step(name, evidence) for name in ("induction", "preparation")]
    for number, stage in enumerate(stages):
        if number:
            steps.append(ListStep("turn", (("position", stage.position),), evidence.value("theatre-minutes", "turn")))
        else:
            steps.append(ListStep("position", (("position", stage.position),)))
        steps += _stage_steps(stage, stages, minutes, "; ".join(map(method_in_words, methods)))
    return (*steps, _room_step("exit", evidence))


def _room_step(name: str, evidence: Evidence) -> ListStep:
    return ListStep(name, (), evidence.value("theatre-minutes", name))


def _stages(case: GraftingCase, plan: SettledPlan, session: Session) -> list[_Stage]:
    wounds = {w.wound_id: w.place for w in case.wounds}
    sites = {s.site_id: s.place for s in case.donor_sites}
    harvests = [(sites[h.site_id], h.area_cm2) for h in plan.harvests if h.day == session.day]
    stages = [_Stage(position) for position in _order_positions(session, harvests)]

    def add(act: str, place: Place, area_cm2: Decimal) -> None:
        reaching = [s for s in stages if s.position in place.reached]
        if not reaching:
            raise ValueError(f"{place.key} is out of reach in the positions of the session")
        reaching[0].add(act, place, area_cm2)

    for place, area in harvests:
        add("harvest", place, area)
    for excision in plan.excisions:
        if excision.day == session.day:
            add("excise", wounds[excision.wound_id], excision.area_cm2)
    for act in (*plan.placements, *plan.covers):
        if act.day == session.day:
            add("place", wounds[act.wound_id], act.area_cm2)
    return stages


def _order_positions(session: Session, harvests: list[tuple[Place, Decimal]]) -> list[Position]:
    """The position that most of the skin is taken from comes first; else as planned."""
    only = {p: sum((area for place, area in harvests if place.reached == {p}), Decimal(0)) for p in Position}
    return sorted(session.positions, key=lambda p: -only[p])


def _minutes_by_act(stages: list[_Stage], session: Session, evidence: Evidence) -> dict[str, Decimal]:
    """Procedure minutes without turns, split by the usual share of each act that the session has."""
    done = {act for stage in stages for act in stage.places}
    shares = {act: evidence.value("step-share", act) for act in _UNTURNED if _SUBJECT.get(act, act) in done}
    work = session.procedure_minutes - evidence.value("theatre-minutes", "turn") * (len(stages) - 1)
    return {act: work * share / sum(shares.values()) for act, share in shares.items()}


def _stage_steps(stage: _Stage, stages: list[_Stage], minutes: dict[str, Decimal], methods: str) -> Iterator[ListStep]:
    is_turned = len(stages) > 1
    for act in _TURNED if is_turned else _UNTURNED:
        subject = _SUBJECT.get(act, act)
        if subject not in stage.places or (act == "keep-moist" and stage is stages[-1]):
            continue
        values = (("places", "; ".join(stage.places[subject])), ("methods", methods))
        yield ListStep(act, values, _share_of_stage(act, subject, stage, stages, minutes))


def _share_of_stage(
    act: str, subject: str, stage: _Stage, stages: list[_Stage], minutes: dict[str, Decimal]
) -> Decimal | None:
    """Minutes of an act in this position, by the area that it works on here."""
    if act not in minutes:
        return None
    total = sum((s.areas.get(subject, Decimal(0)) for s in stages), Decimal(0))
    return max((minutes[act] * stage.areas[subject] / total).quantize(Decimal(1)), Decimal(1))
