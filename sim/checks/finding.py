"""What a broken design rule says."""

from dataclasses import dataclass

OWN = "our own default"
LEVELS = ("warning", "caution", "note")


@dataclass(frozen=True)
class Finding:
    """A rule that was broken: ``level`` is note, caution or warning."""

    id: str
    level: str
    message: str
    value: float
    limit: float
    source: str
