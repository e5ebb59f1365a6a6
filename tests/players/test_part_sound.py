"""Tests of the sound of a part: times, levels, click, length."""

import io
import time
from fractions import Fraction

import numpy as np
import pytest

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Meter, Part, Section, Stroke
from loosehand.players.drums import WORK_RATE_HZ
from loosehand.players.part_sound import SoundPlan, sound_of_part, wav_bytes

ONE = Meter((1, 1), 4)
DRY = SoundPlan(section=None, timbre=None, count_in_counts=0, click_db=-6.0)


def part_of(*strokes, times=1, dynamic=None, swing_percent=50, places=2, tempo_bpm=60):
    """Return a part of one section of one bar of two quarters."""
    bar = Bar(ONE, places, strokes)
    section = Section("a", (bar,), times, dynamic, None)
    return Part("", Fraction(tempo_bpm), Fraction(1, 4), swing_percent, (), (section,))


def played(part, plan=DRY):
    """Return the sound of a part from a fixed seed."""
    return sound_of_part(part, plan, np.random.default_rng(3))


def onsets_s(sound):
    """Return where the sound rises out of silence, from the first place."""
    loud = np.abs(sound.samples) > 0.02
    quiet_before = np.convolve(loud, np.ones(4800), mode="full")[: loud.size] - loud
    rises = np.flatnonzero(loud & (quiet_before < 0.5))
    return rises / WORK_RATE_HZ - sound.first_place_s


def rms(sound, at_s):
    """Return the level of 30 ms from a time on."""
    first = int((sound.first_place_s + at_s) * WORK_RATE_HZ)
    return float(np.sqrt(np.mean(sound.samples[first : first + 1440] ** 2)))


def pad(place, *marks):
    """Return a stroke on the pad."""
    return Stroke(place, "right hand", "pad", marks)


def test_strokes_sound_at_their_places():
    """Eighths at 60 sound half a second apart, each repeat a bar later."""
    found = onsets_s(played(part_of(pad(0), pad(1), pad(3), times=2)))
    np.testing.assert_allclose(found, [0.0, 0.5, 1.5, 2.0, 2.5, 3.5], atol=0.001)


def test_swing_is_played():
    """At 66 percent the second eighth of a pair comes late."""
    found = onsets_s(played(part_of(pad(0), pad(1), swing_percent=66)))
    np.testing.assert_allclose(found, [0.0, 0.66], atol=0.001)


def test_a_flam_begins_25_ms_before():
    """The soft stroke of a flam sounds before its place."""
    sound = played(part_of(pad(2, "flam")))
    np.testing.assert_allclose(onsets_s(sound), [0.975], atol=0.001)
    assert rms(sound, 1.0) > rms(sound, 0.975 - 0.0001) / 2


def test_accents_are_louder_and_ghost_notes_softer():
    """Accent, plain stroke and ghost note fall in this order."""
    sound = played(part_of(pad(0, "accent"), pad(1), pad(2, "ghost")))
    levels = [rms(sound, at_s) for at_s in (0.0, 0.5, 1.0)]
    assert levels[0] > 1.4 * levels[1] > 1.4 * 2.5 * levels[2]


def test_a_dynamic_is_a_level():
    """A soft section is softer by the decibels of the table."""
    soft, plain = (rms(played(part_of(pad(0), dynamic=d)), 0.0) for d in ("pp", "mp"))
    assert 20 * np.log10(plain / soft) == pytest.approx(8.0, abs=0.1)


def test_the_click_stands_on_every_count_after_its_count_in():
    """Two clicks before, then one a count; without a timbre only those before."""
    rest = part_of(times=2)
    with_click = SoundPlan(section=None, timbre="pip", count_in_counts=2, click_db=0.0)
    found = onsets_s(played(rest, with_click))
    np.testing.assert_allclose(found, [-2, -1, 0, 1, 2, 3], atol=0.002)
    only_before = SoundPlan(section=None, timbre=None, count_in_counts=2, click_db=0.0)
    np.testing.assert_allclose(onsets_s(played(rest, only_before)), [-2, -1], atol=0.002)


def test_one_section_keeps_the_tempo_before_it():
    """A section alone is played at the tempo and dynamic that hold there."""
    bar = Bar(ONE, 2, (pad(0), pad(2)))
    sections = (
        Section("a", (bar,), 1, "p", Fraction(120)),
        Section("b", (bar,), 2, None, None),
    )
    part = Part("", Fraction(60), Fraction(1, 4), 50, (), sections)
    plan = SoundPlan(section=1, timbre=None, count_in_counts=0, click_db=0.0)
    sound = played(part, plan)
    np.testing.assert_allclose(sound.bar_start_s - sound.first_place_s, [0.0, 1.0])
    np.testing.assert_allclose(onsets_s(sound), [0.0, 0.5, 1.0, 1.5], atol=0.001)


def test_an_open_hat_is_closed_by_the_foot():
    """The ringing stops where the foot closes the hat."""
    opened = Stroke(0, "right hand", "open hat")
    rings = played(part_of(opened))
    closed = played(part_of(opened, Stroke(1, "left foot", "foot hat")))
    assert rms(closed, 0.75) < 0.2 * rms(rings, 0.75)


def test_sound_never_clips_and_is_the_same_again():
    """Everything at once stays within the scale; a seed gives the same samples."""
    every = (
        Stroke(0, "right hand", "crash", ("accent",)),
        Stroke(0, "left hand", "snare", ("accent",)),
        Stroke(0, "right foot", "kick", ("accent",)),
        Stroke(0, "left foot", "kick", ("accent",)),
    )
    part = part_of(*every, dynamic="ff")
    assert np.abs(played(part).samples).max() <= 0.951
    np.testing.assert_array_equal(played(part).samples, played(part).samples)


def test_a_wav_holds_the_samples():
    """The file is 16 bits at 48 kHz, and within half a step of the samples."""
    import soundfile

    sound = played(part_of(pad(0)))
    read, rate = soundfile.read(io.BytesIO(wav_bytes(sound.samples)), dtype="float64")
    assert rate == WORK_RATE_HZ
    np.testing.assert_allclose(read * 32_768 / 32_767, sound.samples, atol=0.51 / 32_767)


def test_what_cannot_be_played_is_refused():
    """No such section, and more than half an hour."""
    with pytest.raises(BadNotation, match="section = 3: want 0 to 0"):
        played(part_of(), SoundPlan(section=3, timbre=None, count_in_counts=0, click_db=0.0))
    with pytest.raises(BadNotation, match="2000 s: want 1800 s at most"):
        played(part_of(times=1000))


@pytest.mark.timing
def test_five_minutes_are_rendered_in_a_few_seconds():
    """A form of five minutes of sixteenths on four limbs takes less than 8 s."""
    strokes = [Stroke(p, "right hand", "hat") for p in range(8)]
    strokes += [Stroke(4, "left hand", "snare"), Stroke(0, "right foot", "kick")]
    part = part_of(*strokes, places=4, times=260, tempo_bpm=104)
    plan = SoundPlan(section=None, timbre="low wood", count_in_counts=4, click_db=-6.0)
    start_s = time.perf_counter()
    sound = played(part, plan)
    assert time.perf_counter() - start_s < 8
    assert sound.samples.size / WORK_RATE_HZ > 300
