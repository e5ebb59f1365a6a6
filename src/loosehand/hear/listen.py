"""A whole take in, strokes and their grid out."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.hear.acoustics import (
    Acoustics,
    background,
    band_floor,
    rise_peaks,
    survey,
)
from loosehand.hear.bands import BandAnalysis, power_to_db
from loosehand.hear.click_share import least_click_share
from loosehand.hear.engine import Candidates, Engine, Stretch, join
from loosehand.hear.find_grid import click_evidence, find_grid
from loosehand.hear.heard import CountGrid, Heard, ListenRequest, Quality, Strokes
from loosehand.hear.refusal import (
    INSEPARABLE,
    Impression,
    clipped_share,
    high_share,
    reason_not_to_judge,
)
from loosehand.hear.settle import as_strokes, settler_for
from loosehand.hear.tempo import (
    StrokeRate,
    candidate_tempos,
    early_rate,
    stroke_rate,
    tempo_with_click,
)

__all__ = ["MEASUREMENT_SD_S", "listen", "listen_as_told"]

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

MEASUREMENT_SD_S = 0.0006
"""Usual error of a stroke's time: measured on simulated takes by the bench."""

_NO_TEMPO = "The tempo cannot be told from so few strokes; say it with --tempo."
_FEWEST_FOR_TEMPO = 8
_SURE = 0.3
_FILLED = 0.7
_LOUD_PERCENTILE = 75
_FAINT_DB = 19.0
_EARLY_REACH = 0.015
_LONG_REACH = 0.004
_SAME_RATE = 0.02
_STEADY_PLACES = 0.1
_TEMPOS_BPM = (25.0, 320.0)


@dataclass(frozen=True)
class _Sound:
    """The samples, and their band levels."""

    samples: Float32Array
    power: Float32Array
    analysis: BandAnalysis

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.samples.size / self.analysis.sample_rate_hz


def listen(samples: Float32Array, request: ListenRequest, *, sample_rate_hz: int) -> Heard:
    """Hear a whole take.

    Parameters
    ----------
    samples : float32 array, shape (n,), one channel, full scale 1
    request : what is told of the take; its tempo may be None
    sample_rate_hz : rate of the samples

    Returns
    -------
    heard : strokes, counts and quality; ``quality.refusal`` says why a take can't be judged

    Raises
    ------
    UnreadableAudio    if sound of that rate cannot be analysed
    """
    analysis = BandAnalysis(sample_rate_hz)
    sound = _Sound(samples, analysis.whole(samples), analysis)
    assumed: tuple[str, ...] = ()
    if request.tempo_bpm is None:
        tempo_bpm = _estimate_tempo(sound, request.places_per_count)
        if tempo_bpm is None:
            return _no_tempo(sound)
        request = replace(request, tempo_bpm=tempo_bpm)
        assumed = (f"The tempo was found to be {tempo_bpm:g}.",)
    assert request.tempo_bpm is not None, "the tempo is known by now"
    acoustics = survey(
        sound.samples, sound.power, sound.analysis, period_s=60.0 / request.tempo_bpm
    )
    return _listen_with(sound, acoustics, request, assumed)


def listen_as_told(samples: Float32Array, request: ListenRequest, acoustics: Acoustics) -> Heard:
    """Hear a take whose room and click are known already, as those of the stand are.

    Parameters
    ----------
    samples : float32 array, shape (n,), one channel, full scale 1
    request : what is told of the take, its tempo too
    acoustics : what the live ear was told

    Returns
    -------
    heard : with the strokes that the live ear settled, to the last bit
    """
    analysis = BandAnalysis(acoustics.sample_rate_hz)
    sound = _Sound(samples, analysis.whole(samples), analysis)
    return _listen_with(sound, acoustics, request, ())


def _listen_with(
    sound: _Sound, acoustics: Acoustics, request: ListenRequest, assumed: tuple[str, ...]
) -> Heard:
    assert request.tempo_bpm is not None, "the tempo is known by now"
    period_s = 60.0 / request.tempo_bpm
    strokes = as_strokes(_settled(sound, acoustics, request, period_s))
    click = click_evidence(acoustics.phase, acoustics.bleed)
    grid = find_grid(_sure_s(strokes), click, request, duration_s=sound.duration_s)
    if grid is not None:
        strokes = _from_the_round(strokes, grid)
    plays = grid is not None and _somebody_plays(strokes, grid)
    quiet_db, loud_db = _quiet_and_loud_db(sound.power)
    impression = Impression(
        strokes=strokes,
        grid=grid,
        plays=plays,
        click_heard=click is not None,
        click_share=_click_share(sound, acoustics, request.places_per_count),
        clipped_share=clipped_share(sound.samples),
        high_share=high_share(sound.samples),
        range_db=loud_db - quiet_db,
        quiet_db=quiet_db,
        duration_s=sound.duration_s,
        rate=stroke_rate(strokes.time_s),
        early_rate=early_rate(strokes.time_s),
        tempo_told_bpm=request.tempo_bpm,
        places_per_count=request.places_per_count,
    )
    refusal = reason_not_to_judge(impression)
    if refusal == INSEPARABLE:
        strokes = _none_of(strokes)
    elif refusal is None and not plays:
        strokes, grid = _none_of(strokes), None
    return Heard(
        strokes,
        grid,
        _quality(sound, acoustics, impression, assumed, refusal),
        background(sound.power, sound.analysis),
    )


