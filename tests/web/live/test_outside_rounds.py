"""Checks of what is listened to outside rounds."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.hear.sound_check import SoundCheck
from loosehand.web.live.clicks import CHECK_LENGTH_S
from loosehand.web.live.outside_rounds import CheckSound, IdleEar, own_level_db
from loosehand.web.live.wire import SoundBlock
from tests.web.live.page_and_room import RATE_HZ, knock

SIZE = 1024
CHECK = SoundCheck(np.full(11, 1e-9, dtype=np.float32), -72.0, None, 4, -20.0, None, 0.0)


def blocks_of(sound, first=10_000):
    """A sound in blocks."""
    whole = np.rint(sound * 2**23).astype(np.int32)
    return [SoundBlock(first + at, whole[at : at + SIZE]) for at in range(0, whole.size, SIZE)]


def test_a_check_is_complete_after_ten_seconds():
    """The sound of a check is that of its ten seconds, from its first frame on."""
    rng = np.random.default_rng(1)
    sound = rng.uniform(-0.5, 0.5, int(11 * RATE_HZ))
    check = CheckSound(10_000 + 500, 10_000 + 12_500, RATE_HZ)
    for block in blocks_of(sound):
        if not check.complete:
            check.push(block)
    kept = check.sound()
    assert kept.size == int(CHECK_LENGTH_S * RATE_HZ)
    assert np.abs(kept - sound[500 : 500 + kept.size]).max() < 2.0**-23


def test_strokes_are_told_by_the_page_s_clock():
    """Strokes outside rounds are told at their frames, whatever was lost before them."""
    rng = np.random.default_rng(2)
    sound = rng.normal(0.0, 1e-4, 4 * RATE_HZ)
    at = (0.5 + 0.8 * np.arange(4)) * RATE_HZ
    for first in at.astype(int):
        wave = knock(rng, 1.0)
        sound[first : first + wave.size] += wave
    blocks = blocks_of(sound)
    del blocks[40:44]
    ear = IdleEar(10_000, RATE_HZ, CHECK)
    told = np.array([time_s for block in blocks for time_s, _ in ear.push(block)])
    assert told * RATE_HZ - 10_000 == pytest.approx(at, abs=0.002 * RATE_HZ)


def test_the_players_level_is_guessed_where_none_was_struck():
    """Without strokes in the check their level is guessed from the room's."""
    assert own_level_db(CHECK) == -20.0
    assert own_level_db(replace(CHECK, own_level_db=None)) == -42.0
