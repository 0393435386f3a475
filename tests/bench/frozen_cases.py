"""The frozen benchmark set: 154 published burn sizes and 100 invented patients, each with a checksum.

``.venv/bin/python -m tests.bench.frozen_cases`` writes the checksums anew; do it only when evidence,
preferences or reading were meant to change the cases, and say so in the commit.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

from service.assessment.assess import assess_case
from service.domain.case import GraftingCase
from service.evidence.library import load_evidence
from service.fhir.read_case import examine_request
from service.preferences.library import load_preferences
from tests.bench.synthetic_patients import SIZES, draw_patient
from tests.real_input.burn_set import make_request, real_burns

CHECKSUMS = Path(__file__).with_suffix(".sha256")
#: Bands that results are reported by.
BANDS = ("<20 %TBSA", "20-45 %TBSA", "45-65 %TBSA", ">65 %TBSA")
#: What planning does not read: said about the case, or already worked into it.
_LEFT_OUT = ("record", "findings", "closes_by_itself", "not_planned", "sources")


@dataclass(frozen=True)
class FrozenCase:
    name: str
    case: GraftingCase

    @property
    def band(self) -> str:
        percent = self.case.burn_percent_tbsa
        return BANDS[(percent >= 20) + (percent > 45) + (percent > 65)]

    @property
    def sha256(self) -> str:
        text = json.dumps(canonical(self.case), sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


def canonical(value: object) -> object:
    """A value as JSON that is the same for equal cases; a field at its default is not written."""
    if is_dataclass(value):
        kept = {f.name: getattr(value, f.name) for f in fields(value)
                if f.name not in _LEFT_OUT and not _is_default(f, value)}
        return {name: canonical(part) for name, part in kept.items()}
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, (set, frozenset)):
        return sorted(canonical(part) for part in value)
    if isinstance(value, (list, tuple)):
        return [canonical(part) for part in value]
    return value


def _is_default(field, holder: object) -> bool:
    return field.default is not MISSING and getattr(holder, field.name) == field.default


def real_cases() -> Iterator[FrozenCase]:
    """The published sizes and sites; see ``tests/real_input`` for what is theirs and what is ours."""
    for burn in real_burns():
        examined = examine_request(make_request(burn))
        yield FrozenCase(f"real/{burn.number}", _assess(examined.record, examined.request))


def synthetic_cases() -> Iterator[FrozenCase]:
    for number in range(len(SIZES)):
        yield FrozenCase(f"synthetic/{number}", _assess(*draw_patient(number)))


def _assess(record, request) -> GraftingCase:
    return assess_case(record, request, load_evidence(), load_preferences())


@lru_cache(maxsize=1)
def frozen_cases() -> tuple[FrozenCase, ...]:
    """The whole set; made once a process."""
    return (*real_cases(), *synthetic_cases())


def read_checksums() -> dict[str, str]:
    """SHA-256 by name, as frozen."""
    lines = CHECKSUMS.read_text(encoding="utf-8").splitlines()
    return {name: sha256 for sha256, name in (line.split("  ") for line in lines)}


if __name__ == "__main__":
    CHECKSUMS.write_text("".join(f"{frozen.sha256}  {frozen.name}\n" for frozen in frozen_cases()), encoding="utf-8")
