"""What is refused by name, wherever a request states it: in a Condition, a graft or a parameter."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from service.domain.finding import Finding, Severity
from service.domain.graft import GraftMethod
from service.domain.out_of_scope import OutOfScope
from service.fhir.codes import codings_of
from service.fhir.read_statements import Statement
from service.fhir.select_entries import Selected, is_refuted

#: Read under the codes of graft methods so that it can be refused; no method of a plan.
CULTURED_CELLS = "cultured-cells"
_CONDITIONS = {
    "frostbite": OutOfScope.FROSTBITE,
    "toxic-epidermal-necrolysis": OutOfScope.TOXIC_EPIDERMAL_NECROLYSIS,
}
_OVER = frozenset({"inactive", "remission", "resolved"})


def read_graft_method(name: str | None) -> GraftMethod | None:
    """The method of a code with its ratio; ``None`` for none, and for what is refused by name."""
    return None if name in (None, CULTURED_CELLS) else GraftMethod(name)


def find_out_of_scope(
    conditions: tuple[Selected, ...], statements: tuple[Statement, ...], parameters: list[tuple[str, dict[str, Any]]],
) -> tuple[Finding, ...]:
    """Findings that stand against any plan, each code once.

    Parameters
    ----------
    conditions : Conditions that count
    statements : Observations that count
    parameters : FHIRPath and parameter as sent
    """
    found = [*_of_conditions(conditions), *_of_grafts(statements), *_of_parameters(parameters)]
    return tuple({finding.code: finding for finding in reversed(found)}.values())


def _of_conditions(conditions: tuple[Selected, ...]) -> Iterator[Finding]:
    """A disease that is present; one that is refuted or over does not count."""
    for condition in conditions:
        code = _CONDITIONS.get(condition.profile.code)
        resource = condition.entry.resource
        status = {coding.get("code") for _, coding in codings_of(resource.get("clinicalStatus"))}
        if code and not is_refuted(resource) and not status & _OVER:
            yield Finding(code, Severity.HIGH, sources=(condition.entry.key,))


def _of_grafts(statements: tuple[Statement, ...]) -> Iterator[Finding]:
    for statement in statements:
        if statement.profile.code == "graft-method" and statement.value == CULTURED_CELLS:
            yield Finding(OutOfScope.CULTURED_CELLS, Severity.HIGH, sources=(statement.key,))


def _of_parameters(parameters: list[tuple[str, dict[str, Any]]]) -> Iterator[Finding]:
    for _, parameter in parameters:
        parts = parameter.get("part") if isinstance(parameter.get("part"), list) else []
        if CULTURED_CELLS in (sent.get("valueCode") for sent in (parameter, *parts) if isinstance(sent, dict)):
            yield Finding(OutOfScope.CULTURED_CELLS, Severity.HIGH)
