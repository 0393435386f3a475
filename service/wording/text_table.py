"""Tables and paragraphs for a terminal: never wider than 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

WIDTH = 80
_GAP = "  "


@dataclass(frozen=True)
class Column:
    """A column of fixed width; numbers stand on the right. Longer cells go on below."""

    title: str
    width: int
    is_number: bool = False


def paragraph(text: str, indent: str = "", hanging: str = "") -> list[str]:
    """Lines of a text, the first after ``indent``, the others after ``indent`` and ``hanging``."""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + hanging, break_on_hyphens=False)


def heading(title: str) -> list[str]:
    """A section title, underlined, with an empty line before it."""
    return ["", title, "-" * len(title)]


def table(columns: Sequence[Column], rows: Iterable[Sequence[str]], indent: str = "") -> list[str]:
    """Lines of a table with its titles; cells that are too long are wrapped inside their column.

    Raises ``ValueError`` when the columns do not fit into 80 characters.
    """
    total = len(indent) + sum(c.width for c in columns) + len(_GAP) * (len(columns) - 1)
    if total > WIDTH:
        raise ValueError(f"table of {total} characters")
    lines = _row(columns, [c.title for c in columns], indent)
    lines.append(indent + _GAP.join("-" * c.width for c in columns))
    for cells in rows:
        lines += _row(columns, cells, indent)
    return lines


def _row(columns: Sequence[Column], cells: Sequence[str], indent: str) -> list[str]:
    wrapped = [
        textwrap.wrap(cell, column.width, break_on_hyphens=False) or [""]
        for column, cell in zip(columns, cells, strict=True)
    ]
    return [
        (indent + _GAP.join(_align(c, part) for c, part in zip(columns, parts, strict=True))).rstrip()
        for parts in zip_longest(*wrapped, fillvalue="")
    ]


def _align(column: Column, text: str) -> str:
    return text.rjust(column.width) if column.is_number else text.ljust(column.width)
