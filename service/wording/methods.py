"""Graft methods and skin classes in words."""

from __future__ import annotations

from service.domain.graft import GraftKind, GraftMethod, SkinClass
from service.wording.languages import ENGLISH, Words

_KIND_WORDS = {GraftKind.SHEET: "sheet", GraftKind.MESHED: "meshed", GraftKind.ISLAND: "islands"}


def ratio_in_words(method: GraftMethod) -> str:
    """Claimed expansion as it is spoken: ``1:1.5``."""
    return f"1:{method.claimed_expansion_ratio}"


def method_in_words(method: GraftMethod, _: Words = ENGLISH) -> str:
    """``sheet``, ``meshed 1:1.5``, ``islands 1:4``."""
    words = _KIND_WORDS[method.kind]
    return _(words if method.kind is GraftKind.SHEET else f"{words} {ratio_in_words(method)}")


def skin_class_in_words(skin_class: SkinClass, _: Words = ENGLISH) -> str:
    """``thin, above the clavicle`` or ``thin``."""
    thickness = _(str(skin_class.thickness))
    return _.series((thickness, _("above the clavicle"))) if skin_class.above_clavicle else thickness
