"""One table: what went wrong, the status it has, the OperationOutcome it leaves as.

InvalidCase            400, 413 or 422: the request is unreadable, too large or contradictory
TransportFault         its row: address, method, media type, size, time, too busy
HTTPException          404, 405: what the routing itself refuses
OtherPatient           403: the token is for another patient
ServiceFault           503: no plan passed verification, so none leaves
StorageFault           503: the answer could not be audited, or the database is lost
anything else          500, without detail for the caller
"""

from __future__ import annotations

import logging
from traceback import extract_tb

from starlette.exceptions import HTTPException

from service.api.transport_faults import TransportFault
from service.domain.errors import InvalidCase, OtherPatient, ServiceFault, StorageFault
from service.fhir.faults import http_status_of, kind_of, make_fault
from service.fhir.operation_outcome import write_fault_outcome

log = logging.getLogger("graftstage")

_OUR_FAULTS = ("audit-unavailable", "plan-withheld", "service-fault")
_ROUTING_FAULTS = {404: "path-not-found", 405: "method-not-allowed"}


def error_ids_of(error: Exception) -> tuple[str, ...]:
    """The stable ids of an error, each once."""
    if isinstance(error, InvalidCase):
        return tuple(sorted({fault.error_id for fault in error.faults}))
    return (_as_transport_fault(error).error_id,)


def describe_error(error: Exception, canonical_base: str) -> tuple[int, dict, dict[str, str]]:
    """Status, OperationOutcome and headers for an error; a fault of ours goes to the log.

    Parameters
    ----------
    error : Exception
        What was raised on the way.
    canonical_base : str
        Canonical base of the deployment, for the system of the error ids.
    """
    if isinstance(error, InvalidCase):
        return http_status_of(error.faults), write_fault_outcome(error.faults, canonical_base), {}
    ended = _as_transport_fault(error)
    if ended.error_id in _OUR_FAULTS and ended is not error:
        _log_fault(error)
    fault = make_fault(ended.error_id, "", **ended.values)
    return kind_of(fault).http_status, write_fault_outcome((fault,), canonical_base), ended.headers


def _as_transport_fault(error: Exception) -> TransportFault:
    if isinstance(error, TransportFault):
        return error
    if isinstance(error, HTTPException) and error.status_code in _ROUTING_FAULTS:
        return TransportFault(_ROUTING_FAULTS[error.status_code], allowed_methods(error))
    if isinstance(error, OtherPatient):
        return TransportFault("patient-not-of-token")
    if isinstance(error, StorageFault):
        return TransportFault("audit-unavailable")
    return TransportFault("plan-withheld" if isinstance(error, ServiceFault) else "service-fault")


def allowed_methods(error: HTTPException) -> dict[str, str]:
    """The ``Allow`` header of a 405, with HEAD wherever GET is taken; empty for another error."""
    allowed = (error.headers or {}).get("Allow", "")
    methods = sorted({"HEAD", "GET"} if allowed == "GET" else set(filter(None, allowed.split(", "))))
    return {"Allow": ", ".join(methods)} if methods else {}


def _log_fault(error: Exception) -> None:
    """Kind and place of a fault. Only our own text is safe: any other may repeat what the caller sent."""
    frames = extract_tb(error.__traceback__)
    place = f"{frames[-1].filename}:{frames[-1].lineno}" if frames else "nowhere"
    text = str(error) if isinstance(error, ServiceFault) else ""
    log.error("fault %s at %s %s", type(error).__name__, place, text)
