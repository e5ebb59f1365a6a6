"""The reading of one take, and the object that is printed of it.

``to_json`` gives exactly the object described by ``reading.schema.json`` beside this module
(version 1; only additions may follow). Times are rounded to a microsecond, asynchronies to the
same, levels to a hundredth of a decibel. What cannot be known is null, with a sentence in
``quality.notes``; a number that is not finite is never printed.

Source: ours.
"""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.heard import CountGrid, Hand, Quality, Strokes
from loosehand.judge.evenness import Evenness, HandsEvenness, HandsGap, PlaceProfile
from loosehand.judge.technique import HandsTechnique, TechniqueHeard
from loosehand.judge.technique_json import figure_json, rounded, technique_json
from loosehand.judge.tiring import Tiring
from loosehand.judge.variability import TimingSplit

__all__ = ["ENDINGS", "SCHEMA", "Ending", "Reading", "StrokePlaces", "to_json"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Json = dict[str, Any]

SCHEMA = "loosehand.reading/1"

Ending = Literal[
    "held to the end",
    "lost the click",
    "ran ahead",
    "fell behind",
    "thinned out",
    "stopped",
    "stopped by choice",
    "recording ended",
    "not judged",
]

ENDINGS: tuple[Ending, ...] = (
    "held to the end",
    "lost the click",
    "ran ahead",
    "fell behind",
    "thinned out",
    "stopped",
    "stopped by choice",
    "recording ended",
    "not judged",
)

_NO_HANDS: Json = {"left": None, "right": None, "gap": None}


@dataclass(frozen=True)
class StrokePlaces:
    """Which place each stroke was matched to, and which hand made it.

    Attributes
    ----------
    place_index : int array, shape (n,), place from 0 over the whole take, -1 for a stroke that
        has no place
    asynchrony_s : float array, shape (n,), stroke - place, not read where there is no place
    hand : n words, None where the hand cannot be told
    """

    place_index: IntArray
    asynchrony_s: FloatArray
    hand: tuple[Literal["left", "right"] | None, ...]


@dataclass(frozen=True)
class Reading:
    """All that is measured of one take.

    Attributes
    ----------
    tempo_bpm : counts a minute, or None where it could not be found
    places_per_count : places in a count that were asked for
    hand : whose strokes, or None if not told
    grid : where the counts lie, or None where there is no grid
    strokes, places : what was heard, and where it belongs; equally many
    count_held : counts before the break, or None where the take was not judged
    last_locked_count : the last count with every place good, or None
    clean_counts : counts held without a slip, or None
    ended : how the hold ended
    confidence : chance that ``count_held`` is right, in [0, 1], or None
    evenness : evenness before the break, or None
    hands : the hands apart, or None unless the take is alternating
    technique : technique as heard, of each hand where the take is alternating, or None
    tiring : where the hand left its early range, or None
    quality : what the recording was like
    """

    tempo_bpm: float | None
    places_per_count: int
    hand: Hand | None
    grid: CountGrid | None
    strokes: Strokes
    places: StrokePlaces
    count_held: int | None
    last_locked_count: int | None
    clean_counts: int | None
    ended: Ending
    confidence: float | None
    evenness: Evenness | None
    hands: HandsEvenness | None
    technique: TechniqueHeard | HandsTechnique | None
    tiring: Tiring | None
    quality: Quality

    def __post_init__(self) -> None:
        """Stop at once where our own code hands on a reading that contradicts itself."""
        sizes = {
            len(self.strokes),
            self.places.place_index.size,
            self.places.asynchrony_s.size,
            len(self.places.hand),
        }
        assert len(sizes) == 1, f"strokes and their places differ in number: {sorted(sizes)}"
        assert self.ended in ENDINGS, f"unknown ending {self.ended!r}"
        assert (self.count_held is None) == (self.ended == "not judged"), (
            "count_held is None if and only if the take was not judged"
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """Every sentence about what could not be known, each once."""
        sentences = [*self.quality.notes]
        if self.quality.refusal is not None:
            sentences.append(self.quality.refusal)
        if self.evenness is not None:
            sentences.extend(_evenness_notes(self.evenness))
        if self.hands is not None:
            sentences.extend(self.hands.notes)
            sentences.extend(f"Left hand: {note}" for note in _evenness_notes(self.hands.left))
            sentences.extend(f"Right hand: {note}" for note in _evenness_notes(self.hands.right))
        if self.tiring is not None:
            sentences.extend(self.tiring.notes)
        return tuple(dict.fromkeys(sentences))

    def to_json(self) -> Json:
        """Return the object of ``reading.schema.json``: see `to_json`."""
        return to_json(self)


def to_json(reading: Reading) -> Json:
    """Return a reading as the object that is printed, ready for ``json.dumps``.

    Parameters
    ----------
    reading : the reading

    Returns
    -------
    object : dict of plain Python values; every number is finite

    Source
    ------
    Ours: docs/reading-json.md.
    """
    grid = reading.grid
    return {
        "schema": SCHEMA,
        "tempo_bpm": rounded(reading.tempo_bpm, 4),
        "places_per_count": reading.places_per_count,
        "hand": reading.hand,
        "first_count_s": None if grid is None else rounded(grid.first_count_s, 6),
        "grid_source": None if grid is None else grid.source,
        "counts_offered": None if grid is None else grid.counts_offered,
        "count_held": reading.count_held,
        "last_locked_count": reading.last_locked_count,
        "clean_counts": reading.clean_counts,
        "ended": reading.ended,
        "confidence": rounded(reading.confidence, 3),
        "strokes": _strokes_json(reading.strokes, reading.places, reading.places_per_count),
        "evenness": _whole_evenness_json(reading.evenness, reading.hands),
        "technique": {} if reading.technique is None else technique_json(reading.technique),
        "tiring": {} if reading.tiring is None else _tiring_json(reading.tiring),
        "quality": _quality_json(reading),
    }


def _strokes_json(strokes: Strokes, places: StrokePlaces, places_per_count: int) -> list[Json]:
    """Strokes with their count (from 1) and place (from 0), null for one that has no place."""
    has_place = places.place_index >= 0
    rows = zip(
        _rounded(strokes.time_s, 6),
        _rounded(strokes.level_db, 2),
        has_place.tolist(),
        (places.place_index // places_per_count + 1).tolist(),
        (places.place_index % places_per_count).tolist(),
        _rounded(1e3 * np.where(has_place, places.asynchrony_s, np.nan), 3),
        places.hand,
        strict=True,
    )
    return [
        {
            "time_s": time_s,
            "level_db": level_db,
            "count": count if placed else None,
            "place": place if placed else None,
            "asynchrony_ms": asynchrony_ms,
            "hand": hand,
        }
        for time_s, level_db, placed, count, place, asynchrony_ms, hand in rows
    ]


def _rounded(column: FloatArray, digits: int) -> list[float | None]:
    """Rounded numbers of a column, None where not finite."""
    finite = np.isfinite(column).tolist()
    numbers = (np.round(column, digits) + 0.0).tolist()
    return [number if good else None for number, good in zip(numbers, finite, strict=True)]


def _whole_evenness_json(evenness: Evenness | None, hands: HandsEvenness | None) -> Json:
    """Evenness of all strokes, with the hands apart beside it; empty where none was measured."""
    if evenness is None and hands is None:
        return {}
    stream = {} if evenness is None else _evenness_json(evenness)
    return {**stream, "hands": _hands_json(hands)}


def _evenness_json(evenness: Evenness) -> Json:
    """Evenness of one stream."""
    return {
        "strokes": evenness.strokes,
        "lead_ms": rounded(evenness.lead_ms, 3),
        "asynchrony_sd_ms": rounded(evenness.asynchrony_sd_ms, 3),
        "interval_sd_ms": rounded(evenness.interval_sd_ms, 3),
        "interval_cv": rounded(evenness.interval_cv, 5),
        "asynchrony_lag1": rounded(evenness.asynchrony_lag1, 3),
        "interval_lag1": rounded(evenness.interval_lag1, 3),
        "drift_ms_per_minute": figure_json(evenness.drift_ms_per_minute, 2),
        "places": [_place_json(place) for place in evenness.places],
        "level_spread_db": rounded(evenness.level_spread_db, 2),
        "level_slope_db_per_minute": figure_json(evenness.level_slope_db_per_minute, 2),
        "split": None if evenness.split is None else _split_json(evenness.split),
    }


def _place_json(place: PlaceProfile) -> Json:
    """Profile of one place."""
    return {
        "place": place.place,
        "timing_ms": rounded(place.timing_ms, 3),
        "timing_error_ms": rounded(place.timing_error_ms, 3),
        "level_db": rounded(place.level_db, 2),
        "level_error_db": rounded(place.level_error_db, 2),
        "counts": place.counts,
    }


def _split_json(split: TimingSplit) -> Json:
    """Timing split."""
    return {
        "model": split.model,
        "strokes": split.strokes,
        "timekeeper_ms": figure_json(split.timekeeper_ms, 2),
        "motor_ms": figure_json(split.motor_ms, 2),
        "correction": figure_json(split.correction, 3),
    }


def _hands_json(hands: HandsEvenness | None) -> Json:
    """Hands apart, all null where the take is of one hand."""
    if hands is None:
        return dict(_NO_HANDS)
    return {
        "left": _evenness_json(hands.left),
        "right": _evenness_json(hands.right),
        "gap": None if hands.gap is None else _gap_json(hands.gap),
    }


def _gap_json(gap: HandsGap) -> Json:
    """Gap between the hands, left - right."""
    return {
        "timing_ms": rounded(gap.timing_ms, 3),
        "timing_error_ms": rounded(gap.timing_error_ms, 3),
        "level_db": rounded(gap.level_db, 2),
        "level_error_db": rounded(gap.level_error_db, 2),
        "counts": gap.counts,
    }


def _tiring_json(tiring: Tiring) -> Json:
    """Where the hand left its early range."""
    return {
        "onset_count": tiring.onset_count,
        "sign": tiring.sign,
        "rising": tiring.rising,
        "found_by_count": tiring.found_by_count,
        "confidence": rounded(tiring.confidence, 4),
    }


def _quality_json(reading: Reading) -> Json:
    """What the recording was like, and every note."""
    quality = reading.quality
    return {
        "notes": list(reading.notes),
        "assumed": list(quality.assumed),
        "duration_s": rounded(quality.duration_s, 6),
        "sample_rate_hz": quality.sample_rate_hz,
        "noise_floor_db": rounded(quality.noise_floor_db, 1),
        "stroke_level_db": rounded(quality.stroke_level_db, 1),
        "click_level_db": rounded(quality.click_level_db, 1),
        "clipped_share": rounded(quality.clipped_share, 4),
        "grid_confidence": None if reading.grid is None else rounded(reading.grid.confidence, 3),
    }


def _evenness_notes(evenness: Evenness) -> list[str]:
    """Notes of one stream and of its split."""
    return [*evenness.notes, *(() if evenness.split is None else evenness.split.notes)]
