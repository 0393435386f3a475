"""What is refused by name: other diseases of the skin, and skin that is not cut from the patient."""

from enum import StrEnum


class OutOfScope(StrEnum):
    """A finding code that stands against any plan."""

    FROSTBITE = "out-of-scope-frostbite"
    TOXIC_EPIDERMAL_NECROLYSIS = "out-of-scope-toxic-epidermal-necrolysis"
    CULTURED_CELLS = "out-of-scope-cultured-cells"


COMFORT_CARE = "comfort-care"
#: Finding codes for which there is no plan on purpose: the answer says why, and no more.
REFUSALS = frozenset({COMFORT_CARE, *OutOfScope})
