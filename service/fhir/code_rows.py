"""Rows of a code map, and what a site's own map lacks: ``python -m service.fhir.code_rows FILE``.

A site may add rows of its own systems; the first row of a concept is the one that is written. The
rows of the local system stay, because profiles and value sets are made of them.
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from dataclasses import dataclass, fields
from pathlib import Path

from service.fhir.canonical import CODE_SYSTEM

#: The map that is shipped; in a clone this is ``shared/code-map.csv``, which integrators copy.
CODE_MAP = Path(__file__).parent / "tables" / "code-map.csv"


@dataclass(frozen=True)
class CodeRow:
    """One coding and the concept it stands for. ``verified`` says how it was checked."""

    concept: str
    system: str
    code: str
    display: str
    meaning: str
    verified: str

    @property
    def kind(self) -> str:
        return self.concept.split("/", 1)[0]

    @property
    def name(self) -> str:
        return self.concept.split("/", 1)[1]

    @property
    def is_local(self) -> bool:
        return self.system == CODE_SYSTEM


Rows = tuple[CodeRow, ...]


def read_rows(path: Path) -> Rows:
    """Rows of a file. Raises ``ValueError`` when it cannot be read as a code map."""
    columns = [field.name for field in fields(CodeRow)]
    try:
        with path.open(newline="", encoding="utf-8") as handle:
            reader = csv.DictReader(handle, strict=True)
            names, rows = reader.fieldnames, list(reader)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ValueError(f"cannot be read ({type(error).__name__})") from None
    if names != columns or any(None in row or None in row.values() for row in rows):
        raise ValueError(f"columns are to be {','.join(columns)} in every row")
    return tuple(CodeRow(**row) for row in rows)


def find_faults(rows: Rows, own: Rows) -> list[str]:
    """Everything that is wrong with the map of a site, in words.

    Parameters
    ----------
    rows : tuple of CodeRow
        The map of the site.
    own : tuple of CodeRow
        The map that the service ships: each of its concepts and local codes is needed.
    """
    concepts, needed = {row.concept for row in rows}, {row.concept for row in own}
    held = {(row.concept, row.code) for row in rows if row.is_local}
    local = {(row.concept, row.code) for row in own if row.is_local}
    return [
        *(f"{concept} is missing" for concept in sorted(needed - concepts)),
        *(f"{concept} lacks its local code {code}"
          for concept, code in sorted(local - held) if concept in concepts),
        *(f"{concept} lacks system, code or display" for concept in sorted(
            {row.concept for row in rows if not (row.system and row.code and row.display)})),
        *(f"{concept} is no concept of this service" for concept in sorted(concepts - needed)),
        *_find_clashes(rows),
    ]


def _find_clashes(rows: Rows) -> list[str]:
    """One coding that would stand for two concepts of one kind, or stands twice for the same."""
    meanings: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for row in rows:
        meanings[row.concept.split("/", 1)[0], row.system, row.code].append(row.concept)
    return [
        f"{system}|{code} stands for {' and '.join(names)}"
        for (_, system, code), names in meanings.items() if len(names) > 1
    ]


def main(path: str) -> int:
    try:
        rows = read_rows(Path(path))
    except ValueError as error:
        print(error)
        return 1
    faults = find_faults(rows, read_rows(CODE_MAP))
    print(*(faults or [f"{len(rows)} rows, nothing missing, no clash"]), sep="\n")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
