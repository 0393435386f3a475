"""The body map: front and back, each place filled by what is done to it, readable without colour."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise
from urllib.parse import quote
from xml.sax.saxutils import escape

from service.domain.body_region import Place, Surface
from service.sheet.outline import HEIGHT, Polygon, middle_of, outline_of

_WIDTH, _TALL = 240, 222
_CENTRE = {Surface.FRONT: 60, Surface.BACK: 180}
_TOP = 12
_LINE = 'stroke="#333" stroke-width=".7" stroke-linejoin="round"'
#: Labels stand on a white rim, drawn below them, so that they can be read on every pattern.
_RIM = 'stroke="#fff" stroke-width="2.4" stroke-linejoin="round" fill="#fff"'
_LABEL_STEP = 7
_LABEL_LINE = re.compile(r"\d+(?:\+\d+)?\+?")
_LABELS = 'font-size="7" font-weight="bold" text-anchor="middle"'


class Fill(StrEnum):
    """What a place is filled with: a pattern and a colour each."""

    SHEET = "sheet"
    MESHED = "meshed"
    ISLAND = "island"
    WAITING = "waiting"
    HARVESTED = "harvested"
    HEALING = "healing"
    RESERVE = "reserve"


#: Ink and paper of each pattern; a sheet is one colour; contrast holds in grey too.
_WOUND, _WOUND_PALE, _DONOR, _DONOR_PALE = "#8c4a2f", "#f7e3d8", "#1f4e79", "#dbe7f3"
_PATTERNS = {
    Fill.MESHED: (
        5, f'<rect width="5" height="5" fill="{_WOUND_PALE}"/><path d="M0 0L5 5M5 0L0 5" stroke="{_WOUND}"/>'),
    Fill.ISLAND: (
        5, f'<rect width="5" height="5" fill="{_WOUND_PALE}"/>'
        f'<rect x="1" y="1" width="2.4" height="2.4" fill="{_WOUND}"/>'),
    Fill.WAITING: (
        6, f'<rect width="6" height="6" fill="#fff"/><path d="M0 6L6 0" stroke="{_WOUND}" stroke-width=".8"/>'),
    Fill.HARVESTED: (
        4, f'<rect width="4" height="4" fill="{_DONOR_PALE}"/><path d="M1 0V4" stroke="{_DONOR}" stroke-width="1.6"/>'),
    Fill.HEALING: (5, f'<rect width="5" height="5" fill="#fff"/><path d="M0 2H5" stroke="{_DONOR}"/>'),
    Fill.RESERVE: (6, f'<rect width="6" height="6" fill="#fff"/><circle cx="2" cy="2" r=".7" fill="{_DONOR}"/>'),
}


@dataclass(frozen=True)
class Mark:
    """One place of the map: its fill, its short label in the drawing, and its words for who cannot see it."""

    place: Place
    fill: Fill
    label: str
    words: str


def draw_body_map(
    age_years: Decimal, marks: Sequence[Mark], *, key: str, title: str, views: Sequence[str], sides: Sequence[str],
) -> str:
    """The map as SVG with a text alternative.

    Parameters
    ----------
    age_years : Decimal
        Decides the proportions of the figure. [years]
    marks : sequence of Mark
        At most one for each place; other places stay empty.
    key : str
        Makes the ids of this drawing unique in its page.
    title : str
        What the map shows, for who cannot see it.
    views, sides : sequences of str
        The words for front and back, and for the patient's right and left.
    """
    moved = {place: _move(place, polygon) for place, polygon in outline_of(age_years).items()}
    by_place = {mark.place: mark for mark in marks}
    words = ". ".join(mark.words for mark in marks)
    labels = "".join(_draw_label(mark, moved[mark.place]) for mark in marks)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="body-map" viewBox="0 0 {_WIDTH} {_TALL}" role="img" '
        f'aria-labelledby="{key}-title {key}-words">',
        f'<title id="{key}-title">{escape(title)}</title><desc id="{key}-words">{escape(words)}</desc>',
        _patterns(key, {mark.fill for mark in marks}),
        *_captions(views, sides),
        _draw_filled("#fff", (polygon for place, polygon in moved.items() if place not in by_place)),
        *(_draw_filled(_ink(key, fill), (moved[mark.place] for mark in marks if mark.fill is fill))
          for fill in dict.fromkeys(mark.fill for mark in marks)),
        f"<g {_LABELS} {_RIM} aria-hidden=\"true\">{labels}</g><g {_LABELS}>{labels}</g></svg>",
    ]
    return "".join(parts)


def swatch_style() -> str:
    """Style rules for the legend, one for each pattern, on paper too; the words of a pattern stand beside it."""
    return "".join(
        f'.swatch-{fill} {{ background: url("data:image/svg+xml,{quote(_draw_swatch(fill))}") 0 0/100% 100%; '
        "print-color-adjust: exact }\n" for fill in Fill)


def _draw_swatch(fill: Fill) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="18" height="10" viewBox="0 0 18 10">'
        f'{_patterns("of", {fill})}<rect x=".5" y=".5" width="17" height="9" fill="{_ink("of", fill)}" stroke="#333" '
        'stroke-width=".7"/></svg>'
    )


def _ink(key: str, fill: Fill) -> str:
    """A pattern, or the one colour that needs none: tiles of it would show their seams on paper."""
    return f"url(#{key}-{fill})" if fill in _PATTERNS else _WOUND


def _patterns(key: str, fills: Iterable[Fill]) -> str:
    defined = "".join(
        f'<pattern id="{key}-{fill}" width="{size}" height="{size}" patternUnits="userSpaceOnUse">{drawn}</pattern>'
        for fill, (size, drawn) in _PATTERNS.items() if fill in set(fills)
    )
    return f"<defs>{defined}</defs>"


def _captions(views: Sequence[str], sides: Sequence[str]) -> list[str]:
    """Front and back above, the patient's sides beside the hands: words, never a letter alone."""
    (front, back), (right, left) = views, sides
    at = _CENTRE[Surface.FRONT], _CENTRE[Surface.BACK]
    low = _TOP + HEIGHT + 8
    placed = (
        (at[0], 7, front), (at[1], 7, back), (at[0] - 34, low, right), (at[0] + 34, low, left),
        (at[1] - 34, low, left), (at[1] + 34, low, right))
    return [f'<text x="{x}" y="{y}" text-anchor="middle" font-size="7">{escape(word)}</text>' for x, y, word in placed]


