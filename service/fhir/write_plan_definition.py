"""PlanDefinition: what the service does, in the form in which FHIR describes decision support."""

from __future__ import annotations

from service.domain.dressing import EventKind
from service.fhir.canonical import profile_url
from service.fhir.codes import load_code_map
from service.fhir.tables import absence_rules
from service.fhir.write_operation_definition import PLAN_GRAFTS, PUBLISHER, STATED_ON, canonical_of

PLAN_DEFINITION = "staged-grafting"
PLAN_DEFINITION_TYPE = "http://terminology.hl7.org/CodeSystem/plan-definition-type"
RESOURCE_TYPES = "http://hl7.org/fhir/resource-types"
USAGE = (
    "Send the burn record to the operation; read, review and change the draft plan; send the record again after each "
    "session. Local protocol and clinical judgement come first. Not a medical device as shipped.")
#: What an answer with a plan holds, the plan first.
OUTPUT_TYPES = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue")


def write_plan_definition(canonical_base: str, version: str) -> dict:
    """One action that needs the record and gives the plan, and the kinds of event that a plan may hold.

    Parameters
    ----------
    canonical_base : str
        Canonical base of the deployment.
    version : str
        Version of the software, which is that of its statements.
    """
    return {
        "resourceType": "PlanDefinition",
        "id": PLAN_DEFINITION,
        "url": f"{canonical_base}/PlanDefinition/{PLAN_DEFINITION}",
        "version": version,
        "name": "StagedGrafting",
        "title": "Staged autografting of burns",
        "type": {"coding": [{"system": PLAN_DEFINITION_TYPE, "code": "clinical-protocol"}]},
        "status": "active",
        "experimental": False,
        "subjectCodeableConcept": {"coding": [{"system": RESOURCE_TYPES, "code": "Patient"}]},
        "date": STATED_ON,
        "publisher": PUBLISHER,
        "description": PLAN_GRAFTS.description,
        "usage": USAGE,
        "relatedArtifact": [{"type": "depends-on", "resource": canonical_of(canonical_base, PLAN_GRAFTS)}],
        "action": [{
            "title": PLAN_GRAFTS.title,
            "description": PLAN_GRAFTS.description,
            "trigger": [{"type": "named-event", "name": PLAN_GRAFTS.code}],
            "input": _write_inputs(canonical_base),
            "output": [{"type": resource_type} for resource_type in OUTPUT_TYPES],
            "groupingBehavior": "logical-group",
            "selectionBehavior": "any",
            "action": [_write_event(canonical_base, kind) for kind in EventKind],
        }],
    }


def _write_inputs(canonical_base: str) -> list[dict]:
    """What planning cannot do without, each profile once."""
    needed = dict.fromkeys(
        (rule.path.partition(".")[0], rule.profile) for rule in absence_rules().values() if rule.kind == "required")
    return [
        {"type": resource_type, **({"profile": [profile_url(canonical_base, profile)]} if profile else {})}
        for resource_type, profile in needed
    ]


def _write_event(canonical_base: str, kind: EventKind) -> dict:
    """One kind of event, which a plan proposes as a Task."""
    code_map = load_code_map(canonical_base)
    coding = code_map.coding(f"task/{kind}")
    (meaning,) = {row.meaning for row in code_map.rows_of_kind("task") if row.name == kind and row.is_local}
    title = coding["display"]
    return {"title": title, "description": f"{meaning}.", "code": [{"coding": [coding], "text": title}]}
