"""Shortcuts for tests of the reader."""

from __future__ import annotations

from service.fhir.read_case import examine_request
from service.fhir.read_result import ReadResult
from tests.builders import Resource, body_of, record


def read(*resources: Resource) -> ReadResult:
    """A complete record with these resources, read as far as it goes."""
    return examine_request(body_of(record(*resources)))


def errors(result: ReadResult) -> list[str]:
    return [fault.error_id for fault in result.faults]


def notes(result: ReadResult) -> list[str]:
    return [note.error_id for note in result.notes]


def missing(result: ReadResult) -> list[str]:
    return [one.datum for one in result.missing]


def set_aside(result: ReadResult) -> list[str]:
    return [aside.reason for aside in result.set_aside]
