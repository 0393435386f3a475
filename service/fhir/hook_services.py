"""The CDS Hooks services: what discovery lists, and the prefetch that is enough for each.

Templates keep to what every client of CDS Hooks 2.0 may be asked for: a read of one instance or a
search of one type, by patient, code and count, with tokens of the first level of the context.
https://cds-hooks.hl7.org/2.0/#prefetch-query-restrictions
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import quote

from service.fhir.codes import load_code_map
from service.fhir.tables import Profile, input_profiles

PATIENT_VIEW, ORDER_SIGN = "patient-view", "order-sign"
PATIENT_TOKEN = "{{context.patientId}}"
#: As many as one answer may hold: paging is the exception.
_MOST_RESOURCES = 1000
#: The search parameter that names the patient is the same for every type used here.
_BY_PATIENT = "patient"


@dataclass(frozen=True)
class HookService:
    """One service. ``id`` is the last part of its address."""

    id: str
    hook: str
    title: str
    description: str
    usage: str


GRAFT_PLAN = HookService(
    "graft-plan", PATIENT_VIEW, "Staged graft plan",
    "Says what of the staged graft plan of a burn patient is due or has changed, as a draft for a clinician to "
    "review. Silent when nothing is.",
    "Prefetch is enough; without a burn on record there is no card.")
GRAFT_ORDER = HookService(
    "graft-order-check", ORDER_SIGN, "Graft orders against the donor reserve",
    "Warns when an order asks for more skin than the donor sites can give, or for a harvest before its site has "
    "healed.",
    "Prefetch is enough. Reads the order codes that the site has mapped to acts.")


@dataclass(frozen=True)
class PrefetchQuery:
    """One entry of the prefetch: a read of the patient, or a search of one type by code.

    ``is_needed``: without it nothing can be said.
    """

    key: str
    resource_type: str
    codes: tuple[str, ...] = ()  # tokens, system and code
    is_needed: bool = True

    @property
    def template(self) -> str:
        if not self.codes:
            return f"{self.resource_type}/{PATIENT_TOKEN}"
        codes = ",".join(self.codes)
        return f"{self.resource_type}?{_BY_PATIENT}={PATIENT_TOKEN}&code={codes}&_count={_MOST_RESOURCES}"

    def path_for(self, patient_id: str) -> str:
        """The query for one patient, relative to the base of the record."""
        return self.template.replace(PATIENT_TOKEN, quote(patient_id, safe=""))


@lru_cache(maxsize=8)
def prefetch_queries(canonical_base: str) -> tuple[PrefetchQuery, ...]:
    """Everything that planning reads, by type and subject, so that no address grows too long."""
    profiles = input_profiles().values()

    def query(key: str, resource_type: str, chosen: Iterable[Profile], *, is_needed: bool = True) -> PrefetchQuery:
        return PrefetchQuery(key, resource_type, _tokens(canonical_base, chosen), is_needed)

    def of_type(name: str) -> list[Profile]:
        return [profile for profile in profiles if profile.resource == name]

    observed = of_type("Observation")
    about_patient = [p for p in observed if p.place == "none" and p.code != "total-burn-extent"]
    about_acts = [p for p in observed if p.place == "part"]
    about_wounds = [p for p in observed if p not in about_patient and p not in about_acts]
    tasks = tuple(_token(load_code_map(canonical_base), row) for row in _task_rows(canonical_base))
    return (
        PrefetchQuery("patient", "Patient"),
        query("conditions", "Condition", of_type("Condition")),
        query("wounds", "Observation", about_wounds),
        query("procedures", "Procedure", of_type("Procedure")),
        query("procedureDetails", "Observation", about_acts),
        query("measurements", "Observation", about_patient),
        query("allergies", "AllergyIntolerance", of_type("AllergyIntolerance"), is_needed=False),
        PrefetchQuery("tasks", "Task", tasks, is_needed=False),
    )


def _task_rows(canonical_base: str):
    return load_code_map(canonical_base).rows_of_kind("task")


def _token(code_map, row) -> str:
    return f"{code_map.local_system if row.is_local else row.system}|{row.code}"


def _tokens(canonical_base: str, profiles: Iterable[Profile]) -> tuple[str, ...]:
    """Every coding that the reader takes for one of the profiles; coded burn sizes are burns."""
    code_map = load_code_map(canonical_base)
    wanted = {profile.code for profile in profiles}
    return tuple(
        _token(code_map, row) for row in code_map.rows
        if (row.kind == "profile" and row.name in wanted) or (row.kind == "burn-band" and "burn" in wanted))


def write_discovery(services: Iterable[HookService], canonical_base: str) -> dict:
    """The answer of ``GET /cds-services``."""
    prefetch = {query.key: query.template for query in prefetch_queries(canonical_base)}
    return {"services": [
        {
            "hook": service.hook,
            "title": service.title,
            "description": service.description,
            "id": service.id,
            "usageRequirements": service.usage,
            "prefetch": prefetch,
        }
        for service in services
    ]}
