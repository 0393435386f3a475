"""The next session of an answer, written into the record as Procedures and Observations.

The session, its day and its areas come from the answer Bundle: a ServiceRequest and the Tasks
that point to it. The Tasks name places in words and say method and thickness in their description
only, so place, method and thickness come from the plan behind the answer; the areas must agree
with what the Tasks say, in all and place by place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from service.domain.body_region import Place
from service.domain.session import CoverKind
from service.evidence.library import Evidence
from service.wiring import PlanReply
from service.wording.places import place_in_words
from tests.builders import (
    SERVER,
    Resource,
    deed,
    donor_site,
    harvest,
    placement,
    take,
)

#: Quantity of each theatre Task that states its whole area.
TOTALS = {
    "excise-wound": "excised-area", "harvest-skin": "harvest-area", "place-graft": "graft-area",
    "place-cover": "cover-area",
}


@dataclass(frozen=True)
class NextSession:
    """What the resources say of the next session: its day, and areas by kind of Task. [cm²]

    ``places_cm2`` is by kind of Task and place in words; a Task of one place states its total only.
    """

    day: date
    totals_cm2: dict[str, Decimal]
    places_cm2: dict[tuple[str, str], Decimal]


def code_of(resource: Resource) -> str:
    """First code of a resource; empty when its code is words alone."""
    return (resource["code"].get("coding") or [{"code": ""}])[0]["code"]


def _next_request(answer: Resource) -> Resource | None:
    """Entry of the first theatre session that is not held only if grafts fail."""
    sessions = [
        e for e in answer["entry"]
        if e["resource"]["resourceType"] == "ServiceRequest" and code_of(e["resource"]) == "theatre-session"
    ]
    return min(sessions, key=lambda e: e["resource"]["occurrenceDateTime"], default=None)


def entries_of_next_session(answer: Resource) -> list[Resource]:
    """The Tasks that point to the next session, as entries."""
    first = _next_request(answer)
    return [
        e for e in answer["entry"] if first and e["resource"]["resourceType"] == "Task"
        and e["resource"]["focus"]["reference"] == first["fullUrl"]
    ]


def read_next_session(answer: Resource) -> NextSession | None:
    """Day and totals of the next session of an answer Bundle; ``None`` when it has none."""
    first = _next_request(answer)
    if first is None:
        return None
    totals: dict[str, Decimal] = defaultdict(Decimal)
    places: dict[tuple[str, str], Decimal] = defaultdict(Decimal)
    for task in (entry["resource"] for entry in entries_of_next_session(answer)):
        for about, area in _stated_areas(task):
            if about:
                places[code_of(task), about] += area
            else:
                totals[code_of(task)] += area
    return NextSession(date.fromisoformat(first["resource"]["occurrenceDateTime"]), dict(totals), dict(places))


def _stated_areas(task: Resource) -> Iterator[tuple[str, Decimal]]:
    """Each area of a theatre Task with its place in words; without a place it is the total."""
    for stated in task.get("input", []):
        if "valueQuantity" in stated and stated["type"]["coding"][0]["code"] == TOTALS.get(code_of(task)):
            yield stated["type"]["text"].partition(": ")[2], Decimal(str(stated["valueQuantity"]["value"]))


def words_of(place: Place) -> str:
    """A place as the builders take it; a surface only where the region has two."""
    surface = [str(place.surface)] if len(place.facts.surfaces) > 1 else []
    return " ".join([str(place.region), *([str(place.side)] if place.side else []), *surface])


@dataclass(frozen=True)
class DoneSession:
    """Areas of one session by place, from the plan behind the answer. [cm²]"""

    day: date
    excised: dict[Place, Decimal]
    harvested: dict[tuple[Place, str], Decimal]  # by thickness
    placed: dict[tuple[Place, str], Decimal]  # by method
    covered: dict[Place, Decimal]
    overlaid_cm2: Decimal

    def agrees_with(self, stated: NextSession) -> bool:
        """Whether the areas are those of the Tasks, in all and wherever a Task tells places apart."""
        acts = {
            "excise-wound": self.excised, "harvest-skin": _by_place(self.harvested),
            "place-graft": _by_place(self.placed),
        }
        totals = {task: sum(areas.values()) for task, areas in acts.items() if areas}
        if self.cover_used_cm2:
            totals["place-cover"] = self.cover_used_cm2
        places = {(task, place_in_words(p.key)): area for task, areas in acts.items() for p, area in areas.items()}
        told_apart = {key: area for key, area in stated.places_cm2.items() if key[0] in acts}
        return totals == stated.totals_cm2 and told_apart.items() <= places.items()

    @property
    def cover_used_cm2(self) -> Decimal:
        return sum(self.covered.values(), self.overlaid_cm2)


def _added(pairs: Iterable[tuple[object, Decimal]]) -> dict:
    areas: dict = defaultdict(Decimal)
    for key, area in pairs:
        areas[key] += area
    return dict(areas)


def _by_place(areas: dict[tuple[Place, str], Decimal]) -> dict[Place, Decimal]:
    return _added((place, area) for (place, _), area in areas.items())


def split_by_place(reply: PlanReply, when: date) -> DoneSession:
    """What the plan does on a day, as it is done: one Procedure for each place."""
    case, plan = reply.answer.case, reply.answer.plan.settled
    day = case.day_of(when)
    places = {w.wound_id: w.place for w in case.wounds}
    sites = {s.site_id: s.place for s in case.donor_sites}
    covers = [c for c in plan.covers if c.day == day]
    return DoneSession(
        when,
        _added((places[e.wound_id], e.area_cm2) for e in plan.excisions if e.day == day),
        _added(((sites[h.site_id], str(h.thickness)), h.area_cm2) for h in plan.harvests if h.day == day),
        _added(((places[p.wound_id], str(p.method)), p.area_cm2) for p in plan.placements if p.day == day),
        _added((places[c.wound_id], c.area_cm2) for c in covers if c.kind is CoverKind.TEMPORARY),
        sum((c.area_cm2 for c in covers if c.kind is CoverKind.OVERLAY), Decimal(0)),
    )


def write_session(done: DoneSession, evidence: Evidence) -> list[Resource]:
    """Procedures of one session with their numbers as Observations."""
    when, resources = done.day.isoformat(), []
    for number, (place, area) in enumerate(done.excised.items()):
        resources += deed("wound-excision", words_of(place), when, f"excision-{when}-{number}", area)
    for number, ((place, thickness), area) in enumerate(done.harvested.items()):
        row = evidence.row("thickness-mm", thickness)
        middle_mm = (row.low + row.high) / 2 if row.high else row.value
        resources += harvest(words_of(place), when, f"harvest-{when}-{number}", area, middle_mm)
    for number, ((place, method), area) in enumerate(done.placed.items()):
        kind, _, ratio = method.partition("-")
        resources += placement(words_of(place), when, f"graft-{when}-{number}", area, kind, ratio or None)
    for number, (place, area) in enumerate(done.covered.items()):
        resources += deed("cover-placement", words_of(place), when, f"cover-{when}-{number}", area)
    return resources


def read_takes(record: Resource, today: date, evidence: Evidence) -> list[Resource]:
    """A take, as expected, for every graft on record that is due and has none."""
    resources = [entry["resource"] for entry in record["entry"]]
    read = {_owner(r) for r in resources if r["resourceType"] == "Observation" and code_of(r) == "graft-take"}
    kinds = {
        _owner(r): r["valueCodeableConcept"]["coding"][0]["code"]
        for r in resources if r["resourceType"] == "Observation" and code_of(r) == "graft-method"
    }
    return list(_takes_due(resources, read, kinds, today, evidence))


def _owner(part: Resource) -> str:
    return part["partOf"][0]["reference"].rsplit("/", 1)[1]


def _takes_due(
    resources: list[Resource], read: set[str], kinds: dict[str, str], today: date, evidence: Evidence
) -> Iterator[Resource]:
    for graft in resources:
        if graft["resourceType"] != "Procedure" or code_of(graft) != "graft-placement" or graft["id"] in read:
            continue
        kind = kinds[graft["id"]]
        due = date.fromisoformat(graft["performedDateTime"]) + timedelta(days=int(evidence.value("read-day", kind)))
        if due <= today:
            yield take(graft["id"], evidence.value("take", kind) * 100, due.isoformat())


def see_donors(reply: PlanReply, done: DoneSession, today: date) -> list[Resource]:
    """A state for each harvested site that was expected healed by today and was left alone in the session."""
    case = reply.answer.case
    touched = {place for place, _ in done.harvested}
    seen = []
    for site in case.donor_sites:
        healed = [p.healed_day for p in site.parcels if p.harvest_count]
        if healed and site.place not in touched and case.date_of(max(healed)) <= today:
            seen.append(donor_site(words_of(site.place), "healed", seen=today.isoformat()))
    return seen


def bundle_of(request: Resource) -> Resource:
    return next(p["resource"] for p in request["parameter"] if p["name"] == "bundle")


def append(request: Resource, resources: Iterable[Resource], label: str) -> Resource:
    """The request with more resources of the same patient; ``label`` keeps their names apart."""
    longer = deepcopy(request)
    record = bundle_of(longer)
    subject = next(e["resource"]["id"] for e in record["entry"] if e["resource"]["resourceType"] == "Patient")
    for number, resource in enumerate(resources):
        named = {"id": f"{label}-{number}"} | resource | {"subject": {"reference": f"Patient/{subject}"}}
        record["entry"].append(
            {"fullUrl": f"{SERVER}/{named['resourceType']}/{named['id']}", "resource": named})
    return longer


def append_entries(request: Resource, entries: list[Resource]) -> Resource:
    """The request with entries of an earlier answer, as a server of record would return them."""
    longer = deepcopy(request)
    bundle_of(longer)["entry"] += entries
    return longer


def move_on(request: Resource, today: date, cover_used_cm2: Decimal) -> Resource:
    """The request of a later day, with the cover that is left."""
    later = deepcopy(request)
    for parameter in later["parameter"]:
        if parameter["name"] == "as-of":
            parameter["valueInstant"] = f"{today.isoformat()}{parameter['valueInstant'][10:]}"
        elif parameter["name"] == "cover-stock":
            parameter["valueQuantity"]["value"] -= cover_used_cm2
    return later


def carry_out(request: Resource, reply: PlanReply, evidence: Evidence) -> Resource | None:
    """The request of the day after the next session, done as planned; ``None`` without a session."""
    session = read_next_session(reply.resource)
    if session is None:
        return None
    done = split_by_place(reply, session.day)
    assert done.agrees_with(session), "the Tasks say what the plan does"
    tomorrow = session.day + timedelta(days=1)
    moved = append(move_on(request, tomorrow, done.cover_used_cm2), write_session(done, evidence), f"s{session.day}")
    seen = [*read_takes(bundle_of(moved), tomorrow, evidence), *see_donors(reply, done, tomorrow)]
    return append(moved, seen, f"seen-{tomorrow}")
