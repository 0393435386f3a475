"""A patient's stay, played day by day: what is done and seen goes on record, and the record is opened again and again.

Sessions are held as planned the evening before and recorded in the afternoon. Grafts are read when
they are due, with a take around the expected one; healed donor sites are recorded; haemoglobin is
measured every morning. ``python -m tests.cds_hooks.stay`` prints the figures of several patients.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from statistics import median
from uuid import UUID

from service.domain.dressing import EventKind
from service.settings import Settings
from service.wiring import Parts, PlanReply, answer_plan_request, build_parts
from service.wording.places import place_in_words
from tests.builders import Resource, body_of, measured, procedure
from tests.cds_hooks.hook_calls import hook_call
from tests.roundtrip.recorded_session import (
    DoneSession,
    append,
    bundle_of,
    move_on,
    read_takes,
    see_donors,
    split_by_place,
    words_of,
    write_session,
)

#: Hours at which the record is opened: rounds, theatre, visits, night.
HOURS = (7, 17, 22)
#: Before this hour nothing of the day is on record yet.
_RECORDED_FROM = 15
_CALM = dict.fromkeys(("excised", "harvested", "placed", "covered"), {})


@dataclass(frozen=True)
class Opening:
    """One opening of the record and the card that it got, if any."""

    day: int
    hour: int
    card: Resource | None


@dataclass
class Stay:
    """The cards of a stay."""

    days: int
    openings: list[Opening] = field(default_factory=list)

    @property
    def cards(self) -> list[Resource]:
        return [opening.card for opening in self.openings if opening.card]

    @property
    def cards_a_day(self) -> list[int]:
        return [sum(o.card is not None for o in self.openings if o.day == day) for day in range(self.days)]

    @property
    def repeats(self) -> int:
        """Cards that say what one before has said."""
        said = [what_it_says(card) for card in self.cards]
        return len(said) - len(set(said))

    @property
    def repeated_share(self) -> float:
        return self.repeats / max(1, len(self.cards))


def what_it_says(card: Resource) -> str:
    """The Task that is suggested, by its name in the record and its urgency; without one the summary."""
    for suggestion in card.get("suggestions", ()):
        task = suggestion["actions"][0]["resource"]
        return f"{task['priority']} {task['identifier'][0]['value']}"
    return card["summary"]


@dataclass
class Ward:
    """Keeps the record of one patient."""

    parts: Parts
    request: Resource
    chance: Random
    planned: PlanReply | None = None

    @property
    def today(self) -> date:
        as_of = next(p["valueInstant"] for p in self.request["parameter"] if p["name"] == "as-of")
        return date.fromisoformat(as_of[:10])

    def plan(self) -> PlanReply:
        return answer_plan_request(self.parts, body_of(self.request), seconds=self.parts.settings.hook_seconds)

    def begin(self, day: date) -> None:
        """A new day, with the haemoglobin of the morning."""
        self.request = move_on(self.request, day, Decimal(0))
        value = Decimal(self.chance.randint(85, 115)) / 10
        morning = measured("haemoglobin", value, seen=f"{day}T05:30:00+01:00")
        self.request = append(self.request, [morning], f"m{day}")

    def record_the_day(self) -> None:
        """The session of today, if one was planned yesterday; then takes and healed donor sites."""
        today = self.today
        done = DoneSession(today, **_CALM, overlaid_cm2=Decimal(0))
        if self.planned is not None and _session_on(self.planned, today):
            done = split_by_place(self.planned, today)
            self.request = append(
                move_on(self.request, today, done.cover_used_cm2), write_session(done, self.parts.evidence),
                f"s{today}")
        takes = [self._around(t) for t in read_takes(bundle_of(self.request), today, self.parts.evidence)]
        self.request = append(self.request, takes, f"take-{today}")
        reply, before = self.plan(), len(bundle_of(self.request)["entry"])
        self.request = append(self.request, _carriers_off(reply, today), f"carriers-{today}")
        if any(p.harvest_count and not p.healed_recorded for s in reply.answer.case.donor_sites for p in s.parcels):
            self.request = append(self.request, see_donors(reply, done, today), f"donor-{today}")
        self.planned = self.plan() if len(bundle_of(self.request)["entry"]) > before else reply

    def _around(self, take: Resource) -> Resource:
        value = take["valueQuantity"]["value"] + self.chance.choice((-8, -4, 0, 2, 4))
        return take | {"valueQuantity": take["valueQuantity"] | {"value": min(Decimal(100), value)}}


def _carriers_off(reply: PlanReply, today: date) -> list[Resource]:
    """Carriers that are due off today are taken off: one Procedure for each place."""
    due = {p for e in reply.answer.events if e.kind is EventKind.REMOVE_CARRIER and e.day <= 0
           for p in e.place.split("; ")}
    places = {r.place for r in reply.answer.case.record.placements if place_in_words(r.place.key) in due}
    return [procedure("carrier-removal", words_of(place), today.isoformat(), f"carriers-{today}-{number}")
            for number, place in enumerate(sorted(places, key=str))]


def _session_on(reply: PlanReply, day: date) -> bool:
    case = reply.answer.case
    return any(case.date_of(session.day) == day for session in reply.answer.plan.settled.firm_sessions)


def play(
    request: Resource, days: int, get_cards: Callable[[Resource], list[Resource]], parts: Parts, seed: int = 1,
) -> Stay:
    """A stay of so many days from the as-of day of a plan request.

    Parameters
    ----------
    request : Resource
        The record on the first day, with an ``as-of``.
    get_cards : callable
        Sends a call and gives its cards.
    """
    ward, stay = Ward(parts, request, Random(seed)), Stay(days)
    first = ward.today
    for day in range(days):
        ward.begin(first + timedelta(days=day))
        is_recorded = False
        for hour in HOURS:
            if hour >= _RECORDED_FROM and not is_recorded:
                ward.record_the_day()
                is_recorded = True
            cards = get_cards(_opened(ward, day, hour))
            stay.openings.append(Opening(day, hour, cards[0] if cards else None))
    return stay


def _opened(ward: Ward, day: int, hour: int) -> Resource:
    request = {**ward.request, "parameter": [
        {"name": "as-of", "valueInstant": f"{ward.today}T{hour:02}:05:00+01:00"} if p["name"] == "as-of" else p
        for p in ward.request["parameter"]]}
    return hook_call(request, instance=str(UUID(int=1000 * day + hour + 1)))


def figures(stay: Stay) -> Iterator[str]:
    counts = stay.cards_a_day
    yield f"openings {len(stay.openings)}"
    yield f"cards {len(stay.cards)}"
    yield f"median a day {median(counts):g}"
    yield f"most a day {max(counts)}"
    yield f"days without {counts.count(0)}"
    yield f"repeats {stay.repeats} ({100 * stay.repeated_share:.1f} %)"


if __name__ == "__main__":
    import sys

    from tests.cds_hooks.conftest import Record, sample

    for name in sys.argv[1:]:
        record = Record(Settings(database="memory"))
        stay = play(sample(name), 60, record.cards, build_parts(Settings(database="memory")))
        print(f"{name}: {'; '.join(figures(stay))}")
        for opening in stay.openings:
            if opening.card:
                print("  ", opening.day, opening.hour, opening.card["summary"])
