"""The samples, changed in a few places, in their structure or in their bytes."""

from __future__ import annotations

import copy
from functools import lru_cache
from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from service.fhir.json_text import dump
from tests.builders import loaded
from tests.conftest import SAMPLES

NAMES = sorted(path.stem for path in SAMPLES.glob("*.json"))
TEXTS = ["", "final", "completed", "2026-03-03", "2026-03-03T10:00:00+01:00", "%", "kg", "Patient/x", "#x",
         "urn:uuid:1", "thigh", "left", "http://unitsofmeasure.org", "\x00", "\ud83d\ude00"]
SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-10, 10**12), st.sampled_from(TEXTS), st.text(max_size=8),
    st.decimals(allow_nan=False, allow_infinity=False, places=2, min_value=-10**6, max_value=10**6))
NODES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(
        st.sampled_from(["value", "coding", "code", "reference", "extension", "resourceType"]), inner, max_size=2),
    max_leaves=4)


@lru_cache
def sample(name: str) -> dict:
    return loaded((SAMPLES / f"{name}.json").read_bytes())


def places_in(node: Any, path: tuple = ()) -> list[tuple]:
    members = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [place for key, member in members for place in [(*path, key), *places_in(member, (*path, key))]]


@lru_cache
def places_of(name: str) -> list[tuple]:
    return places_in(sample(name))


def find(node: Any, path: tuple) -> Any:
    """What stands at a path; ``None`` when an earlier change took it away."""
    for key in path:
        try:
            node = node[key]
        except (KeyError, IndexError, TypeError):
            return None
    return node


def change(draw: DrawFn, request: dict, name: str) -> None:
    """Remove, replace, repeat, or move one node."""
    path = draw(st.sampled_from(places_of(name)))
    holder, key = find(request, path[:-1]), path[-1]
    if not isinstance(holder, dict | list) or find(holder, (key,)) is None:
        return
    how = draw(st.sampled_from(["remove", "replace", "repeat", "move"]))
    if how == "remove":
        del holder[key]
    elif how == "replace":
        holder[key] = draw(NODES)
    elif how == "repeat":
        holder[key] = [holder[key], copy.deepcopy(holder[key])]
    else:
        other = find(request, draw(st.sampled_from(places_of(name))))
        holder[key] = copy.deepcopy(other)


@st.composite
def changed_samples(draw: DrawFn) -> bytes:
    """A sample with one to four nodes changed."""
    name = draw(st.sampled_from(NAMES))
    request = copy.deepcopy(sample(name))
    for _ in range(draw(st.integers(1, 4))):
        change(draw, request, name)
    try:
        return dump(request)
    except (TypeError, ValueError):  # a lone surrogate or a circle: no JSON
        return b"{"


@st.composite
def changed_bytes(draw: DrawFn) -> bytes:
    """A sample with a few bytes replaced, cut out or cut off."""
    body = bytearray((SAMPLES / f"{draw(st.sampled_from(NAMES))}.json").read_bytes())
    for _ in range(draw(st.integers(1, 3))):
        start = draw(st.integers(0, len(body) - 1))
        end = min(len(body), start + draw(st.integers(0, 20)))
        body[start:end] = draw(st.binary(max_size=8))
        if not body:
            break
    return bytes(body[:draw(st.integers(0, len(body)))] if draw(st.integers(0, 9)) == 0 else body)
