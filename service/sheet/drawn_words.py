"""Words of drawings for the PDF writer, which sets the text of an SVG letter by letter.

That tears joined letters apart and turns their order round, so that words of a script that runs from right to left are
outlines on paper. On a screen they stay text.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from html import unescape

_TEXT = re.compile(r"<text\b([^>]*)>([^<]*)</text>")
_PLACE = re.compile(r'\b([xy])="([-\d.]+)"')
_SIZE = re.compile(r'font-size(?:="|:\s*)([\d.]+)')
_ANCHOR = re.compile(r'text-anchor(?:="|:\s*)(start|middle|end)')
#: Share of the width that lies before the anchor of a text.
_BEFORE = {"start": 0.0, "middle": 0.5, "end": 1.0}
_CLOSE = 79
_COMMANDS = {1: "M", 2: "L", 3: "Q", 4: "C", _CLOSE: "Z"}  # codes of matplotlib.path.Path


def outline_joined_letters(html: str) -> str:
    """The page with every word of a drawing that runs from right to left as an outline at the same place."""
    return _TEXT.sub(lambda found: _draw(found) if runs_right_to_left(found[2]) else found[0], html)


def runs_right_to_left(text: str) -> bool:
    """Whether any letter is of a script that runs from right to left."""
    return any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)


def _draw(found: re.Match) -> str:
    at = {axis: float(value) for axis, value in _PLACE.findall(found[1])}
    path, width = _outline(unescape(found[2]), float(_SIZE.search(found[1])[1]))
    anchor = _ANCHOR.search(found[1])
    left = at["x"] - width * _BEFORE[anchor[1] if anchor else "start"]
    return f'<path transform="translate({left:.2f} {at["y"]:.2f}) scale(1 -1)" d="{path}"/>'


@lru_cache
def _outline(text: str, size: float) -> tuple[str, float]:
    """The shaped word as path data, and its width."""
    from matplotlib.textpath import TextPath  # slow to load, and few pages need it

    path = TextPath((0, 0), text, size=size)
    drawn = "".join(
        _COMMANDS[code] + ("" if code == _CLOSE else " ".join(f"{value:.1f}" for value in points))
        for points, code in path.iter_segments())
    return drawn, float(path.get_extents().x1)
