"""Coded sound: read back, its times are the same."""

import numpy as np
import pytest

from loosehand.errors import BadNotation
from loosehand.hear.decode import read_mono
from loosehand.players.codec import SUFFIXES, encode

RATES = {".opus": (48_000,), ".webm": (48_000,)}
LOSSY = {".m4a": 64_000, ".mp3": 64_000, ".ogg": 64_000, ".opus": 96_000, ".webm": 96_000}
USUAL = (16_000, 22_050, 32_000, 44_100, 48_000)
CASES = [(suffix, rate) for suffix in SUFFIXES for rate in RATES.get(suffix, USUAL)]


def bursts(rate):
    """Three seconds with four bursts of 1.5 kHz of different lengths."""
    at_s = np.arange(3 * rate) / rate
    wave = np.zeros(at_s.size)
    for begin_s, length_s in ((0.3, 0.02), (0.91, 0.05), (1.77, 0.01), (2.5, 0.03)):
        into = (at_s >= begin_s) & (at_s < begin_s + length_s)
        wave[into] += 0.5 * np.sin(2 * np.pi * 1500 * (at_s[into] - begin_s))
    return wave.astype(np.float32)


def lag_s(reference, heard, rate):
    """How much later the one is than the other, to a fraction of a sample."""
    size = 1 << int(np.ceil(np.log2(reference.size + heard.size)))
    cross = np.fft.irfft(np.conj(np.fft.rfft(reference, size)) * np.fft.rfft(heard, size), size)
    index = int(np.argmax(cross))
    below, top, above = cross[index - 1], cross[index], cross[(index + 1) % size]
    shift = index + 0.5 * (below - above) / (below - 2 * top + above)
    return (shift - size if shift > size / 2 else shift) / rate


@pytest.mark.published(
    source="Truth planted by us", locator="coded sound read back", kind="simulated"
)
@pytest.mark.parametrize(("suffix", "rate"), CASES)
@pytest.mark.parametrize("channels", [1, 2])
def test_times_survive_the_codec(suffix, rate, channels, tmp_path):
    """Decoded from its first sample after priming, the sound lies within 0.05 ms."""
    wave = bursts(rate)
    samples = wave if channels == 1 else np.stack((wave, 0.8 * wave), axis=1)
    place = tmp_path / f"take{suffix}"
    place.write_bytes(encode(samples, rate, suffix=suffix, bit_rate=LOSSY.get(suffix, 0)))
    sound = read_mono(place, longest_s=60.0)
    assert sound.sample_rate_hz == rate
    assert abs(lag_s(wave, sound.samples, rate)) < 0.00005
    assert sound.samples.size / rate == pytest.approx(3.0, abs=0.15)


@pytest.mark.parametrize("suffix", [".opus", ".webm"])
@pytest.mark.parametrize("bit_rate", [16_000, 32_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_few_bits_move_times_by_less_than_a_tenth(suffix, bit_rate, channels, tmp_path):
    """Coded as speech, two channels come up to 0.08 ms early: less than a tenth of a ms."""
    wave = bursts(48_000)
    samples = wave if channels == 1 else np.stack((wave, 0.8 * wave), axis=1)
    place = tmp_path / f"take{suffix}"
    place.write_bytes(encode(samples, 48_000, suffix=suffix, bit_rate=bit_rate))
    sound = read_mono(place, longest_s=60.0)
    assert abs(lag_s(wave, sound.samples, 48_000)) < 0.0001


def test_fewer_bits_make_a_smaller_file():
    """Bits a second are what the file has."""
    noise = np.random.default_rng(1).normal(0.0, 0.1, 5 * 44_100).astype(np.float32)
    for suffix in (".m4a", ".mp3", ".ogg"):
        sizes = [
            len(encode(noise, 44_100, suffix=suffix, bit_rate=rate)) for rate in (32_000, 128_000)
        ]
        assert sizes[0] < 0.6 * sizes[1]


def test_an_unknown_kind_is_refused():
    """The message names those there are."""
    with pytest.raises(BadNotation, match=r"suffix = '\.xyz'"):
        encode(np.zeros(100, dtype=np.float32), 44_100, suffix=".xyz", bit_rate=0)
