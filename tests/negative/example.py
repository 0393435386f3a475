"""The shape of a negative example: what would be wrong, and what shows that it does not happen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from service.assessment.assess import assess_case
from service.domain.answer import PlanAnswer
from service.evidence.library import load_evidence
from service.plan_grafting import plan_grafting
from service.preferences.library import load_preferences
from tests.records import record, request

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


@dataclass(frozen=True)
class Negative:
    """``number`` as the evidence page has it; ``show`` asserts what is required instead.

    ``no_input`` says why nobody can send the wrong thing, where that is the reason.
    """

    number: str
    wrong: str
    show: Callable[[], None]
    no_input: str = ""


def names(examples: list[Negative]) -> list[str]:
    return [f"{example.number}: {example.wrong}" for example in examples]


def numbers(examples: list[Negative]) -> list[str]:
    return [example.number for example in examples]


def assess(*extents, **changes):
    return assess_case(record(*extents, **changes), request(), EVIDENCE, PREFERENCES)


def plan(*extents, record_changes: dict | None = None, **request_changes) -> PlanAnswer:
    """The verified answer to a record: what a caller would get."""
    return plan_grafting(
        record(*extents, **(record_changes or {})), request(**request_changes), input_sha256="0" * 64,
        evidence=EVIDENCE, preferences=PREFERENCES, audit=lambda answer: None)


def codes(answer: PlanAnswer) -> set[str]:
    return {finding.code for finding in answer.findings}


def refuses(error: type[Exception], call: Callable[[], object]) -> None:
    """Assert that a call ends in an error of this type."""
    try:
        call()
    except error:
        return
    raise AssertionError(f"{error.__name__} was expected")
