"""Everything that the service emits, before the official validation engine: ``make conformance``.

Answers to every sample as collection and as transaction, reports of reading them, every
conformance resource, every error as OperationOutcome; and the records of the samples against the
profiles of the service. Ends with 1 when the engine reports an error, a kind of warning without a
reason in ``reasons.csv``, a reason that no warning needs, or lets a broken resource pass.
"""

from __future__ import annotations

import csv
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path

from service.domain.errors import Fault, InvalidCase
from service.fhir.export_conformance import export_conformance
from service.fhir.faults import fault_catalogue
from service.fhir.json_text import dump, read_json
from service.fhir.operation_outcome import write_fault_outcome
from service.fhir.read_case import examine_request
from service.fhir.write_plan import write_plan_bundle
from service.settings import EXAMPLE_BASE, Settings
from service.wiring import answer_plan_request, answer_read_request, build_parts, state_versions
from tests.conftest import SAMPLES
from tests.contract import test_validators as broken
from tests.unit.fhir_out.answers import SETTINGS, answer, read_result

HERE = Path(__file__).parent
PARTS = build_parts(Settings())
#: Broken on purpose in ways that the definitions of FHIR forbid; the engine must say so of each.
BREAKS = (
    broken._without_status, broken._unknown_status, broken._two_values, broken._impossible_date,
    broken._reversed_period, broken._unknown_element, broken._script, broken._detail_beside_reference,
    broken._same_full_url, broken._request_in_collection, broken._order_detail_without_code,
)


def _as_transaction(body: bytes) -> bytes:
    request = read_json(body)
    others = [parameter for parameter in request["parameter"] if parameter["name"] != "answer"]
    return dump(request | {"parameter": [*others, {"name": "answer", "valueCode": "transaction"}]})


def _answer(body: bytes) -> dict:
    try:
        return answer_plan_request(PARTS, body).resource
    except InvalidCase as invalid:
        return write_fault_outcome(invalid.faults, EXAMPLE_BASE)


def emitted() -> Iterator[tuple[str, dict]]:
    """What leaves the service, by a name that says what it is."""
    for sample in sorted(SAMPLES.glob("*.json")):
        body = sample.read_bytes()
        yield f"{sample.stem}-collection", _answer(body)
        yield f"{sample.stem}-transaction", _answer(_as_transaction(body))
        yield f"{sample.stem}-reading", answer_read_request(PARTS, body).resource
    faults = tuple(Fault(error_id, "Bundle.entry[0].resource") for error_id in fault_catalogue())
    yield "every-error", write_fault_outcome(faults, EXAMPLE_BASE)
    yield "versions", state_versions()


def records() -> Iterator[tuple[str, dict]]:
    """Resources of the sample records, each named after the profile that it is read by."""
    for sample in sorted(SAMPLES.glob("*.json")):
        request = read_json(sample.read_bytes())
        bundle = next(p["resource"] for p in request["parameter"] if p["name"] == "bundle")
        for key, profile in examine_request(sample.read_bytes()).understood:
            number = int(key.removeprefix("entry[").removesuffix("]"))
            yield f"{sample.stem}-{number}@{profile}", bundle["entry"][number]["resource"]


def broken_answers() -> Iterator[tuple[str, dict]]:
    sound = write_plan_bundle(answer(), read_result(), SETTINGS)
    for breaks in BREAKS:
        made = deepcopy(sound)
        breaks(made)
        yield breaks.__name__, made


def _save(folder: Path, resources: Iterator[tuple[str, dict]]) -> Path:
    folder.mkdir()
    for name, resource in resources:
        (folder / f"{name}.json").write_bytes(dump(resource))
    return folder


def judge(definitions: Path, *folders: Path) -> tuple[list[list[str]], int]:
    """Messages of the engine as file, severity, id, place and text; and the number of resources judged."""
    classpath = f"{HERE / 'target/classes'}:{(HERE / 'target/classpath').read_text().strip()}"
    done = subprocess.run(
        ["java", "-Xmx2g", "-cp", classpath, "Judge", str(definitions), *map(str, folders)],
        capture_output=True, text=True, check=True)
    *messages, last = (line.split("\t") for line in done.stdout.splitlines())
    return messages, int(last[1])


def complaints(messages: list[list[str]]) -> list[str]:
    """What is wrong: errors, warnings without a reason, reasons without a warning, what passed though broken."""
    with (HERE / "reasons.csv").open(newline="", encoding="utf-8") as handle:
        reasons = {row["message"] for row in csv.DictReader(handle)}
    sound = [message for message in messages if f"{message[0].removesuffix('.json')}" not in _BROKEN]
    warned = {kind for _, severity, kind, _, _ in sound if severity == "warning"}
    caught = {name.removesuffix(".json") for name, severity, *_ in messages if severity in ("error", "fatal")}
    return [
        *("\t".join(message) for message in sound if message[1] in ("error", "fatal")),
        *("\t".join(next(m for m in sound if m[2] == kind)) for kind in sorted(warned - reasons)),
        *(f"no warning needs the reason for {kind}" for kind in sorted(reasons - warned)),
        *(f"{name} was let pass" for name in sorted(_BROKEN - caught)),
    ]


_BROKEN = frozenset(breaks.__name__ for breaks in BREAKS)


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        export_conformance(root / "definitions")
        messages, judged = judge(
            root / "definitions", root / "definitions", _save(root / "emitted", emitted()),
            _save(root / "records", records()), _save(root / "broken", broken_answers()))
    found = complaints(messages)
    print(*found, sep="\n")
    print(f"judged {judged}:", dict(Counter(m[1] for m in messages if m[0].removesuffix('.json') not in _BROKEN)))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
