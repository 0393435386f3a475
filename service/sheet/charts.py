"""Charts of the course as SVG: what happens when, and how much donor skin is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from io import StringIO
from typing import TYPE_CHECKING

from service.sheet.compact_svg import compact_svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_INK, _WOUND, _DONOR = "#222", "#8c4a2f", "#1f4e79"
_STYLE = {
    "svg.fonttype": "none",  # text stays text: searchable, and read aloud
    "font.family": "sans-serif", "font.sans-serif": ["DejaVu Sans"], "font.size": 7,
    "hatch.linewidth": 0.6, "axes.linewidth": 0.5,
    "path.simplify": False,
}
#: Share of the width before the days: enough for the longest title of a row.
_LEAST_LEFT, _LEFT_A_LETTER = 0.19, 0.0085
_ROW_INCHES, _FRAME_INCHES, _WIDE_INCHES = 0.2, 0.45, 7.2


@dataclass(frozen=True)
class Dot:
    """One event of a row, or an event with its interval. [days]"""

    day: int
    label: str = ""
    low_day: int | None = None
    high_day: int | None = None


@dataclass(frozen=True)
class TimelineRow:
    """Events of one kind, and stretches of days that last."""

    title: str
    dots: tuple[Dot, ...] = ()
    stretches: tuple[tuple[int, int], ...] = ()
    is_donor: bool = False


@dataclass(frozen=True)
class ReserveRow:
    """One donor site: usable and healing skin from each day on, and what each session takes. [cm²]"""

    title: str
    days: tuple[int, ...]
    usable_cm2: tuple[float, ...]
    healing_cm2: tuple[float, ...]
    taken: tuple[tuple[int, str], ...]  # day, and the area in words


@dataclass(frozen=True)
class Chart:
    """A drawing as SVG, and its height for a width of 1."""

    svg: str
    aspect: float


@dataclass(frozen=True)
class DayAxis:
    """The days of a chart and the dates that stand below them."""

    first: int
    last: int
    ticks: tuple[tuple[int, str], ...]
    sessions: tuple[int, ...]  # days of sessions, drawn through


def draw_timeline(axis: DayAxis, rows: Sequence[TimelineRow], *, title: str) -> Chart:
    """Sessions, cover, reading, removal, donor healing and closure, a row each, as SVG."""
    figure, axes = _start(axis, [row.title for row in rows])
    for height, row in enumerate(rows):
        colour = _DONOR if row.is_donor else _WOUND
        for first, last in dict.fromkeys(row.stretches):  # wounds alike have the same days
            axes.barh(height, max(last - first, 0.6), left=first, height=0.5, color="white", edgecolor=colour,
                      hatch="///" if row.is_donor else "|||", linewidth=0.6)
        for dot in dict.fromkeys(row.dots):
            _draw_dot(axes, height, dot, colour)
    return _finish(figure, title)


def _draw_dot(axes: Axes, height: int, dot: Dot, colour: str) -> None:
    if dot.low_day is not None and dot.high_day is not None:
        axes.plot([dot.low_day, dot.high_day], [height, height], color=colour, linewidth=1, marker="|", markersize=6)
    axes.plot([dot.day], [height], marker="o" if not dot.label else "s", markersize=3 if not dot.label else 9,
              color=colour, linestyle="none")
    if dot.label:
        axes.text(dot.day, height, dot.label, color="white", ha="center", va="center", fontsize=6, fontweight="bold")


def draw_reserve(axis: DayAxis, rows: Sequence[ReserveRow], *, title: str) -> Chart:
    """Usable (filled) and healing (hatched) skin of each donor site over time, as SVG; the tallest bar is full."""
    figure, axes = _start(axis, [row.title for row in rows])
    for height, row in enumerate(rows):
        size = max((u + h for u, h in zip(row.usable_cm2, row.healing_cm2, strict=True)), default=0.0)
        if size:
            _draw_site(axes, axis, height, row, size)
        for day, words in row.taken:
            axes.text(day + 0.15, height + 0.02, words, fontsize=5.5, va="center", color=_INK, fontweight="bold",
                      bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4})
    return _finish(figure, title)


def _draw_site(axes: Axes, axis: DayAxis, height: int, row: ReserveRow, size: float) -> None:
    """Steps: a state holds until the next entry. Rows grow downwards, so heights are subtracted."""
    full = 0.8
    days = [*row.days, max(axis.last, row.days[-1])]
    floor = height + full / 2
    usable = [floor - full * u / size for u in (*row.usable_cm2, row.usable_cm2[-1])]
    both = [
        top - full * healing / size
        for top, healing in zip(usable, (*row.healing_cm2, row.healing_cm2[-1]), strict=True)]
    base = [floor] * len(days)
    axes.fill_between(days, base, usable, step="post", facecolor="#9db9d6", edgecolor=_DONOR, linewidth=0.4)
    axes.fill_between(days, usable, both, step="post", facecolor="white", edgecolor=_DONOR, hatch="////", linewidth=0.3)


def _start(axis: DayAxis, titles: Sequence[str]) -> tuple[Figure, Axes]:
    import matplotlib as mpl  # slow to load, and most answers draw nothing
    from matplotlib.figure import Figure

    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(_WIDE_INCHES, _FRAME_INCHES + _ROW_INCHES * len(titles)))
        left = max(_LEAST_LEFT, max(map(len, titles)) * _LEFT_A_LETTER)
        axes = figure.add_axes((left, 0.38 / figure.get_figheight(), 0.99 - left, 1 - 0.45 / figure.get_figheight()))
        axes.set_ylim(len(titles) - 0.5, -0.5)
        axes.set_xlim(axis.first - 0.7, axis.last + 1)
        axes.set_yticks(range(len(titles)), titles)
        axes.set_xticks([day for day, _ in axis.ticks], [words for _, words in axis.ticks], fontsize=6)
        axes.tick_params(length=2, width=0.5)
        axes.spines[["top", "right"]].set_visible(False)
        for day in axis.sessions:
            axes.axvline(day, color="#999", linewidth=0.4, linestyle=":", zorder=0)
        return figure, axes


def _finish(figure: Figure, title: str) -> Chart:
    """The drawing alone, without XML head, with a title for who cannot see it."""
    import matplotlib as mpl

    with mpl.rc_context(_STYLE | {"svg.hashsalt": title}):  # the same chart has the same bytes, no two share an id
        written = StringIO()
        figure.savefig(written, format="svg", metadata={"Date": None, "Creator": None, "Title": title})
    text = written.getvalue()
    opening = f'<svg class="chart" role="img" aria-label="{escape(title, quote=True)}" '
    drawn = compact_svg(text[text.index("<svg"):]).replace("<svg ", opening, 1)
    return Chart(drawn, figure.get_figheight() / figure.get_figwidth())
