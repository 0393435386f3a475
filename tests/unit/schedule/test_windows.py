"""Windows: what lies before today falls away, what is overdue becomes today."""

import pytest

from service.evidence.library import load_evidence
from service.schedule.windows import Window, is_past, keep_from_today, read_window


def test_reads_the_range_of_a_row():
    assert read_window(load_evidence().row("carrier-days")) == Window(6, 7, 14)


def test_a_fixed_row_is_a_window_of_one_day():
    assert read_window(load_evidence().row("release-agent-lead-days")) == Window(1, 1, 1)


@pytest.mark.parametrize(("window", "kept", "past"), [
    (Window(-5, -3, -1), Window(0, 0, 0), True),
    (Window(-5, -3, 0), Window(0, 0, 0), False),
    (Window(-2, 1, 4), Window(0, 1, 4), False),
    (Window(2, 3, 4), Window(2, 3, 4), False),
])
def test_keeps_from_today(window, kept, past):
    assert keep_from_today(window) == kept
    assert is_past(window) is past


def test_refuses_a_day_outside():
    with pytest.raises(ValueError, match="window"):
        Window(3, 2, 4)
