"""What the ear hands on: strokes, the grid they are heard against, and what the sound was like.

Every time is in seconds of the take's own clock: 0 is the first sample after decoder
priming. Levels are in decibels relative within one take.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Background",
    "CountGrid",
    "GridSource",
    "Hand",
    "Heard",
    "ListenRequest",
    "Quality",
    "Strokes",
]

FloatArray = NDArray[np.float64]
GridSource = Literal["click", "told", "strokes"]
Hand = Literal["left", "right", "alternating"]


@dataclass(frozen=True)
class ListenRequest:
    """What the ear is told before it listens.

    Attributes
    ----------
    tempo_bpm : counts a minute of the click, or None to be estimated from the take
    places_per_count : places of the grid in a count (4 for sixteenth notes)
    hand : whose strokes, or None if not told
    counts_planned : counts in the round, or None: the whole minute, as far as it was recorded
    first_count_s : time of the first place of count 1, or None to be found
    """

    tempo_bpm: float | None
    places_per_count: int
    hand: Hand | None
    counts_planned: int | None
    first_count_s: float | None


@dataclass(frozen=True)
class Strokes:
    """Strokes in order of time.

    Attributes
    ----------
    time_s : float array, shape (n,), strictly increasing
    level_db : float array, shape (n,), relative within the take
    confidence : float array, shape (n,), in [0, 1]: chance that this is a stroke
    timbre_db : float array, shape (n, bands), level of each band around the stroke's own mean
    """

    time_s: FloatArray
    level_db: FloatArray
    confidence: FloatArray
    timbre_db: FloatArray

    def __len__(self) -> int:
        """Return the number of strokes."""
        return int(self.time_s.size)

    def some(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> "Strokes":
        """Strokes by their index, or where ``which`` is True."""
        return Strokes(
            self.time_s[which],
            self.level_db[which],
            self.confidence[which],
            self.timbre_db[which],
        )


@dataclass(frozen=True)
class CountGrid:
    """Where the counts lie in the take's own clock.

    Attributes
    ----------
    first_count_s : time of place 0 of count 1
    count_period_s : length of a count, clock difference included
    counts_offered : counts that the round offered to the hand
    places_per_count : places in a count
    source : where the grid came from
    confidence : in [0, 1], chance that count 1 is where it is said to be
    """

    first_count_s: float
    count_period_s: float
    counts_offered: int
    places_per_count: int
    source: GridSource
    confidence: float

    @property
    def place_s(self) -> float:
        """Length of a place in seconds."""
        return self.count_period_s / self.places_per_count

    @property
    def tempo_bpm(self) -> float:
        """Counts a minute, by the take's own clock."""
        return 60.0 / self.count_period_s

    def place_times_s(self) -> FloatArray:
        """Times of all places, shape (counts_offered * places_per_count,)."""
        places = np.arange(self.counts_offered * self.places_per_count, dtype=np.float64)
        return self.first_count_s + places * self.place_s


@dataclass(frozen=True)
class Quality:
    """What the recording was like.

    Attributes
    ----------
    duration_s : length of the take
    sample_rate_hz : rate of the recording, or None for MIDI
    noise_floor_db, stroke_level_db, click_level_db : dB relative to full scale, or None where
        unknown (click: where none was heard)
    clipped_share : share of strokes that touch full scale
    notes : sentences about what could not be known
    assumed : sentences about what was assumed
    refusal : the sentence that says why the take cannot be judged, or None
    """

    duration_s: float
    sample_rate_hz: int | None
    noise_floor_db: float | None
    stroke_level_db: float | None
    click_level_db: float | None
    clipped_share: float
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    refusal: str | None


@dataclass(frozen=True)
class Background:
    """What sounds beside the strokes.

    Attributes
    ----------
    level_db : float array, shape (moments, bands), relative to full scale
    hop_s : time from moment to moment, the first at half of it
    """

    level_db: FloatArray
    hop_s: float

    def at(self, time_s: FloatArray) -> FloatArray:
        """Levels at some times, shape (times, bands)."""
        moment = np.floor(time_s / self.hop_s).astype(np.int64)
        return self.level_db[np.clip(moment, 0, self.level_db.shape[0] - 1)]


@dataclass(frozen=True)
class Heard:
    """All that the ear says of a take.

    Attributes
    ----------
    strokes : what was struck
    grid : None where nobody plays or nothing is found
    quality : what the recording was like
    background : what sounds beside the strokes, None where nothing can hide them (MIDI)
    """

    strokes: Strokes
    grid: CountGrid | None
    quality: Quality
    background: Background | None