def _click_share(sound: _Sound, acoustics: Acoustics, places_per_count: int) -> float:
    if acoustics.bleed is None:
        return 0.0
    return least_click_share(
        sound.samples,
        acoustics.bleed,
        places_per_count=places_per_count,
        sample_rate_hz=sound.analysis.sample_rate_hz,
    )


def _stretches(sound: _Sound, acoustics: Acoustics) -> list[Stretch]:
    engine = Engine(acoustics)
    return [*engine.push(sound.samples), *engine.finish()]


def _settled(
    sound: _Sound, acoustics: Acoustics, request: ListenRequest, count_s: float
) -> Candidates:
    settler = settler_for(
        count_s=count_s, places_per_count=request.places_per_count, hand=request.hand
    )
    parts = [settler.push(stretch) for stretch in _stretches(sound, acoustics)]
    return join([*parts, settler.finish()])


def _sure_s(strokes: Strokes) -> FloatArray:
    """Times of the strokes that may say where the round begins: none faint, none in doubt."""
    if not len(strokes):
        return strokes.time_s
    loud_db = np.percentile(strokes.level_db, _LOUD_PERCENTILE)
    sure = (strokes.confidence >= _SURE) & (strokes.level_db >= loud_db - _FAINT_DB)
    return strokes.time_s[sure]


def _from_the_round(strokes: Strokes, grid: CountGrid) -> Strokes:
    """Leave out what was struck before the round: a count-in tapped along, a stick laid down."""
    return strokes.some(strokes.time_s >= grid.first_count_s - 0.5 * grid.place_s)


def _somebody_plays(strokes: Strokes, grid: CountGrid) -> bool:
    """Whether any count holds most of its strokes, doubtful ones in part; knocks are nobody."""
    ends = np.searchsorted(
        strokes.time_s, strokes.time_s + grid.count_period_s - 0.5 * grid.place_s
    )
    so_far = np.concatenate(([0.0], np.cumsum(strokes.confidence)))
    within = so_far[ends] - so_far[:-1]
    return bool(np.max(within, initial=0.0) > _FILLED * grid.places_per_count)


def _none_of(strokes: Strokes) -> Strokes:
    return strokes.some(np.zeros(len(strokes), dtype=np.bool_))


def _quiet_and_loud_db(power: Float32Array) -> tuple[float, float]:
    """Level of the quiet and of the loud moments."""
    quiet, loud = np.percentile(power_to_db(power.sum(axis=1)), [10, 99])
    return float(quiet), float(loud)


def _quality(
    sound: _Sound,
    acoustics: Acoustics | None,
    impression: Impression | None,
    assumed: tuple[str, ...],
    refusal: str | None,
) -> Quality:
    floor = band_floor(sound.power) if acoustics is None else acoustics.floor
    bleed = None if acoustics is None else acoustics.bleed
    click_power = None if bleed is None else float(np.mean(np.square(bleed.waveform)))
    level_db = None
    if impression is not None and len(impression.strokes):
        level_db = float(np.median(impression.strokes.level_db))
    return Quality(
        duration_s=sound.duration_s,
        sample_rate_hz=sound.analysis.sample_rate_hz,
        noise_floor_db=float(power_to_db(np.array([floor.sum()]))[0]),
        stroke_level_db=level_db,
        click_level_db=None
        if click_power is None
        else float(power_to_db(np.array([click_power]))[0]),
        clipped_share=0.0 if impression is None else impression.clipped_share,
        notes=(),
        assumed=assumed,
        refusal=refusal,
    )


def _no_tempo(sound: _Sound) -> Heard:
    bands = sound.power.shape[1]
    none = np.zeros(0)
    strokes = Strokes(none, none, none, np.zeros((0, bands)))
    return Heard(strokes, None, _quality(sound, None, None, (), _NO_TEMPO), None)


def _estimate_tempo(sound: _Sound, places_per_count: int) -> float | None:
    """Tempo from the rates of the strokes, then from a click that stands out near one."""
    floor = band_floor(sound.power)
    quiet = Acoustics(sound.analysis.sample_rate_hz, floor, None, None)
    found = join([stretch.found for stretch in _stretches(sound, quiet)])
    stroke_s = found.time_s[found.log_odds > 0]
    longest = stroke_rate(stroke_s)
    if longest is None or longest.strokes < _FEWEST_FOR_TEMPO:
        return None
    early = early_rate(stroke_s) or longest
    measured = {
        60.0 / (rate.place_s * places_per_count): reach
        for rate, reach in ((early, _EARLY_REACH), (longest, _LONG_REACH))
    }
    measured = {
        bpm: reach for bpm, reach in measured.items() if _TEMPOS_BPM[0] <= bpm <= _TEMPOS_BPM[1]
    }
    if not measured:
        return None
    peaks = rise_peaks(sound.power, floor, sound.analysis)
    tempo_bpm, score = max(
        (
            tempo_with_click(peaks, bpm, duration_s=sound.duration_s, reach=reach)
            for bpm, reach in measured.items()
        ),
        key=lambda found: found[1],
    )
    return tempo_bpm if score > 0 else _without_click(early, longest, places_per_count)


def _without_click(early: StrokeRate, longest: StrokeRate, places_per_count: int) -> float:
    """Tempo of the strokes: the steadier measure, unless the hand had left its first tempo."""
    same = abs(longest.place_s / early.place_s - 1.0) < _SAME_RATE
    rate = longest if same or early.spread > _STEADY_PLACES else early
    return float(candidate_tempos(60.0 / (rate.place_s * places_per_count))[0])
