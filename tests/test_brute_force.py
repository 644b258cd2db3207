"""Days of the event-driven kernel against the same days integrated second by second; tests/long has the years."""

from __future__ import annotations

from kit.second_by_second import PAIRS, agree, both_ways

JANUARY, MARCH, APRIL = (0, 8), (70, 8), (82, 8)
SPANS = {
    "chatters more": MARCH,
    "frost, chatters": JANUARY,
    "frost, emptied": MARCH,
    "frost, emptied, tracker": APRIL,
}


def test_some_days_are_those_of_the_second_by_second_run() -> None:
    """Eight days of four pairs that chatter, three of them in frost; each stops the pump by voltage a hundred times."""
    for name, span in SPANS.items():
        kernel, hard = both_ways(PAIRS[name], span)
        agree(kernel, hard, 100.0)
        assert hard.disconnects > 100, name
