"""OperationDefinitions, from the table of parameters that the reader obeys."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from service.fhir.canonical import value_set_url
from service.fhir.operation_scopes import operation_needs, scope_text
from service.fhir.write_read_report import CAN_PLAN, LISTS

PARAMETERS = Path(__file__).parent / "tables" / "parameters.csv"
PUBLISHER = "Graftstage"
STATED_ON = "2026-11-25"  # of the statements, not of the answer: moves when their content does
VERSIONS_OF_FHIR = "http://hl7.org/fhir/OperationDefinition/CapabilityStatement-versions"


@dataclass(frozen=True)
class Operation:
    """One operation of the service, at system level and without any effect on what is stored."""

    code: str
    name: str
    title: str
    description: str


PLAN_GRAFTS = Operation(
    "plan-grafts", "PlanGrafts", "Plan grafts",
    "Plans every session of staged autografting from a burn record: harvests, grafts, donor reserve, "
    "dressing events. A proposal for clinicians to review; nothing is stored or ordered.")
READ_BURN_RECORD = Operation(
    "read-burn-record", "ReadBurnRecord", "Read a burn record",
    "Dry run: what was understood of a burn record, what was set aside, and what is missing for a plan.")
VERSIONS = Operation(
    "versions", "Versions", "FHIR versions", "The FHIR versions that this endpoint speaks.")
OPERATIONS = (PLAN_GRAFTS, READ_BURN_RECORD, VERSIONS)


def canonical_of(canonical_base: str, operation: Operation) -> str:
    return f"{canonical_base}/OperationDefinition/{operation.code}"


def write_operation_definitions(canonical_base: str, version: str) -> list[dict]:
    """All operations of the service.

    Parameters
    ----------
    canonical_base : str
        Canonical base of the deployment.
    version : str
        Version of the software, which is that of its statements.
    """
    inputs = _write_inputs(canonical_base)
    return [
        _write_definition(canonical_base, version, PLAN_GRAFTS, [
            *inputs, _write_output("return", "Bundle", "1", "Plan as a Bundle, CarePlan first")]),
        _write_definition(canonical_base, version, READ_BURN_RECORD, [
            *inputs, *_write_report_outputs()]),
        _write_definition(canonical_base, version, VERSIONS, [
            _write_output("version", "code", "*", "A version that is spoken here"),
            _write_output("default", "code", "1", "The version that is spoken unless another is asked for")]),
    ]


def _write_definition(
    canonical_base: str, version: str, operation: Operation, parameters: list[dict],
) -> dict:
    definition = {
        "resourceType": "OperationDefinition",
        "id": operation.code,
        "url": canonical_of(canonical_base, operation),
        "version": version,
        "name": operation.name,
        "title": operation.title,
        "status": "active",
        "kind": "operation",
        "date": STATED_ON,
        "publisher": PUBLISHER,
        "description": operation.description,
        **_write_comment(operation),
        "affectsState": False,
        "code": operation.code,
        "system": True,
        "type": False,
        "instance": False,
        "parameter": parameters,
    }
    return {**definition, "base": VERSIONS_OF_FHIR} if operation is VERSIONS else definition


def _write_comment(operation: Operation) -> dict[str, str]:
    """Which scopes the operation needs, where tokens are asked for."""
    needs = operation_needs().get(operation.code)
    if not needs:
        return {"comment": "Open to everybody."}
    return {"comment": (
        f"Where tokens are asked for, the token needs `{scope_text(needs)}`, or wider, or the same of version 1 "
        "(`.read`). `patient/` scopes count in a token that states its patient, who must be the Patient of the "
        "record, and `user/` scopes in one that states its fhirUser. A scope that is narrowed to part of a type "
        "does not count. Nothing is written, so no scope to write is needed.")}


def _write_output(name: str, fhir_type: str, most: str, meaning: str) -> dict:
    return {"name": name, "use": "out", "min": 1, "max": most, "documentation": meaning, "type": fhir_type}


def _write_report_outputs() -> list[dict]:
    lists = [
        {
            "name": name,
            "use": "out",
            "min": 0,
            "max": "*",
            "part": [
                {"name": part, "use": "out", "min": int(always), "max": "1", "type": fhir_type}
                for part, fhir_type, always in parts
            ],
        }
        for name, parts in LISTS.items()
    ]
    return [_write_output(CAN_PLAN, "boolean", "1", "Whether the record suffices for a plan"), *lists]


def _write_inputs(canonical_base: str) -> list[dict]:
    """Parameters in table order; the row of a part follows the row that it is a part of."""
    with PARAMETERS.open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(handle))
    inputs = []
    for _, group in groupby(rows, key=lambda row: row["name"]):
        whole, *parts = group
        parameter = _write_input(canonical_base, whole["name"], whole)
        by_path = {"": parameter}
        for part in parts:
            parent, _, name = part["part"].rpartition(".")
            by_path[part["part"]] = _write_input(canonical_base, name, part)
            by_path[parent].setdefault("part", []).append(by_path[part["part"]])
        inputs.append(parameter)
    return inputs


def _write_input(canonical_base: str, name: str, row: dict[str, str]) -> dict:
    parameter = {
        "name": name,
        "use": "in",
        "min": int(row["min"]),
        "max": row["max"],
        "documentation": _write_meaning(row),
    }
    if row["type"]:
        parameter["type"] = row["type"]
    if row["value_set"]:
        parameter["binding"] = {
            "strength": "required", "valueSet": value_set_url(canonical_base, row["value_set"])}
    return parameter


def _write_meaning(row: dict[str, str]) -> str:
    bounds = f" ({row['low']} to {row['high']})" if row["low"] else ""
    return f"{row['meaning']}{bounds}."
