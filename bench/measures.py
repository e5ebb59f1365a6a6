"""What the bench measures of one take and one listener, and of many.

Conventions: times in seconds, deviations in milliseconds, stroke minus place, early is negative.
Heard and true strokes are paired one to one (largest pairing, ``mir_eval``) after taking out one
constant offset of the take, the median of the differences of a first pairing within 50 ms: every
listener is relieved of its own constant lag in the same way.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import mir_eval
import numpy as np
from bench_take import Truth
from numpy.typing import NDArray

__all__ = ["Answer", "answer_of_reading", "measure", "reliability", "share", "wilson"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Answer:
    """What a listener said of a take.

    ``count_held`` None means 'not judged'. ``deviation_ms`` is each stroke's distance from its
    place as the listener tells it, NaN where it tells none; ``confidence`` None where it gives
    none. ``hand`` holds 0 left, 1 right, -1 'cannot tell'.
    """

    stroke_s: FloatArray
    level_db: FloatArray | None
    deviation_ms: FloatArray | None
    hand: NDArray[np.int64] | None
    count: NDArray[np.int64] | None
    place: NDArray[np.int64] | None
    count_held: int | None
    counts_offered: int | None
    confidence: float | None
    ended: str | None
    seconds: float = 0.0
    extra: dict = field(default_factory=dict)


def _column(strokes: list[dict], key: str, missing: float) -> FloatArray:
    return np.array([missing if one.get(key) is None else one[key] for one in strokes], dtype=float)


def answer_of_reading(reading: dict, seconds: float = 0.0) -> Answer:
    """Read a ``loosehand.reading/1`` object as a user would."""
    strokes = reading["strokes"]
    sides = {"left": 0, "right": 1}
    return Answer(
        stroke_s=_column(strokes, "time_s", np.nan),
        level_db=_column(strokes, "level_db", np.nan),
        deviation_ms=_column(strokes, "asynchrony_ms", np.nan),
        hand=np.array([sides.get(one.get("hand") or "", -1) for one in strokes], dtype=np.int64),
        count=_column(strokes, "count", 0).astype(np.int64),
        place=_column(strokes, "place", -1).astype(np.int64),
        count_held=reading["count_held"],
        counts_offered=reading["counts_offered"],
        confidence=reading["confidence"],
        ended=reading["ended"],
        seconds=seconds,
        extra={
            "grid_source": reading.get("grid_source"),
            "tempo_bpm": reading.get("tempo_bpm"),
            "first_count_s": reading.get("first_count_s"),
            "notes": (reading.get("quality") or {}).get("notes"),
        },
    )


def paired(true_s: FloatArray, heard_s: FloatArray) -> tuple[FloatArray, list[tuple[int, int]]]:
    """Heard times relieved of their constant offset, and pairs (true, heard) within 25 ms."""
    if not true_s.size or not heard_s.size:
        return heard_s, []
    offset = 0.0
    for window in (0.05, 0.03):
        pairs = mir_eval.util.match_events(true_s, heard_s - offset, window)
        if not pairs:
            return heard_s, []
        offset = float(np.median([heard_s[j] - true_s[i] for i, j in pairs]))
    shifted = heard_s - offset
    return shifted, mir_eval.util.match_events(true_s, shifted, 0.025)


def _timing(truth: Truth, answer: Answer) -> dict:
    """F-measures, error of time, agreement of deviations and levels."""
    heard_s, pairs = paired(truth.stroke_s, answer.stroke_s)
    row: dict = {"strokes_true": int(truth.stroke_s.size), "strokes_heard": int(heard_s.size)}
    if not heard_s.size:
        return row | {"f10": 0.0, "f25": 0.0}
    for window_ms in (10, 25):
        f, precision, recall = mir_eval.onset.f_measure(
            truth.stroke_s, heard_s, window=window_ms / 1e3
        )
        row[f"f{window_ms}"] = float(f)
        row[f"precision{window_ms}"], row[f"recall{window_ms}"] = float(precision), float(recall)
    if len(pairs) < 10:
        return row
    true_at, heard_at = (np.array(side) for side in zip(*pairs, strict=True))
    error_ms = 1e3 * np.abs(heard_s[heard_at] - truth.stroke_s[true_at])
    row["error_median_ms"] = float(np.median(error_ms))
    row["error_p95_ms"] = float(np.percentile(error_ms, 95))
    row["offset_ms"] = float(1e3 * np.median(answer.stroke_s[heard_at] - truth.stroke_s[true_at]))
    row |= _agreement(truth, answer, heard_s, true_at, heard_at)
    return row


def _agreement(
    truth: Truth,
    answer: Answer,
    heard_s: FloatArray,
    true_at: NDArray[np.int64],
    heard_at: NDArray[np.int64],
) -> dict:
    """Correlation of heard with true deviation (strokes well in place) and with true level."""
    row = {}
    true_ms = 1e3 * deviation_s(truth, truth.stroke_s)[true_at]
    heard_ms = (
        1e3 * deviation_s(truth, heard_s)[heard_at]
        if answer.deviation_ms is None
        else answer.deviation_ms[heard_at]
    )
    near = np.abs(true_ms) < 300 * truth.place_s * 1.0
    use = near & np.isfinite(heard_ms) & (np.abs(heard_ms - true_ms) < 500 * truth.place_s)
    if use.sum() >= 20 and np.std(true_ms[use]) > 0 and np.std(heard_ms[use]) > 0:
        row["deviation_r"] = float(np.corrcoef(true_ms[use], heard_ms[use])[0, 1])
        row["deviation_used"] = float(use.sum() / max(near.sum(), 1))
    if answer.level_db is not None:
        true_db, heard_db = truth.level_db[true_at], answer.level_db[heard_at]
        known = np.isfinite(heard_db)
        if known.sum() >= 20 and np.std(true_db[known]) > 0 and np.std(heard_db[known]) > 0:
            row["level_r"] = float(np.corrcoef(true_db[known], heard_db[known])[0, 1])
    return row


def deviation_s(truth: Truth, times_s: FloatArray) -> FloatArray:
    """Distance of each time from the nearest place of the true grid."""
    where = (times_s - truth.first_count_s) / truth.place_s
    return (where - np.round(where)) * truth.place_s


def _profile(truth: Truth, answer: Answer, held: int) -> dict:
    """Largest error over the places of the heard timing (ms) and level (dB) profile."""
    if answer.place is None or answer.count is None or held < 4 or not answer.count_held:
        return {}
    inside = (truth.place >= 0) & (truth.place < held * truth.places_per_count)
    true_place = truth.place[inside] % truth.places_per_count
    true_ms = 1e3 * (
        truth.stroke_s[inside] - truth.first_count_s - truth.place[inside] * truth.place_s
    )
    heard = (answer.count >= 1) & (answer.count <= min(held, answer.count_held))
    heard &= (answer.place >= 0) & np.isfinite(answer.deviation_ms)
    places = range(truth.places_per_count)
    if any((true_place == at).sum() < 4 or (answer.place[heard] == at).sum() < 4 for at in places):
        return {}

    def profile(values: FloatArray, place: NDArray[np.int64]) -> FloatArray:
        means = np.array([np.mean(values[place == at]) for at in places])
        return means - means.mean()

    spot = answer.place[heard]
    ms = profile(answer.deviation_ms[heard], spot) - profile(true_ms, true_place)
    db = profile(answer.level_db[heard], spot) - profile(truth.level_db[inside], true_place)
    return {"profile_ms": float(np.max(np.abs(ms))), "profile_db": float(np.max(np.abs(db)))}


def _hands(truth: Truth, answer: Answer) -> dict:
    """Share of paired strokes whose hand is right, as named and up to swapping the names."""
    if truth.hands != "alternating" or answer.hand is None or not answer.hand.size:
        return {}
    _, pairs = paired(truth.stroke_s, answer.stroke_s)
    told = [(truth.hand[i], answer.hand[j]) for i, j in pairs if answer.hand[j] >= 0]
    if len(told) < 0.5 * max(len(pairs), 1):
        return {"hands_told": False}
    right = float(np.mean([one == two for one, two in told]))
    return {"hands_told": True, "hands_named": right, "hands_apart": max(right, 1.0 - right)}


def measure(truth: Truth, answer: Answer, held: int) -> dict:
    """Everything measured of one take, as one flat row.

    Parameters
    ----------
    truth : what was played
    answer : what was heard
    held : counts held by the definition applied to the true strokes
    """
    row: dict = {
        "plays": truth.plays,
        "judgeable": truth.judgeable,
        "kind": truth.kind,
        "hands": truth.hands,
        "held_true": held,
        "counts_true": truth.counts_offered,
        "held_heard": answer.count_held,
        "confidence": answer.confidence,
        "ended": answer.ended,
        "seconds": answer.seconds,
        **answer.extra,
    }
    if not truth.plays:
        minutes = truth.counts_offered * truth.count_period_s / 60.0
        row["false_per_minute"] = float(answer.stroke_s.size / minutes)
        return row
    if not truth.judgeable:
        row["refused"] = answer.count_held is None
        return row
    row |= _timing(truth, answer) | _profile(truth, answer, held) | _hands(truth, answer)
    if (first_s := answer.extra.get("first_count_s")) is not None:
        row["grid_off_places"] = abs(first_s - truth.first_count_s) / truth.place_s
        row["grid_right"] = row["grid_off_places"] < 0.5
    return row | _count(truth, answer, held)


def _count(truth: Truth, answer: Answer, held: int) -> dict:
    """Was the count right? A judgeable take that was refused is a miss in every share."""
    if answer.count_held is None:
        return {"refused": True, "exact": False, "within_1": False, "ended_right": False}
    off = abs(answer.count_held - held)
    whole_heard = answer.count_held >= (answer.counts_offered or truth.counts_offered)
    return {
        "refused": False,
        "exact": off == 0,
        "within_1": off <= 1,
        "off": off,
        "ended_right": whole_heard == (held >= truth.counts_offered),
    }


def wilson(hits: int, of: int, z: float = 1.959964) -> tuple[float, float]:
    """Wilson's 95 % interval of a share.

    Source: E. B. Wilson (1927), Probable inference, the law of succession, and statistical
    inference; formula from memory.
    """
    if of == 0:
        return 0.0, 1.0
    middle = (hits + z**2 / 2) / (of + z**2)
    reach = z / (of + z**2) * np.sqrt(hits * (of - hits) / of + z**2 / 4)
    return float(max(0.0, middle - reach)), float(min(1.0, middle + reach))


def share(values: list[bool]) -> dict:
    """Hits, tries, share and its interval."""
    hits, of = int(sum(bool(one) for one in values)), len(values)
    low, high = wilson(hits, of)
    return {"hits": hits, "of": of, "share": hits / of if of else None, "low": low, "high": high}


def reliability(rows: list[dict], edges: tuple[float, ...] = (0, 0.5, 0.7, 0.8, 0.9, 0.95, 1.01)):
    """By bins of the confidence given: how many, mean confidence, share within one count."""
    bins = []
    for low, high in pairwise(edges):
        inside = [
            row
            for row in rows
            if row.get("confidence") is not None
            and row.get("within_1") is not None
            and low <= row["confidence"] < high
        ]
        given = float(np.mean([row["confidence"] for row in inside])) if inside else None
        bins.append(
            {"from": low, "to": min(high, 1.0), "given": given}
            | share([row["within_1"] for row in inside])
        )
    return bins
