"""Channels are mixed so that none cancels another and none waters another down."""

import numpy as np
import pytest

from loosehand.hear.mixdown import mix, mix_weights, mono_blocks
from tests.hear.recordings import click_train

CLICKS = click_train(48000)


def _mono(wide, *, look_frames=48000, block=10_000):
    turned = []
    blocks = [wide[start : start + block] for start in range(0, len(wide), block)]
    mixed = list(mono_blocks(blocks, look_frames=look_frames, turned=turned))
    return np.concatenate(mixed), turned


def test_equal_channels_mix_to_themselves():
    """Two equal channels give the same samples."""
    mono, turned = _mono(np.stack([CLICKS, CLICKS], axis=1))
    assert np.allclose(mono, CLICKS)
    assert turned == []


def test_an_opposite_channel_is_turned_over():
    """The louder of two opposite channels says which way is up."""
    mono, turned = _mono(np.stack([-0.5 * CLICKS, CLICKS], axis=1))
    assert np.allclose(mono, 0.75 * CLICKS, atol=1e-7)
    assert turned == [1]


def test_unlike_channels_are_both_kept():
    """A click on one channel and a stick on the other are both in the mix."""
    stick, click = np.zeros((2, 48000), np.float32)
    stick[1000], click[5000] = 0.5, -0.4
    mono, turned = _mono(np.stack([stick, click], axis=1))
    assert (mono[1000], mono[5000]) == (pytest.approx(0.25), pytest.approx(-0.2))
    assert turned == []


def test_silent_channels_do_not_count():
    """The mean is over the channels that carry sound."""
    wide = np.zeros((CLICKS.size, 8), np.float32)
    wide[:, 3] = CLICKS
    assert mix_weights(wide).tolist() == [1.0] * 8


def test_silence_has_weights_too():
    """Nothing but silence is a plain mean, and no division by nought."""
    assert mix_weights(np.zeros((10, 4), np.float32)).tolist() == [0.25] * 4
    mono, turned = _mono(np.zeros((30_000, 2), np.float32))
    assert (mono.size, float(np.abs(mono).max()), turned) == (30_000, 0.0, [])


def test_phase_is_judged_from_sound_not_from_the_silence_before():
    """A long silence at the start does not use up the look ahead."""
    wide = np.zeros((200_000, 2), np.float32)
    wide[150_000:, 0] = CLICKS[:50_000]
    wide[150_000:, 1] = -CLICKS[:50_000]
    mono, turned = _mono(wide, look_frames=20_000)
    assert np.allclose(mono[150_000:], CLICKS[:50_000])
    assert turned == [2]


def test_silence_at_the_start_is_not_held_back():
    """Silent blocks go by one at a time, however many: memory stays bounded."""
    handed_in = 0

    def silent():
        nonlocal handed_in
        for _ in range(1000):
            handed_in += 1
            yield np.zeros((1000, 2), np.float32)

    mono = mono_blocks(silent(), look_frames=48000, turned=[])
    for number, _ in enumerate(mono, start=1):
        assert handed_in == number


def test_weights_stay_for_the_whole_take():
    """The mix does not depend on how the sound is cut into blocks, once looked at."""
    wide = np.random.default_rng(4).normal(0.0, 0.1, (60_000, 3)).astype(np.float32)
    assert np.array_equal(
        _mono(wide, block=5000, look_frames=20_000)[0],
        _mono(wide, block=20_000, look_frames=20_000)[0],
    )
    assert np.allclose(mix(wide, np.float32([0, 1, 0])), wide[:, 1])
