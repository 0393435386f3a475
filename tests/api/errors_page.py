"""``openapi/ERRORS.md``: every error id from the catalogue, every datum that can be missing, and sample answers."""

from __future__ import annotations

from collections.abc import Iterable
from http import HTTPStatus

from service.fhir.faults import FaultKind, fault_catalogue
from service.fhir.read_case import examine_request
from service.fhir.read_text import write_read_text
from service.fhir.tables import absence_rules
from tests.conftest import REFUSED_SAMPLES, ROOT, SAMPLES
from tests.golden.answers import reply_to

ERRORS_PAGE = ROOT / "openapi" / "ERRORS.md"
SET_ASIDE_SAMPLE = "entered-in-error"
INTRODUCTION = """# What can be wrong, and what to do

Every error is an OperationOutcome. Each issue has a stable id in `details.coding`, a sentence in `details.text`, the
repair in `diagnostics` and, where it is about an element, its FHIRPath in `expression`. All faults are told at once, in
the order of their places, at most 50. No text repeats a value of the record. Words in braces are filled in with caps,
codes and places. `graftstage read FILE --text` tells the same without planning.

The ids are the codes of `openapi/fhir/CodeSystem-error-ids.json`. An id keeps its meaning; new ones may be added.
"""
NOTES = "## 200: said beside an answer\n\nAn answer is given; these are issues of its OperationOutcome.\n"
MISSING = """## 200: what can be missing

An element that is absent, also with a reason for its absence, is no error. Required: no plan is given, and the
GuidanceResponse `data-required` asks for it. Precondition: the plan stands, and a Task asks for it to be confirmed.
Accepted and none: the plan stands on what is said here.
"""
EXAMPLES = "## Samples of what is wrong\n\nEach is in `shared/samples/`, with the answer that it gets.\n"


def write_errors_page() -> str:
    kinds = fault_catalogue().values()
    refusing = sorted({kind.http_status for kind in kinds} - {200})
    sections = [
        INTRODUCTION,
        *(f"## {status}: {HTTPStatus(status).phrase}\n\n{_kinds(k for k in kinds if k.http_status == status)}"
          for status in refusing),
        NOTES + "\n" + _kinds(kind for kind in kinds if kind.http_status == 200),
        MISSING + "\n" + _missing(),
        EXAMPLES,
        *(_example(sample, reply_to(sample).text) for sample in REFUSED_SAMPLES),
        _example(SET_ASIDE_SAMPLE, _as_read(SET_ASIDE_SAMPLE)),
    ]
    return "\n".join(sections)


def _kinds(kinds: Iterable[FaultKind]) -> str:
    return _table(("Id", "Issue", "Meaning", "To do"), (
        (f"`{kind.error_id}`", f"`{kind.issue_code}`", kind.text, kind.repair) for kind in kinds))


def _missing() -> str:
    return _table(("Datum", "Absence is", "Meaning"), (
        (f"`{rule.datum}`", rule.kind, f"{rule.meaning}.") for rule in absence_rules().values()))


def _table(titles: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [titles, ("---",) * len(titles), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


def _example(sample: str, text: str) -> str:
    return f"### `{sample}.json`\n\n```\n{text.rstrip()}\n```\n"


def _as_read(sample: str) -> str:
    return write_read_text(examine_request((SAMPLES / f"{sample}.json").read_bytes()))
