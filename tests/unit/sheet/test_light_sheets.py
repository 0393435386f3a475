"""Sheets are light, and what makes them light changes nothing that shows."""

import re
from decimal import Decimal
from io import StringIO

import pytest
from matplotlib.figure import Figure

from service.sheet.body_map import Fill, Mark, draw_body_map
from service.sheet.compact_svg import compact_svg
from service.sheet.outline import outline_of
from service.sheet.render import sheet_style, write_sheet_html
from service.wording.languages import languages
from tests.planned_samples import PLANNED, reply_to

MOST_BYTES = 300_000


@pytest.mark.parametrize("code, name", [
    ("en", "child-3-years-45-percent"), *((code, name) for code in ("en", "ar") for name in PLANNED)])
def test_every_sheet_is_below_300_kilobytes(name, code):
    reply = reply_to(name)
    assert len(write_sheet_html(reply.answer, reply.sha256, languages()[code]).encode()) < MOST_BYTES


def drawn_polygons(svg: str) -> list[list[tuple[float, float]]]:
    """Corners of each closed path, steps added up."""
    polygons = []
    for path in re.findall(r"M([^z]+)z", svg):
        start, steps = path.split("l")
        x, y = map(float, re.findall(r"-?[\d.]+", start))
        corners, numbers = [(x, y)], [float(step) for step in re.findall(r"-?[\d.]+", steps)]
        for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
            x, y = x + dx, y + dy
            corners.append((x, y))
        polygons.append(corners)
    return polygons


@pytest.mark.parametrize("age", [1, 30])
def test_outlines_keep_every_corner_within_half_a_tenth(age):
    outline = outline_of(Decimal(age))
    place = next(iter(outline))
    svg = draw_body_map(Decimal(age), [Mark(place, Fill.SHEET, "1", "words")], key="k", title="t",
                        views=("front", "back"), sides=("right", "left"))
    drawn = drawn_polygons(svg)
    assert len(drawn) == len(outline)
    for polygon, corners in zip([p for at, p in outline.items() if at != place] + [outline[place]], drawn, strict=True):
        moved = [(x - corners[0][0] + polygon[0][0], y - corners[0][1] + polygon[0][1]) for x, y in corners]
        assert all(abs(a - b) <= 0.11 for one, other in zip(moved, polygon, strict=True)
                   for a, b in zip(one, other, strict=True))


def test_each_pattern_has_a_rule_of_style_that_paper_keeps():
    rules = re.findall(r"\.swatch-(\w+) \{[^}]*data:image/svg\+xml[^}]*print-color-adjust: exact", sheet_style())
    assert rules == [str(fill) for fill in Fill]


def chart() -> str:
    figure = Figure(figsize=(3, 1))
    axes = figure.add_subplot()
    axes.fill_between([0, 1, 1, 1, 2], [1.23456, 2, 2, 2, 3], hatch="//")
    axes.plot([0, 2], [1, 2], marker="o")
    axes.set_title("30 % > 20 %")
    written = StringIO()
    figure.savefig(written, format="svg")
    text = written.getvalue()
    return text[text.index("<svg"):]


def test_a_compact_drawing_keeps_its_marks_and_words():
    plain, compact = chart(), compact_svg(chart())
    assert len(compact) < 0.7 * len(plain)
    for tag in ("path", "use", "clipPath", "pattern"):
        assert len(re.findall(rf"<{tag}\b", compact)) == len(re.findall(rf"<{tag}\b", plain)) > 0
    assert compact.count("<g") == compact.count("</g>") and "<g>" not in compact
    assert set(re.findall(r'(?:url\(#|href="#)([^)"]+)', compact)) == set(re.findall(r' id="([^"]+)"', compact))
    assert not re.search(r"\d\.\d{3}", compact)


def test_a_compact_path_goes_through_the_same_points():
    path = '<svg><path d="M 1.2345 2 \nL 3 4 \nL 3 4 \nL 5.1 -6.999 \nz\n"/></svg>'
    assert compact_svg(path) == '<svg><path d="M1.23 2L3 4L5.1 -7z"/></svg>'