def _move(place: Place, polygon: Polygon) -> Polygon:
    return tuple((x + _CENTRE[place.surface], y + _TOP) for x, y in polygon)


def _path(polygon: Polygon) -> str:
    """Closed, in steps from point to point, which are short to write; tenths, without a rounding that adds up."""
    tenths = [(round(x * 10), round(y * 10)) for x, y in polygon]
    (left, top), *steps = [tenths[0], *((x - was_x, y - was_y) for (was_x, was_y), (x, y) in pairwise(tenths))]
    drawn = f"M{_tenths(left)} {_tenths(top)}l{' '.join(f'{_tenths(x)} {_tenths(y)}' for x, y in steps)}z"
    return drawn.replace(" -", "-")  # a sign sets numbers apart too


def _tenths(number: int) -> str:
    """``45`` as ``4.5``, ``40`` as ``4``, ``-4`` as ``-.4``."""
    sign, (whole, tenth) = "-" if number < 0 else "", divmod(abs(number), 10)
    return f"{sign}{whole or ''}.{tenth}" if tenth else f"{sign}{whole}"


def _draw_filled(ink: str, polygons: Iterable[Polygon]) -> str:
    """All places that are filled alike, as one path."""
    return f'<path d="{"".join(map(_path, polygons))}" fill="{ink}" {_LINE}/>'


def _draw_label(mark: Mark, polygon: Polygon) -> str:
    """The label at the middle of its place; a long one in lines of two sessions, which fit between their neighbours."""
    x, y = middle_of(polygon)
    lines = _LABEL_LINE.findall(mark.label) or [mark.label]
    top = y + 2.4 - (len(lines) - 1) * _LABEL_STEP / 2
    return "".join(
        f'<text x="{x:.0f}" y="{round(top + number * _LABEL_STEP, 1):g}">{escape(line)}</text>'
        for number, line in enumerate(lines))
