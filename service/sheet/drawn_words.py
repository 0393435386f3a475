"""Words inside a drawing. Those of a script that runs from right to left are drawn as outlines.

The PDF writer sets the text of an SVG letter by letter, which tears joined letters apart and turns their order round.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from html import escape

_CLOSE = 79
_COMMANDS = {1: "M", 2: "L", 3: "Q", 4: "C", _CLOSE: "Z"}  # codes of matplotlib.path.Path


def runs_right_to_left(text: str) -> bool:
    """Whether any letter is of a script that runs from right to left."""
    return any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)


def draw_word(text: str, x: float, y: float, size: float) -> str:
    """A word centred on ``x`` with its foot at ``y``, in units of the drawing."""
    if runs_right_to_left(text):
        path, width = _outline(text, size)
        return f'<path transform="translate({x - width / 2:.1f} {y:g}) scale(1 -1)" d="{path}"/>'
    return f'<text x="{x}" y="{y}" text-anchor="middle" font-size="{size:g}">{escape(text)}</text>'


@lru_cache
def _outline(text: str, size: float) -> tuple[str, float]:
    """The shaped word as path data, and its width."""
    from matplotlib.textpath import TextPath  # slow to load, and few pages need it

    path = TextPath((0, 0), text, size=size)
    drawn = "".join(
        _COMMANDS[code] + ("" if code == _CLOSE else " ".join(f"{value:.1f}" for value in points))
        for points, code in path.iter_segments(curves=True))
    return drawn, float(path.get_extents().x1)
