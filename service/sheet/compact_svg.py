"""Drawings of the plotting library in fewer bytes and nodes: nothing that shows is lost."""

from __future__ import annotations

import re

_UNSEEN = re.compile(r"<metadata>.*?</metadata>", re.DOTALL)
_TAG = re.compile(r"<[^>]+>")
_BETWEEN_TAGS = re.compile(r">\s+<")
_SPACE = re.compile(r"\s+")
_LONG_NUMBER = re.compile(r"-?\d+\.\d{2,}")
_LETTER_SPACE = re.compile(r" ?([MLCQZz]) ?")
_PATH = re.compile(r'(?<= d=")[^"]+')
_REPEATED_POINT = re.compile(r"L([^A-Za-z]+)(?=L\1(?:L|z|$))")
#: What says nothing: no turn, no offset of dashes, space after the marks of a style.
_IDLE = re.compile(r' transform="rotate\(-?0 [^"]*\)"|stroke-dashoffset: 0; |(?<=[:;]) ')
_GROUP = re.compile(r"<(/?)g\b([^>]*)>")


def compact_svg(svg: str) -> str:
    """Without metadata, bare groups, ids that nothing refers to and space; coordinates in hundredths of a point."""
    written = _TAG.sub(lambda tag: _compact_tag(tag[0]), _UNSEEN.sub("", svg))
    return _without_bare_groups(_without_idle_ids(_BETWEEN_TAGS.sub("><", written).strip()))


def _compact_tag(tag: str) -> str:
    short = _LONG_NUMBER.sub(lambda number: f"{float(number[0]):.2f}".rstrip("0").rstrip("."), _SPACE.sub(" ", tag))
    return _PATH.sub(lambda path: _compact_path(path[0]), _IDLE.sub("", short))


def _compact_path(path: str) -> str:
    """Letters set the points apart; a point that is drawn to twice in a row stands once."""
    return _REPEATED_POINT.sub("", _LETTER_SPACE.sub(r"\1", path)).strip()


def _without_idle_ids(svg: str) -> str:
    """Ids that nothing refers to would stand twice in a page with two charts."""
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', svg))
    return re.sub(r' id="([^"]+)"', lambda found: found[0] if found[1] in used else "", svg)


def _without_bare_groups(svg: str) -> str:
    """A group without attributes changes nothing of what it holds."""
    are_bare: list[bool] = []

    def keep(found: re.Match) -> str:
        if not found[1]:
            are_bare.append(not found[2])
            return "" if are_bare[-1] else found[0]
        return "" if are_bare.pop() else found[0]

    return _GROUP.sub(keep, svg)
