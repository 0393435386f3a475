"""What was read of a request, for a person at a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from textwrap import fill as wrap

from service.domain.case import BurnRecord
from service.domain.errors import Fault
from service.fhir.faults import fault_catalogue, kind_of
from service.fhir.read_result import ReadResult
from service.fhir.tables import absence_rules, input_profiles
from service.wording.catalogue import fill
from service.wording.findings import word_finding
from service.wording.places import place_in_words

COLUMNS = 80


def _item(text: str) -> str:
    return wrap(text, COLUMNS, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)


def _section(title: str, items: Iterable[str]) -> str:
    lines = [_item(item) for item in items]
    return "\n".join([title, *lines]) + "\n" if lines else ""


def _understood(result: ReadResult) -> Iterable[str]:
    counts = Counter(profile for _, profile in result.understood)
    for profile, rule in input_profiles().items():
        if profile in counts:
            yield f"{rule.title}: {counts[profile]}"


def _extents(record: BurnRecord) -> Iterable[str]:
    """Every extent by region and side: what a person checks against the patient."""
    for extent in record.extents:
        share = f"{extent.percent_tbsa} % of body surface" if extent.percent_tbsa is not None else (
            f"{extent.percent_of_region} % of the region")
        yield f"{place_in_words(extent.place.key)}: {share}, {extent.depth.replace('-', ' ')}"


def _set_aside(result: ReadResult) -> Iterable[str]:
    counts = Counter((aside.resource_type, aside.reason) for aside in result.set_aside)
    for (resource_type, reason), count in counts.items():
        places = [a.expression for a in result.set_aside if (a.resource_type, a.reason) == (resource_type, reason)]
        yield f"{count} x {resource_type}: {fault_catalogue()[reason].text} First: {places[0]}"


def _missing(result: ReadResult) -> Iterable[str]:
    for missing in result.missing:
        where = f" ({missing.expression})" if missing.expression else ""
        yield f"{absence_rules()[missing.datum].meaning}{where}."


def word_fault(fault: Fault) -> str:
    """Where, what, and how to repair it, in the words of the OperationOutcome, on one line."""
    kind, values = kind_of(fault), dict(fault.values)
    where = f"{fault.expression}: " if fault.expression else ""
    return f"{where}{fill(kind.text, values)} {fill(kind.repair, values)} [{fault.error_id}]"


def read_in_words(result: ReadResult) -> dict[str, list[str] | str]:
    """Each part of what was read as sentences; the extents stand with what was understood."""
    extents = _extents(result.record) if result.record else ()
    return {
        "understood": [*_understood(result), *extents],
        "set_aside": list(_set_aside(result)),
        "missing": list(_missing(result)),
        "wrong": list(map(word_fault, result.faults)),
        "notes": list(map(word_fault, result.notes)),
        "refusal": word_finding(result.refusal).title if result.refusal else "",
    }


def write_read_text(result: ReadResult) -> str:
    """Understood, extents, set aside, missing, wrong and notes, in lines of at most 80 columns.

    Extents are printed by region and side, so that a person can see whether they were
    understood as they were meant.
    """
    verdict = "cannot be planned yet" if result.missing or result.faults else "can be planned"
    if result.refusal:
        verdict = f"is not planned. {word_finding(result.refusal).title}"
    return "\n".join(section for section in (
        f"This record {verdict}.\n",
        _section("Understood", _understood(result)),
        _section("Extents as understood", _extents(result.record) if result.record else ()),
        _section("Set aside", _set_aside(result)),
        _section("Missing", _missing(result)),
        _section("Wrong", map(word_fault, result.faults)),
        _section("Notes", map(word_fault, result.notes)),
    ) if section)
