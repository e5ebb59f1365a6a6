"""When a take can't be judged, and why: said, not guessed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.heard import CountGrid, Strokes
from loosehand.hear.tempo import StrokeRate

__all__ = ["INSEPARABLE", "Impression", "clipped_share", "high_share", "reason_not_to_judge"]

Float32Array = NDArray[np.float32]

MOST_CLIPPED = 0.12
MOST_HIGH = 0.2
LEAST_RANGE_DB = 6.0
LOUD_NOISE_DB = -50.0
LEAST_COUNTS = 2
_RAIL = 0.985
_RATE_OFF = 0.035
_RATES_AGREE = 0.05
_STEADY_PLACES = 0.16
_STEADY_STROKES = 24
_STEADY_SHARE = 0.35
_EVERY = 7
_SCATTERED = 0.15
_COUNT_IN_COUNTS = 10
_COUNT_IN_S = 3.0
_LEAST_CONFIDENCE = 0.55
_DROWNED = 0.6
_SURE_OF_COUNT_1 = 0.5
INSEPARABLE = (
    "The strokes cannot be told from the click and the noise around them; "
    "record nearer to the drum, or with the click in headphones."
)


@dataclass(frozen=True)
class Impression:
    """What a verdict on the recording rests on.

    Attributes
    ----------
    strokes, grid : what was heard
    plays : whether any count is filled with strokes
    click_heard : whether a click was found at the tempo that was told
    click_share : share of the click in what sounds on the places, where it is least
    clipped_share : share of samples at the rails
    high_share : share of samples above half of the high ones
    range_db : how far loud moments stand above quiet ones
    quiet_db : level of the quiet moments, relative to full scale
    duration_s : length of the take
    rate : how fast the strokes came where they were steady
    early_rate : how fast they came at first
    tempo_told_bpm, places_per_count : what was told
    """

    strokes: Strokes
    grid: CountGrid | None
    plays: bool
    click_heard: bool
    click_share: float
    clipped_share: float
    high_share: float
    range_db: float
    quiet_db: float
    duration_s: float
    rate: StrokeRate | None
    early_rate: StrokeRate | None
    tempo_told_bpm: float
    places_per_count: int


def clipped_share(samples: Float32Array) -> float:
    """Share of samples that lie within 1.5 % of the highest sample, either way."""
    if samples.size == 0:
        return 0.0
    size = np.abs(samples)
    top = float(size.max())
    return float(np.mean(size >= _RAIL * top)) if top > 0 else 0.0


def high_share(samples: Float32Array) -> float:
    """Share of samples above half of the level that one in a thousand reaches.

    A drum is above it for a moment of each stroke; a squared-off wave is nearly always.
    """
    if samples.size == 0:
        return 0.0
    size = np.abs(samples[::_EVERY])
    return float(np.mean(size > 0.5 * np.percentile(size, 99.9)))


def reason_not_to_judge(heard: Impression) -> str | None:
    """The sentence that says why a take can't be judged, or None."""
    if heard.clipped_share > MOST_CLIPPED:
        return (
            f"The recording is clipped ({100 * heard.clipped_share:.0f} % of it at full scale); "
            "record again with the phone further away or the gain lower."
        )
    if heard.range_db < LEAST_RANGE_DB and heard.quiet_db > LOUD_NOISE_DB:
        return _reason_for_flatness(heard)
    if heard.click_share > _DROWNED:
        return INSEPARABLE
    if heard.grid is None:
        return None
    if _cut_off(heard, heard.grid):
        return "The recording is cut off: less than two counts follow count 1; record it again."
    if not heard.plays:
        places = heard.grid.counts_offered * heard.grid.places_per_count
        return INSEPARABLE if len(heard.strokes) > _SCATTERED * places else None
    wrong = _wrong_tempo(heard)
    if wrong is not None:
        return wrong
    if float(np.median(heard.strokes.confidence)) < _LEAST_CONFIDENCE:
        return INSEPARABLE
    return None


def _cut_off(heard: Impression, grid: CountGrid) -> bool:
    """Whether the recording ends before two counts are played.

    Where count 1 is no more than a guess from a few strokes, and the last of them sounds at
    the very end, the round had hardly begun; so too where no count is filled in a recording
    no longer than a count-in.
    """
    if not heard.plays and heard.duration_s < _COUNT_IN_COUNTS * grid.count_period_s + _COUNT_IN_S:
        return True
    least_s = LEAST_COUNTS * grid.count_period_s
    if heard.duration_s - grid.first_count_s < least_s:
        return True
    guessed = grid.source == "strokes" and grid.confidence < _SURE_OF_COUNT_1
    last_s = float(heard.strokes.time_s[-1]) if len(heard.strokes) else 0.0
    return guessed and heard.duration_s - last_s < least_s


def _reason_for_flatness(heard: Impression) -> str:
    """Loud throughout: squared off by clipping, or buried in noise."""
    if heard.high_share > MOST_HIGH:
        return (
            "The recording is clipped throughout; "
            "record again with the phone further away or the gain lower."
        )
    return (
        "The recording is too quiet against its noise for strokes to be heard; "
        "record nearer to the drum."
    )


def _wrong_tempo(heard: Impression) -> str | None:
    """Strokes that come steadily, from the start on, at another tempo than was told."""
    if heard.click_heard or len(heard.strokes) < _STEADY_STROKES:
        return None
    early = np.diff(heard.strokes.time_s[: 2 * heard.places_per_count + 1])
    started_bpm = 60.0 / (float(np.median(early)) * heard.places_per_count)
    if _near(started_bpm, heard.tempo_told_bpm, _RATE_OFF):
        return None
    for rate, fewest, least_share in (
        (heard.rate, _STEADY_STROKES, _STEADY_SHARE),
        (heard.early_rate, _STEADY_STROKES // 2, 0.0),
    ):
        if rate is None or rate.strokes < fewest or rate.share < least_share:
            continue
        if rate.spread > _STEADY_PLACES:
            continue
        tempo_bpm = 60.0 / (rate.place_s * heard.places_per_count)
        # At the start the strokes must agree among themselves: two measures of their tempo.
        agrees = least_share > 0 or _near(started_bpm, tempo_bpm, _RATES_AGREE)
        if agrees and not _near(tempo_bpm, heard.tempo_told_bpm, _RATE_OFF):
            return (
                f"The tempo given ({heard.tempo_told_bpm:g}) does not fit: the strokes come "
                f"steadily at {tempo_bpm:.1f}; give the tempo of the click, or --tempo auto."
            )
    return None


def _near(tempo_bpm: float, other_bpm: float, share: float) -> bool:
    return abs(tempo_bpm / other_bpm - 1.0) < share
