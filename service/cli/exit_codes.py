"""How a command may end."""

ANSWERED = 0
DIFFERS = 1
USAGE = 2
DATA_REQUIRED = 3
REFUSED = 4
FAULT = 5


class UsageFault(Exception):
    """The command cannot be carried out as it was given; the text says why."""
