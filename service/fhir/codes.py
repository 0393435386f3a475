"""Codings: every one read or written is a row of the code map.

A concept is named ``kind/code``, for example ``region/thigh``. Several codings may stand for
one concept; the first row of a concept is the one that is written. A deployment, known by its
canonical base, may have a map of its own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property, lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from service.fhir.canonical import code_system_url
from service.fhir.code_rows import CODE_MAP, CodeRow, find_faults, read_rows
from service.fhir.read_log import ReadLog


class CodeMap:
    """The code map for one canonical base."""

    def __init__(self, rows: tuple[CodeRow, ...], canonical_base: str) -> None:
        self.rows = rows
        self.local_system = code_system_url(canonical_base)
        self._by_coding: dict[tuple[str, str], list[CodeRow]] = defaultdict(list)
        for row in rows:
            self._by_coding[self._system(row), row.code].append(row)

    def _system(self, row: CodeRow) -> str:
        return self.local_system if row.is_local else row.system

    @cached_property
    def sha256(self) -> str:
        """Hash of all rows in their order: which map an answer was read and written with."""
        return sha256("\n".join(map(repr, self.rows)).encode()).hexdigest()

    @cached_property
    def _local_codes(self) -> dict[str, frozenset[str]]:
        codes: dict[str, set[str]] = defaultdict(set)
        for row in self.rows:
            if row.is_local:
                codes[row.kind].add(row.code)
        return {kind: frozenset(found) for kind, found in codes.items()}

    def rows_of_kind(self, kind: str) -> tuple[CodeRow, ...]:
        return tuple(row for row in self.rows if row.kind == kind)

    def rows_of(self, coding: dict[str, Any]) -> list[CodeRow]:
        """Rows that a coding may stand for, none if it is not ours to read."""
        return self._by_coding.get((coding.get("system", ""), coding.get("code", "")), [])

    def is_ours_under_another_system(self, coding: dict[str, Any], kind: str) -> bool:
        """Whether a code of ours stands under a system that is not ours: never read, never ignored."""
        return not self.rows_of(coding) and coding.get("code") in self._local_codes.get(kind, ())

    def coding(self, concept: str) -> dict[str, str]:
        """The coding that is written for a concept."""
        row = next(row for row in self.rows if row.concept == concept)
        return {"system": self._system(row), "code": row.code, "display": row.display}


#: Files of deployments with a code map of their own, by canonical base.
_FILES: dict[str, Path] = {}


def use_code_map(canonical_base: str, path: Path) -> None:
    """Let a deployment read and write by its own code map; to be called before anything is read.

    Raises ``ValueError`` naming every row that is missing or clashes.
    """
    faults = find_faults(read_rows(path), read_rows(CODE_MAP))
    if faults:
        raise ValueError(f"code map: {'; '.join(faults)}")
    _FILES[canonical_base] = path


@lru_cache(maxsize=8)
def load_code_map(canonical_base: str) -> CodeMap:
    return CodeMap(read_rows(_FILES.get(canonical_base, CODE_MAP)), canonical_base)


def codings_of(concept: Any) -> Iterator[tuple[int, dict[str, Any]]]:
    """Codings of a CodeableConcept with their index; what is no coding is passed over."""
    codings = concept.get("coding") if isinstance(concept, dict) else None
    for index, coding in enumerate(codings if isinstance(codings, list) else ()):
        if isinstance(coding, dict) and all(isinstance(coding.get(n, ""), str) for n in ("system", "code")):
            yield index, coding


def note_display(row: CodeRow, coding: dict[str, Any], expression: str, log: ReadLog) -> None:
    display = coding.get("display")
    if display and row.is_local and display.casefold() != row.display.casefold():
        log.note("display-differs", f"{expression}.display")


def read_code(
    concept: Any, kind: str, expression: str, code_map: CodeMap, log: ReadLog, *, value_set: str = ""
) -> str | None:
    """Name of the concept of one kind that a CodeableConcept stands for.

    Anything but exactly one meaning is a fault: a code is never guessed.
    """
    found: set[str] = set()
    for index, coding in codings_of(concept):
        place = f"{expression}.coding[{index}]"
        rows = [row for row in code_map.rows_of(coding) if row.kind == kind]
        for row in rows:
            found.add(row.name)
            note_display(row, coding, place, log)
        if not rows and coding.get("system") == code_map.local_system:
            log.fault("code-unknown", f"{place}.code", value_set=value_set or kind)
            return None
        if not rows and code_map.is_ours_under_another_system(coding, kind):
            log.fault("code-system-unknown", f"{place}.system", system=code_map.local_system)
            return None
    if len(found) == 1:
        return found.pop()
    if found:
        log.fault("code-conflict", expression)
    else:
        has_coding = any(True for _ in codings_of(concept))
        log.fault("code-unknown" if has_coding else "code-missing", expression, value_set=value_set or kind)
    return None
