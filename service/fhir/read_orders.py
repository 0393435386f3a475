"""Draft orders of a hook: those whose codes the site has mapped, with place, day and area."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from service.domain.case import GraftingCase
from service.domain.errors import InvalidCase
from service.domain.order import DraftOrder
from service.fhir.body_sites import read_site
from service.fhir.faults import make_fault
from service.fhir.moments import read_choice
from service.fhir.order_map import Meaning, find_meaning
from service.fhir.quantities import read_quantity
from service.fhir.read_context import ReadContext
from service.fhir.tables import input_profiles

OrderMap = dict[tuple[str, str], Meaning]


@dataclass(frozen=True)
class MappedOrder:
    """A ServiceRequest as sent and what it is for."""

    resource: dict[str, Any]
    meaning: Meaning


def find_mapped(draft_orders: dict[str, Any], order_map: OrderMap) -> tuple[MappedOrder, ...]:
    """The ServiceRequests among draft orders that ask for a mapped act and are still wanted."""
    entries = draft_orders.get("entry")
    resources = [e.get("resource") for e in entries if isinstance(e, dict)] if isinstance(entries, list) else []
    return tuple(
        MappedOrder(one, meaning) for one in resources
        if isinstance(one, dict) and one.get("resourceType") == "ServiceRequest" and not one.get("doNotPerform")
        and one.get("status") in ("draft", "active", None) and (meaning := find_meaning(one.get("code"), order_map)))


def require_subject(orders: tuple[MappedOrder, ...], patient_id: str) -> None:
    """Raises ``InvalidCase`` when an order is for another patient, or does not say for whom."""
    for order in orders:
        subject = order.resource.get("subject")
        reference = subject.get("reference") if isinstance(subject, dict) else None
        if not isinstance(reference, str) or reference.split("/")[-2:] != ["Patient", patient_id]:
            raise InvalidCase((make_fault("subject-other", "ServiceRequest.subject"),))


def read_orders(
    orders: tuple[MappedOrder, ...], case: GraftingCase, context: ReadContext,
) -> tuple[DraftOrder, ...]:
    """The orders in terms of the case. A day that is not stated is the as-of day.

    Raises ``InvalidCase`` with everything that cannot be read.
    """
    read = [one for order in orders for one in _read_order(order, case, context)]
    if context.log.faults:
        raise InvalidCase(tuple(context.log.faults))
    return tuple(read)


def _read_order(order: MappedOrder, case: GraftingCase, context: ReadContext) -> Iterator[DraftOrder]:
    resource, (act, method) = order.resource, order.meaning
    sites = resource.get("bodySite")
    concepts = sites if isinstance(sites, list) and sites else [sites]
    places = [
        place for concept in concepts
        if (site := read_site(concept, None, "ServiceRequest.bodySite", context)) for place in site.places]
    quantity, area = resource.get("quantityQuantity"), None
    if quantity is not None:
        rule = input_profiles()["treated-area"]
        stated = read_quantity(quantity, rule, "ServiceRequest.quantity", context.log)
        area = stated.value if stated else None
    when = read_choice(resource, "occurrence", "ServiceRequest", context.zone, context.log)
    day = max(0, case.day_of(when.day)) if when else 0
    if places:
        yield DraftOrder(act, tuple(places), day, area, method)
