"""The rules of CDS Hooks 2.0 for what a service sends, written from its text and not from our code.

https://cds-hooks.hl7.org/2.0/. Each function gives what breaks a rule, in words; nothing when nothing does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qsl, urlsplit
from uuid import UUID

CONTEXT_TOKENS = {"context.patientId", "context.userId", "context.encounterId"}
USER_TOKENS = {"userPractitionerId", "userPractitionerRoleId", "userPatientId", "userRelatedPersonId"}
SEARCHABLE = {"_count", "_sort", "code", "patient", "subject", "encounter", "date", "category", "status"}
RESOURCE_TYPES = {"Patient", "Condition", "Observation", "Procedure", "AllergyIntolerance", "Task", "ServiceRequest"}


def empties(value: Any, place: str = "$") -> Iterator[str]:
    """Null, empty text, list or object anywhere but in ``cards``."""
    if value is None or value == "" or value == [] or value == {}:
        if place != "$.cards":
            yield f"{place} is empty"
    elif isinstance(value, dict):
        for name, part in value.items():
            yield from empties(part, f"{place}.{name}")
    elif isinstance(value, list):
        for index, part in enumerate(value):
            yield from empties(part, f"{place}[{index}]")


def discovery_faults(answer: dict) -> Iterator[str]:
    if not isinstance(answer.get("services"), list):
        yield "no list of services"
        return
    for service in answer["services"]:
        for name in ("hook", "description", "id"):
            if not (isinstance(service.get(name), str) and service[name]):
                yield f"service without {name}"
        if not isinstance(service.get("title", ""), str):
            yield "title is no text"
        for key, template in service.get("prefetch", {}).items():
            yield from (f"{key}: {fault}" for fault in template_faults(template))
    ids = [(service["id"], service["hook"]) for service in answer["services"]]
    if len(set(ids)) < len(ids):
        yield "a service is listed twice for one hook"


def template_faults(template: str) -> Iterator[str]:
    """What a template asks for beyond the subset that every client should offer."""
    tokens = re.findall(r"\{\{(.*?)\}\}", template)
    yield from (f"token {token}" for token in tokens if token not in CONTEXT_TOKENS | USER_TOKENS)
    bare = re.sub(r"\{\{.*?\}\}", "1", template)
    address = urlsplit(bare)
    path = address.path.split("/")
    if address.scheme or path[0] not in RESOURCE_TYPES or len(path) > 2:
        yield "neither a read nor a search of one type"
    if len(path) == 2 and address.query:
        yield "a read with parameters"
    for name, _ in parse_qsl(address.query, keep_blank_values=True, strict_parsing=bool(address.query)):
        stem, _, modifier = name.partition(":")
        if stem not in SEARCHABLE or modifier not in ("", "in"):
            yield f"parameter {name}"


def answer_faults(answer: dict) -> Iterator[str]:
    """What is wrong with the answer of a service call."""
    yield from empties(answer)
    if not isinstance(answer.get("cards"), list):
        yield "no list of cards"
        return
    for card in answer["cards"]:
        yield from card_faults(card)


def card_faults(card: dict) -> Iterator[str]:
    if not (isinstance(card.get("summary"), str) and 0 < len(card["summary"]) < 140 and "\n" not in card["summary"]):
        yield "summary is not one line of less than 140 characters"
    if card.get("indicator") not in ("info", "warning", "critical"):
        yield "indicator"
    if not card.get("source", {}).get("label"):
        yield "source without label"
    if not _is_uuid(card.get("uuid")):
        yield "card without uuid: nothing could be reported about it"
    if "suggestions" in card and card.get("selectionBehavior") not in ("any", "at-most-one"):
        yield "suggestions without selectionBehavior"
    yield from markdown_faults(card.get("detail", ""))
    for suggestion in card.get("suggestions", ()):
        yield from suggestion_faults(suggestion)
    for reason in card.get("overrideReasons", ()):
        if not all(reason.get(name) for name in ("code", "system", "display")):
            yield "override reason without code, system or display"
    for link in card.get("links", ()):
        yield from link_faults(link)


def markdown_faults(text: str) -> Iterator[str]:
    """HTML, tables, images and links: clients differ in them, or must not be led away."""
    if re.search(r"(?<!\\)<", text):
        yield "detail with HTML"
    if re.search(r"(?<!\\)\|", text):
        yield "detail with a table"
    if re.search(r"(?<!\\)!?\[[^\]]*\]\(", text):
        yield "detail with a link"


def suggestion_faults(suggestion: dict) -> Iterator[str]:
    if not suggestion.get("label"):
        yield "suggestion without label"
    if not _is_uuid(suggestion.get("uuid")):
        yield "suggestion without uuid"
    for action in suggestion.get("actions", ()):
        if action.get("type") not in ("create", "update", "delete") or not action.get("description"):
            yield "action without type or description"
        if action.get("type") != "delete" and not isinstance(action.get("resource"), dict):
            yield "action without a whole resource"
        if action.get("type") == "create" and "id" in action.get("resource", {}):
            yield "a resource to be created has an id already"


def link_faults(link: dict) -> Iterator[str]:
    if not link.get("label") or link.get("type") not in ("absolute", "smart"):
        yield "link without label or type"
    if not urlsplit(str(link.get("url", ""))).scheme:
        yield "link that is not absolute"
    if "appContext" in link and link.get("type") != "smart":
        yield "appContext beside an absolute link"




def _is_uuid(text: Any) -> bool:
    try:
        return bool(UUID(text))
    except (ValueError, TypeError, AttributeError):
        return False
