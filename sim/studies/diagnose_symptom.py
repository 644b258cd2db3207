"""What is complained of, by its names, and what whoever looks for a fault must know."""

from typing import Literal

from sim.units import Quantity, sentence

Symptom = Literal["clicks", "stops-early", "short-days", "never-restarts", "weak-flow"]
CAUTIONS = (
    "Electricity and water: switch the pump off before reaching into the water; the battery can start a fire, so leave "
    "its fuse in and lay no tool across its posts.",
    sentence(
        "Never charge lithium below the maker's lowest cell temperature, typically {cold}, and never bypass its "
        "protection.",
        cold=Quantity(0.0, "c", "g"),
    ),
)
