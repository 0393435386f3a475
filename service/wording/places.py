"""Places of the body in words, from the keys that identifiers use."""

from __future__ import annotations

from functools import lru_cache

from service.domain.body_region import Place, Region, all_places
from service.domain.burn_wound import Depth
from service.wording.languages import ENGLISH, N_, Words

_REGION_WORDS = {
    Region.ANTERIOR_TRUNK: "front of trunk",
    Region.POSTERIOR_TRUNK: "back of trunk",
}
_PART_WORDS = {
    "joint": N_("over joint"),
    "beside-joint": N_("beside the joint"),
    **{depth.value: depth.value.replace("-", " ") for depth in Depth},
}
_NUMBERED = ("graft", "parcel")  # what follows them counts and is not a place


def region_in_words(place: Place) -> str:
    """Region and side, both surfaces together: ``left thigh``, ``front of trunk``."""
    region = _REGION_WORDS.get(place.region, place.region.replace("-", " "))
    return f"{place.side} {region}" if place.side else region


def surface_in_words(place: Place) -> str:
    """Region, side and surface: ``left thigh, front``; no surface where there is only one."""
    words = region_in_words(place)
    return f"{words}, {place.surface}" if len(place.facts.surfaces) > 1 else words


@lru_cache(maxsize=1)
def _words_by_key() -> dict[str, str]:
    words = {place.region_key: region_in_words(place) for place in all_places()}
    return words | {place.key: surface_in_words(place) for place in all_places()}


def place_in_words(key: str, _: Words = ENGLISH) -> str:
    """A place, region or wound key in words; other text comes back with spaces for hyphens.

    ``left-thigh-front:full-thickness:joint`` is ``left thigh, front, full thickness, over
    joint``; graft and parcel numbers are left out.
    """
    head, *parts = key.split(":")
    numbered = next((i for i, part in enumerate(parts) if part in _NUMBERED), len(parts))
    words = [_words_by_key().get(head, head.replace("-", " "))]
    words += [_PART_WORDS.get(part, part.replace("-", " ")) for part in parts[:numbered]]
    return _.series(map(_, words))


def listed_in_language(text: str, _: Words) -> str:
    """Places or methods that an act names, in English words and joined by semicolons, in another language."""
    return "; ".join(_(place) for place in text.split("; ") if place)
