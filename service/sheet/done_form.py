"""What was noted on a theatre list, read from the fields of its form."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from service.domain.body_region import Place, all_places
from service.domain.done_session import DoneAct, DoneKind, DoneSession
from service.domain.graft import GraftMethod, methods_of_place
from service.sheet.typed_number import NumberFault, read_typed_number
from service.wording.languages import N_, Words
from service.wording.places import surface_in_words

#: After the name of a harvest field: its thickness in mm.
THICKNESS = ":mm"
_PLACES = {place.key: place for place in all_places()}
_UNKNOWN_FIELD = N_("The form has a field that is not known: load the page again.")
_WITHOUT_FIELD = {"nothing-noted": N_("Nothing was noted: enter what was done.")}
_FIELD_FAULTS = {
    "not-a-number": N_("this is not a number."),
    "grouped-thousands": N_("write the number without a mark between thousands, such as 1869."),
    "not-positive": N_("the number must be above 0."),
    "thickness-without-area": N_("a thickness needs an area."),
}


class DoneFault(ValueError):
    """A field that cannot be read: its name and a code of what is wrong, never what was entered.

    ``code``: ``field-unknown``, ``not-a-number``, ``grouped-thousands``, ``not-positive``,
    ``thickness-without-area`` or ``nothing-noted``.
    """

    def __init__(self, field: str, code: str) -> None:
        super().__init__(f"{field}: {code}")
        self.field = field
        self.code = code


def read_done_form(fields: Mapping[str, str], day: date) -> DoneSession:
    """The acts that were noted; an empty field is an act that was not done.

    Parameters
    ----------
    fields : mapping of str to str
        Areas in cm² by field name as ``theatre_list_page.done_fields`` gives them; the thickness of a harvest in mm
        under the same name with ``:mm`` behind it.
    day : date
        Day of the session as it was held.

    Raises ``DoneFault`` at the first field that cannot be read, and when no act was noted at all.
    """
    noted = {name: text.strip() for name, text in fields.items() if text.strip()}
    acts = tuple(_read_act(name, noted) for name in noted if not name.endswith(THICKNESS))
    for name in noted:
        if name.endswith(THICKNESS) and name.removesuffix(THICKNESS) not in noted:
            raise DoneFault(name, "thickness-without-area")
    if not acts:
        raise DoneFault("", "nothing-noted")
    return DoneSession(day, acts)


def _read_act(name: str, noted: Mapping[str, str]) -> DoneAct:
    kind, place, how = _read_name(name)
    thickness = noted.get(f"{name}{THICKNESS}") if kind is DoneKind.HARVEST else None
    return DoneAct(
        kind, place, _read_number(name, noted[name]),
        method=GraftMethod(how) if kind is DoneKind.PLACEMENT else None,
        thickness_mm=None if thickness is None else _read_number(f"{name}{THICKNESS}", thickness))


def _read_name(name: str) -> tuple[DoneKind, Place, str]:
    kind, place_key, how = (*name.split(":"), "", "")[:3]
    try:
        read = DoneKind(kind), _PLACES[place_key], how
        if read[0] is DoneKind.PLACEMENT and GraftMethod(how) not in _any_method(read[1]):
            raise ValueError(how)
    except (ValueError, KeyError):
        raise DoneFault(name, "field-unknown") from None
    return read


def _any_method(place: Place) -> frozenset[GraftMethod]:
    return methods_of_place(place, over_joint=False)


def _read_number(name: str, text: str) -> Decimal:
    """A positive number."""
    try:
        number = read_typed_number(text)
    except NumberFault as fault:
        raise DoneFault(name, fault.code) from None
    if number <= 0:
        raise DoneFault(name, "not-positive")
    return number


def act_words(_: Words) -> dict[DoneKind, str]:
    """Each act as the form and the theatre list name it."""
    return {
        DoneKind.EXCISION: _("Excise"), DoneKind.HARVEST: _("Take skin"), DoneKind.PLACEMENT: _("Graft"),
        DoneKind.COVER: _("Cover"),
    }


def word_done_fault(fault: DoneFault, _: Words) -> str:
    """What is wrong with which field, by act and place."""
    try:
        kind, place, how = _read_name(fault.field.removesuffix(THICKNESS))
    except DoneFault:
        return _(_WITHOUT_FIELD.get(fault.code, _UNKNOWN_FIELD))
    field = _.series((act_words(_)[kind], _(surface_in_words(place))))
    return f"{field}: {_(_FIELD_FAULTS[fault.code])}"
