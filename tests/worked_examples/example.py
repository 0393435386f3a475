"""The shape of a worked example: what goes in, what must come out, and who says so."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import pytest

from service.evidence.library import load_evidence

EVIDENCE = load_evidence()


class Kind(StrEnum):
    """Only a published example is independent evidence."""

    PUBLISHED = "published"  # the source prints input and output
    PARTLY = "published, product derived"
    DERIVED = "derived"  # computed from a published formula
    MEMORY = "derived on a remembered figure (M)"


@dataclass(frozen=True)
class Example:
    """``number`` is the row in the evidence page; ``compute`` holds the input. Tolerance absolute."""

    number: str
    compute: Callable[[], float]
    expected: float
    tolerance: float
    source: str
    kind: Kind


def check(example: Example) -> None:
    assert float(example.compute()) == pytest.approx(example.expected, abs=example.tolerance)


def names(examples: list[Example]) -> list[str]:
    return [f"{example.number}: {example.source} ({example.kind})" for example in examples]


def value(row_id: str) -> float:
    """A number of the evidence tables: ``take/island``."""
    return float(EVIDENCE.value(*row_id.split("/")))
