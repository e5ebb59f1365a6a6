"""Checks of the stored sound as it is looked at and played."""

import numpy as np
import pytest

from loosehand.errors import NotFound, StoreError
from loosehand.studio.sound import incoming_sound, keep
from loosehand.studio.take_sound import CountTimes, as_recorded, waveform, with_click, without_click
from tests.hear.scenes import RATE_HZ
from tests.studio.take_scenes import COUNT_S, COUNTS, FIRST_S, click_times_s, take_samples

COUNT_TIMES = CountTimes(FIRST_S, COUNT_S, COUNTS)


def stored(studio, samples):
    """Keep a sound as the studio does, and return its path."""
    with incoming_sound(studio.folder, [samples], sample_rate_hz=RATE_HZ) as incoming:
        return keep(studio.folder, incoming)


def whole(sound):
    """All samples of a sound."""
    return np.concatenate(list(sound.stretches(0, sound.frames)))


def power(samples):
    """Mean power."""
    return float(np.mean(np.square(samples, dtype=np.float64)))


def test_the_waveform_shows_the_extremes(studio):
    """Each column holds the lowest and the highest sample of its share of the sound."""
    samples = take_samples()
    extent = waveform(stored(studio, samples), columns=100)
    shares = np.array_split(samples, 100)
    # The edges of the shares may lie a sample apart: the extremes of a wide share agree.
    expected = np.array([[share.min(), share.max()] for share in shares])
    assert extent.shape == (100, 2)
    assert np.mean(np.abs(extent - expected) < 1e-3) > 0.97


def test_a_waveform_of_fewer_samples_than_columns(studio):
    """Columns without a sample of their own are nought."""
    path = stored(studio, np.full(3, 0.5, dtype=np.float32))
    extent = waveform(path, columns=10)
    assert np.count_nonzero(extent[:, 1]) == 3
    assert extent.max() == pytest.approx(0.5, abs=1e-4)


def test_any_stretch_is_a_part_of_the_whole(studio):
    """A stretch read by itself is the same as that part of the whole, whatever is added."""
    path = stored(studio, take_samples())
    for sound in (
        as_recorded(path),
        without_click(path, count_s=COUNT_S),
        with_click(path, COUNT_TIMES),
    ):
        first, end = 101_234, 187_654
        part = np.concatenate(list(sound.stretches(first, end)))
        assert np.allclose(part, whole(sound)[first:end], atol=1e-6)


def test_the_click_is_taken_out(studio):
    """Without its click the take is the strokes alone, the power of the click down by 12 dB."""
    path = stored(studio, take_samples())
    strokes_alone = take_samples(click=False)
    click = power(take_samples() - strokes_alone)
    left_over = power(whole(without_click(path, count_s=COUNT_S)) - strokes_alone)
    assert left_over < click / 16


def test_no_click_to_take_out(studio):
    """Where no click stands out, that is said."""
    path = stored(studio, take_samples(click=False))
    with pytest.raises(NotFound, match="no click stands out"):
        without_click(path, count_s=COUNT_S)


def test_a_clear_click_is_added_at_every_count(studio):
    """What is added sounds from each count on, 60 ms long, and nowhere else."""
    strokes = take_samples(click=False)
    sound = with_click(stored(studio, strokes), COUNT_TIMES)
    added = np.abs(whole(sound) / sound.gain - strokes)
    for at_s in click_times_s()[4:]:
        start = round(at_s * RATE_HZ)
        assert added[start : start + 400].max() > 0.1
        assert added[start - 4000 : start - 2].max() < 1e-3
    assert added[: round((FIRST_S - 0.001) * RATE_HZ)].max() < 1e-3


def test_the_added_click_fits(studio):
    """A sound near full scale and its click stay within full scale, without being cut."""
    loud = (0.97 * np.sin(np.arange(RATE_HZ) * 0.05)).astype(np.float32)
    sound = with_click(stored(studio, loud), CountTimes(0.0, 0.25, 4))
    assert np.max(np.abs(whole(sound))) < 0.99


def test_a_sound_that_cannot_be_read(tmp_path):
    """A damaged file is said in a sentence."""
    path = tmp_path / "x.flac"
    path.write_bytes(b"no sound")
    with pytest.raises(StoreError, match="cannot be read any more"):
        waveform(path, columns=10)
