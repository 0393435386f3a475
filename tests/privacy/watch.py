"""A watch over the whole test run: nothing that was planted in a record may stand in a log line or an error."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from service.fhir.json_text import dump
from tests import builders

#: Loggers of the tests' own clients, which may say what the tests sent.
_CLIENTS = ("httpx", "httpcore", "hypothesis", "schemathesis")
MARK = "planted"


def planted_texts(samples: Path) -> frozenset[str]:
    """What names or dates a patient in the samples and in the records that tests build; and the mark of tests."""
    patients = [entry["resource"] for sample in samples.glob("*.json") for entry in _entries(sample)
                if entry["resource"]["resourceType"] == "Patient"]
    return frozenset(
        text.lower() for patient in (*patients, builders.patient()) for text in _naming(patient)) | {MARK}


def _entries(sample: Path) -> Iterator[dict]:
    for parameter in json.loads(sample.read_bytes())["parameter"]:
        yield from parameter.get("resource", {}).get("entry", ())


def _naming(patient: dict) -> Iterator[str]:
    yield from (name["text"] for name in patient.get("name", ()))
    yield from (identifier["value"] for identifier in patient["identifier"])
    if len(patient.get("birthDate", "")) > len("2026-01"):
        yield patient["birthDate"]
    yield f"Patient/{patient['id']}"


class PrivacyWatch(logging.Handler):
    """Keeps every log line and error that repeats a planted text."""

    def __init__(self, planted: frozenset[str]) -> None:
        super().__init__(logging.NOTSET)
        self.planted = planted
        self.told: list[str] = []
        self.looked_at_count = 0
        self.setFormatter(logging.Formatter("%(name)s %(message)s"))

    def emit(self, record: logging.LogRecord) -> None:
        if not record.name.startswith(_CLIENTS):
            self.look_at(self.format(record))

    def look_at(self, text: str) -> None:
        self.looked_at_count += 1
        if any(planted in text.lower() for planted in self.planted):
            self.told.append(text[:2_000])

    def dump(self, resource: dict[str, Any], *, indent: bool = False) -> bytes:
        """Stands where answers are written: every OperationOutcome is looked at, alone or in a Bundle."""
        for one in (resource, *(entry.get("resource", {}) for entry in resource.get("entry", ()))):
            if one.get("resourceType") == "OperationOutcome":
                self.look_at(dump(one).decode())
        return dump(resource, indent=indent)
