"""Orders that are about to be signed: a warning when the donor sites cannot give what they ask for.

Unlike what is due, this is told at every signing: an order is an act.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from zoneinfo import ZoneInfo

from service.answer_hook import HookCall, answer_from_record, answer_patient_view, data_day
from service.domain.order import OrderFault
from service.domain.situation import DueItem, Situation
from service.fhir.codes import load_code_map
from service.fhir.hook_services import GRAFT_ORDER, GRAFT_PLAN, HookService
from service.fhir.order_map import load_order_map
from service.fhir.read_context import ReadContext
from service.fhir.read_log import ReadLog
from service.fhir.read_orders import MappedOrder, find_mapped, read_orders, require_subject
from service.fhir.references import ReferenceIndex
from service.fhir.write_cards import CRITICAL, WARNING, CardWords, write_card
from service.planning.order_check import check_orders
from service.settings import NO_ORDER_MAP, Settings
from service.wiring import PlanReply
from service.wording.order_text import word_order_detail, word_order_summary

AnswerHook = Callable[[HookCall], list[dict]]


def services_of(settings: Settings) -> dict[str, tuple[HookService, AnswerHook]]:
    """The services of a deployment by id; orders are checked only where a site has mapped its codes."""
    services = {GRAFT_PLAN.id: (GRAFT_PLAN, answer_patient_view)}
    if settings.order_map != NO_ORDER_MAP:
        services[GRAFT_ORDER.id] = (GRAFT_ORDER, answer_order_sign)
    return services


def answer_order_sign(call: HookCall) -> list[dict]:
    """One card when an order cannot be met: ``critical`` before a site has healed, else ``warning``.

    Raises
    ------
    InvalidCase
        412 with everything that is missing, from the call or from the record.
    ServiceFault
        No plan passed verification.
    """
    mapped = find_mapped(call.request.draft_orders, load_order_map(call.parts.settings.order_map))
    return answer_from_record(call, partial(_tell_orders, mapped)) if mapped else []


def _tell_orders(mapped: Sequence[MappedOrder], call: HookCall, plan: Callable[[], PlanReply],
                 entries: list[dict]) -> list[dict]:
    """Raises ``InvalidCase`` when an order is of another patient, before anything is planned, or cannot be read."""
    require_subject(mapped, call.request.patient_id)
    reply = plan()
    if reply.answer is None:
        return []
    case = reply.answer.case
    orders = read_orders(mapped, case, _context_of(call, case.request.as_of, case.request.time_zone))
    evidence = call.parts.evidence
    problems = check_orders(case, orders, evidence, call.parts.preferences.with_overrides(case.request.preferences))
    if not problems:
        return []
    is_critical = any(problem.fault is OrderFault.BEFORE_HEALING for problem in problems)
    words = CardWords(
        word_order_summary(case, problems), word_order_detail(case, problems, data_day(reply, entries)),
        CRITICAL if is_critical else WARNING)
    told = Situation((DueItem(frozenset({f"orders of {call.request.instance}"})),))
    card = write_card(call.card_id, words, call.base, link=call.link_to(reply))
    return call.give(told, problems[0].fault, card)


def _context_of(call: HookCall, as_of: datetime, zone: str) -> ReadContext:
    return ReadContext(
        ReadLog(), load_code_map(call.base), ReferenceIndex(()), as_of.astimezone(UTC), ZoneInfo(zone))
