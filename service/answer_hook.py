"""A CDS Hooks call in, at most one card out: what is due and not yet told, or why there is no plan.

The record of a call takes the same path as any plan request.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property, partial
from zoneinfo import ZoneInfo

from service.domain.dressing import CareEvent
from service.domain.errors import Fault, InvalidCase
from service.domain.out_of_scope import COMFORT_CARE
from service.domain.plan import PlanOutcome
from service.domain.situation import DueItem, Situation
from service.fhir.burn_on_record import has_burn_under_care
from service.fhir.codes import load_code_map
from service.fhir.faults import make_fault, word_in_record
from service.fhir.hook_services import HookService, PrefetchQuery, prefetch_queries
from service.fhir.newest_datum import find_newest_datum
from service.fhir.read_hook import Fetch, HookRequest, Prefetched, without_repeats, write_plan_request
from service.fhir.tables import absence_rules
from service.fhir.write_cards import INFO, WARNING, CardWords, name_card, write_card, write_suggestion
from service.fhir.write_frame import AnswerFrame
from service.fhir.write_task import identify_event
from service.schedule.due import find_situation
from service.storage.audit_entry import Asked
from service.storage.shown_cards import ShownCard
from service.wiring import Parts, PlanReply, answer_plan_request
from service.wording.card_text import (
    DataDay,
    word_detail,
    word_refusal_detail,
    word_refusal_summary,
    word_summary,
    word_why_no_plan,
)
from service.wording.findings import word_finding

#: Parts of the prefetch that say whether there is a burn at all; for most patients nothing else is looked at.
_TELLS_OF_BURN = ("conditions", "wounds")


@dataclass(frozen=True)
class HookCall:
    """One call and what it is answered with.

    ``fetch`` reads from the record what the call lacks, where that is switched on; ``pages`` is
    the address that plan pages lie below, where plans are kept.
    """

    parts: Parts
    service: HookService
    request: HookRequest
    asked: Asked
    fetch: Fetch | None = None
    pages: str | None = None

    @property
    def base(self) -> str:
        return self.parts.settings.canonical_base

    def link_to(self, reply: PlanReply) -> str | None:
        """Where the plan can be read whole, while its request is kept."""
        return f"{self.pages}/{reply.plan_id}" if self.pages else None

    @cached_property
    def card_id(self) -> str:
        return name_card(self.service.id, self.request.instance, self._patient)

    @property
    def _patient(self) -> str:
        """Who it is about, among the patients of all records that call."""
        return f"{self.request.fhir_server or ''}|{self.request.patient_id}"

    @cached_property
    def _patient_hash(self) -> str:
        return self.parts.storage.keys.keyed_hash("card-patient", self._patient)

    def _hashes(self, names: Iterable[str]) -> dict[str, str]:
        """Keyed hash by name; the same name of another patient has another hash."""
        ordered = list(names)
        hashes = self.parts.storage.keys.keyed_hashes("card-item", (f"{self._patient}|{n}" for n in ordered))
        return dict(zip(ordered, hashes, strict=True))

    def news_of(self, situation: Situation) -> tuple[DueItem, ...]:
        """What of it no earlier card of this patient has told."""
        told = self.parts.storage.shown_cards.told(self._patient_hash, self.service.id, but=self.card_id)
        hashes = self._hashes(situation.amounts_cm2)
        known = {name: told[hashed] for name, hashed in hashes.items() if hashed in told}
        return situation.news(known, self.parts.settings.card_change_percent / 100)

    def give(self, situation: Situation, subject: str, card: dict) -> list[dict]:
        """The card, unless another call has told the same meanwhile."""
        shown = ShownCard(self.card_id, self._patient_hash, self.service.id, subject, datetime.now(UTC))
        hashes, amounts = self._hashes(situation.amounts_cm2), situation.amounts_cm2
        told = {hashes[name]: amount for name, amount in amounts.items()}
        return [card] if self.parts.storage.shown_cards.add(shown, told) else []


#: Makes cards of a call, of what makes the plan of its record, and of the record's entries.
Tell = Callable[[HookCall, Callable[[], PlanReply], list[dict]], list[dict]]


def answer_patient_view(call: HookCall) -> list[dict]:
    """At most one card: the most decisive of what is due and has not been told.

    Raises
    ------
    InvalidCase
        412 with everything that is missing, from the call or from the record.
    ServiceFault
        No plan passed verification.
    """
    return answer_from_record(call, _tell_situation)


def answer_from_record(call: HookCall, tell: Tell) -> list[dict]:
    """What ``tell`` makes of the call, of the plan of its record, which is made when it asks, and of the entries.

    Nothing where no burn is being treated; what is wrong with the record, or with what was sent beside it, is one card.

    Raises
    ------
    InvalidCase
        412 with everything that is missing, from the call or from the record.
    ServiceFault
        No plan passed verification.
    """
    entries = _gather_record(call)
    if entries is None:
        return []
    try:
        return tell(call, partial(_plan_from_record, call, entries), entries)
    except InvalidCase as wrong:
        _require_present(wrong)
        return _tell_wrong(call, wrong.faults, entries)


def _tell_situation(call: HookCall, plan: Callable[[], PlanReply], entries: list[dict]) -> list[dict]:
    reply = plan()
    if reply.answer is None or reply.answer.plan.outcome is PlanOutcome.NO_PLAN:
        return _tell_no_plan(call, reply, entries)
    return _tell_due(call, reply, entries)


def _gather_record(call: HookCall) -> list[dict] | None:
    """The resources of the record as entries; ``None`` when there is no burn that is being treated.

    Raises ``InvalidCase`` (412) with every part of the prefetch that cannot be had.
    """
    prefetched, queries = Prefetched(call.request, call.fetch), prefetch_queries(call.base)
    first = _gather(prefetched, (q for q in queries if q.key in _TELLS_OF_BURN))
    has_burn = has_burn_under_care(_resources_of(first), load_code_map(call.base))
    if not prefetched.faults and not has_burn:
        return None
    rest = _gather(prefetched, (q for q in queries if q.key not in _TELLS_OF_BURN))
    if prefetched.faults:
        raise InvalidCase(tuple(prefetched.faults))
    return without_repeats([*rest, *first])


def _gather(prefetched: Prefetched, queries: Iterable[PrefetchQuery]) -> list[dict]:
    return [entry for query in queries for entry in prefetched.gather(query)]


def _resources_of(entries: list[dict]) -> list[dict]:
    """The resource of each entry; what is none is left for the reader to refuse."""
    return [one if isinstance(one := entry["resource"], dict) else {} for entry in entries]


def _plan_from_record(call: HookCall, entries: list[dict]) -> PlanReply:
    """A first verified plan within the budget of a call.

    Raises ``InvalidCase``: 412 when the record lacks something, else what is wrong with it.
    """
    patients = [one for one in _resources_of(entries) if one.get("resourceType") == "Patient"]
    if any(patient.get("id") != call.request.patient_id for patient in patients):
        raise InvalidCase((make_fault("prefetch-patient-other", "prefetch.patient"),))
    body = write_plan_request(call.request, entries)
    reply = answer_plan_request(call.parts, body, seconds=call.parts.settings.hook_seconds, asked=call.asked)
    if reply.read.missing and not reply.read.refusal:
        meanings = dict.fromkeys(absence_rules()[missing.datum].meaning for missing in reply.read.missing)
        raise InvalidCase(tuple(make_fault("record-incomplete", "", meaning=meaning) for meaning in meanings))
    return reply


def _require_present(wrong: InvalidCase) -> None:
    """What is missing ends a call; what is wrong becomes a card. Raises ``InvalidCase``."""
    if any(fault.error_id == "record-incomplete" for fault in wrong.faults):
        raise wrong


def _tell_due(call: HookCall, reply: PlanReply, entries: list[dict]) -> list[dict]:
    answer = reply.answer
    frame = AnswerFrame(answer, reply.read, call.base, is_transaction=True)

    def is_settled(event: CareEvent) -> bool:
        return frame.before.is_settled("Task", identify_event(frame, event))

    situation = find_situation(answer, is_settled)
    news = call.news_of(situation)
    if not news:
        return []
    headline = news[0]
    words = CardWords(
        word_summary(answer, headline, sum(i.event is not None and i is not headline for i in situation.items)),
        word_detail(answer, situation, headline, data_day(reply, entries)),
        WARNING if headline.is_urgent else INFO)
    event = headline.event
    is_new = event is not None and not frame.before.holds("Task", identify_event(frame, event))
    suggestion = write_suggestion(frame, headline, call.card_id, call.request.patient_id) if is_new else None
    card = write_card(call.card_id, words, call.base, suggestion=suggestion, link=call.link_to(reply))
    return call.give(situation, _subject_of(headline), card)


def _subject_of(item: DueItem) -> str:
    if item.session is not None:
        return "theatre-session"
    return item.finding.code if item.event is None else item.event.kind


def _tell_no_plan(call: HookCall, reply: PlanReply, entries: list[dict]) -> list[dict]:
    """Why there is no plan; comfort care is no news to anybody and is left in peace."""
    refusal = reply.read.refusal
    code = refusal.code if refusal else reply.answer.plan.reason_no_plan
    if code == COMFORT_CARE:
        return []
    reasons = [word_finding(refusal).detail, word_finding(refusal).mitigation] if refusal else (
        word_why_no_plan(reply.answer))
    return _tell_reasons(call, [code], reasons, data_day(reply, entries))


def _tell_wrong(call: HookCall, faults: tuple[Fault, ...], entries: list[dict]) -> list[dict]:
    """One warning card with all that is wrong, by kind of resource: places in a prefetch mean nothing to a reader."""
    types = [str(one.get("resourceType", "entry")) for one in _resources_of(entries)]
    reasons = list(dict.fromkeys(word_in_record(fault, types) for fault in faults))
    return _tell_reasons(call, [fault.error_id for fault in faults], reasons, None)


def _tell_reasons(call: HookCall, codes: list[str], reasons: list[str], data: DataDay | None) -> list[dict]:
    situation = Situation(tuple(DueItem(frozenset({f"no plan {code}"})) for code in dict.fromkeys(codes)))
    if not call.news_of(situation):
        return []
    words = CardWords(word_refusal_summary(reasons[0], len(reasons)), word_refusal_detail(reasons, data), WARNING)
    return call.give(situation, codes[0], write_card(call.card_id, words, call.base))


def data_day(reply: PlanReply, entries: list[dict]) -> DataDay | None:
    """How old the newest datum is that counted."""
    request = reply.read.request
    zone = ZoneInfo(request.time_zone)
    newest = find_newest_datum(reply.read, _resources_of(entries), zone)
    if newest is None:
        return None
    moment = f"{newest.instant:%Y-%m-%d %H:%M}" if newest.instant else newest.day.isoformat()
    return DataDay(newest.day, moment, (request.as_of.astimezone(zone).date() - newest.day).days)

