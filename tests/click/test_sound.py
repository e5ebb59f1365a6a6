"""The sound of the click: where it lies in time and in frequency."""

from fractions import Fraction

import numpy as np
import pytest

from loosehand.click.sound import TIMBRES, click_waveform, render_clicks
from loosehand.click.track import ClickPlan, click_track
from loosehand.errors import BadNotation
from loosehand.parts.grid import Meter, steady_tempo

RATE_HZ = 44100
LEAD_IN_S = 0.25
FINER = 64


def clicks_of(tempo_bpm=97, *, subdivision_places=1, silent_bars=()):
    """Three bars of four after a count-in of four."""
    plan = ClickPlan(Meter((1, 1, 1, 1), 4), 3, None, 4, subdivision_places, frozenset(silent_bars))
    return click_track(plan, steady_tempo(Fraction(tempo_bpm)))


def sound_of(clicks, timbre, *, rate_hz=RATE_HZ):
    """Render with a quarter of a second before and after."""
    return render_clicks(
        clicks, timbre=timbre, sample_rate_hz=rate_hz, lead_in_s=LEAD_IN_S, tail_s=0.25
    )


def delay_samples(heard, template):
    """Delay of ``heard`` against ``template`` at the peak of their finely sampled correlation."""
    size = 2 * template.size
    cross = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(template, size))
    fine = np.fft.irfft(cross, size * FINER)
    peak = int(np.argmax(fine))
    left, middle, right = fine[[peak - 1, peak, (peak + 1) % fine.size]]
    peak += 0.5 * (left - right) / (left - 2 * middle + right)
    return (peak + size * FINER / 2) % (size * FINER) / FINER - size / 2


@pytest.mark.parametrize("timbre", TIMBRES)
@pytest.mark.parametrize("rate_hz", [44100, 48000])
def test_clicks_lie_on_their_times(timbre, rate_hz):
    """Every rendered click lies within 0.05 of a sample of its time, between samples too."""
    clicks = clicks_of()
    samples = sound_of(clicks, timbre, rate_hz=rate_hz)
    between = set()
    for click in clicks:
        at = float(click.at_s - clicks[0].at_s) * rate_hz + LEAD_IN_S * rate_hz
        template = click_waveform(timbre, click.role, sample_rate_hz=rate_hz, late_samples=0.0)
        first = int(at) - 20
        found = first + delay_samples(samples[first : first + template.size], template)
        assert abs(found - at) < 0.05
        between.add(round(at % 1, 2))
    assert len(between) > 4


def share_below(wave, limit_hz):
    """Share of the energy below a frequency."""
    power = np.abs(np.fft.rfft(wave, 1 << 15)) ** 2
    return power[np.fft.rfftfreq(1 << 15, 1 / RATE_HZ) < limit_hz].sum() / power.sum()


def count_wave(timbre, role="count"):
    """Waveform of one click that starts on a sample."""
    return click_waveform(timbre, role, sample_rate_hz=RATE_HZ, late_samples=0.0)


def test_low_wood_sounds_below_hats():
    """Most energy of the low wood lies below 1 kHz, little of any other timbre's."""
    share = {timbre: share_below(count_wave(timbre), 1000.0) for timbre in TIMBRES}
    assert share.pop("low wood") > 0.75
    assert max(share.values()) < 0.25


@pytest.mark.parametrize("timbre", TIMBRES)
def test_energy_lies_where_small_speakers_are_strong(timbre):
    """Less than a twentieth of a count's energy lies below 500 Hz, or above 4 kHz."""
    wave = count_wave(timbre)
    assert share_below(wave, 500.0) < 0.05
    assert share_below(wave, 4000.0) > 0.95


@pytest.mark.parametrize("timbre", TIMBRES)
def test_downbeats_are_louder_and_subdivisions_softer(timbre):
    """A downbeat is louder than a count, a subdivision half as loud as one."""
    peak = {
        role: np.abs(count_wave(timbre, role)).max()
        for role in ("downbeat", "count", "subdivision")
    }
    assert peak["downbeat"] > peak["count"]
    assert peak["subdivision"] == pytest.approx(0.5 * peak["count"], rel=0.2)


def test_silent_bars_are_silent():
    """Nothing at all sounds in the silent bar, and its neighbours sound as ever."""
    clicks = clicks_of(silent_bars={2})
    plain, gapped = (sound_of(c, "low wood") for c in (clicks_of(), clicks))
    start_s = LEAD_IN_S - float(clicks[0].at_s)
    bar_s = 4 * 60 / 97
    first, last = (int((start_s + bars * bar_s) * RATE_HZ) for bars in (1, 2))
    assert np.abs(plain[first:last]).max() > 0.3
    assert not gapped[first : last - 1].any()
    assert np.array_equal(plain[:first], gapped[:first])
    assert np.array_equal(plain[last:], gapped[last:])


@pytest.mark.parametrize("timbre", TIMBRES)
@pytest.mark.parametrize("tempo_bpm", [60, 140, 240])
def test_nothing_clips(timbre, tempo_bpm):
    """Counts with sixteenths between them stay below full scale, even where they overlap."""
    peak = np.abs(sound_of(clicks_of(tempo_bpm, subdivision_places=4), timbre)).max()
    assert 0.3 < peak < 1.0


def test_before_the_first_click_is_silence():
    """The silence asked for comes first, and sound follows within two milliseconds."""
    samples = sound_of(clicks_of(), "tick")
    first = int(LEAD_IN_S * RATE_HZ)
    assert not samples[:first].any()
    assert np.abs(samples[first : first + 88]).max() > 0.1


def test_what_cannot_be_rendered():
    """No clicks, and a timbre nobody knows, are refused in a sentence."""
    with pytest.raises(BadNotation, match="no clicks"):
        sound_of((), "pip")
    with pytest.raises(BadNotation, match="low wood, high wood, pip, tick"):
        sound_of(clicks_of(), "gong")
