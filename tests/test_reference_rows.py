"""The tally of the reference table, which the end of the whole suite holds against what its tests asked for."""

from __future__ import annotations

import published
from kit.tally import WHOLE, complaint, not_used


def test_a_row_that_nobody_asks_for_is_told() -> None:
    """All rows asked for but one: it is named, unless only a part of the suite ran or the row has its reason."""
    needed = set(published.rows()) - set(not_used())
    missing, listed = min(needed), min(not_used())
    assert complaint(WHOLE, needed) == ""
    assert f"['{missing}']" in complaint(WHOLE, needed - {missing})
    assert complaint({"test_sunlight.py"}, needed - {missing}) == ""
    assert complaint(WHOLE, needed - {listed}) == ""
    assert "0 rows" in complaint(WHOLE, set())
