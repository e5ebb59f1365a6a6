"""What must be played: grids, meters, tempos."""

from loosehand.parts.grid import (
    SUBDIVISIONS,
    Meter,
    Place,
    TempoChange,
    TempoMap,
    places_of_bar,
    steady_tempo,
    strokes_per_second,
    to_float_s,
)

__all__ = [
    "SUBDIVISIONS",
    "Meter",
    "Place",
    "TempoChange",
    "TempoMap",
    "places_of_bar",
    "steady_tempo",
    "strokes_per_second",
    "to_float_s",
]
