"""Gaps in time stamps become silence, and nothing else does."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.hear.timeline import GapLog, Piece, drop_start, end_at, fill_gaps, regroup

RATE = 48000


def _pieces(stamps, *, frames=960):
    return [Piece(stamp, np.full((frames, 1), number + 1, np.float32)) for number, stamp in stamps]


def _stamped(stamps, *, frames=960):
    return _pieces(list(enumerate(stamps)), frames=frames)


def _filled(pieces, *, tick_frames=1.0):
    log = GapLog()
    blocks = list(fill_gaps(pieces, sample_rate_hz=RATE, tick_frames=tick_frames, log=log))
    return np.concatenate(blocks)[:, 0], log


def test_pieces_without_gaps_pass_unchanged():
    """Stamps that follow on put nothing in, wherever they begin."""
    for start in (0, 1105, -312, 10_000_000):
        samples, log = _filled(_stamped([start + 960 * n for n in range(5)]))
        assert samples.size == 5 * 960
        assert log == GapLog()


def test_pieces_without_stamps_pass_unchanged():
    """Without stamps there are no gaps."""
    assert _filled(_stamped([None] * 4))[0].size == 4 * 960


def test_a_lost_piece_becomes_silence_of_its_length():
    """A jump by one piece is one piece of silence, in its place."""
    samples, log = _filled(_stamped([0, 960, 2880, 3840]))
    assert samples[1920:2880].tolist() == [0.0] * 960
    assert samples[2880] == 3.0
    assert (log.filled, log.silence_frames, log.left) == (1, 960, 0)


def test_coarse_stamps_still_give_whole_pieces():
    """Stamps rounded to a millisecond give back the whole packets that were lost."""
    lost = {7, 8, 20}
    stamps = [round(n * 960 / 48) * 48 + 13 for n in range(40) if n not in lost]
    samples, log = _filled(_stamped(stamps), tick_frames=48.0)
    assert samples.size == 40 * 960
    assert log.silence_frames == 3 * 960


def test_rounding_of_stamps_is_no_gap():
    """Pieces of 648 and 1,024 frames at whole milliseconds drift by no more than a tick."""
    stamps = [np.floor(n * 1024 / 48) * 48 for n in range(200)]
    assert _filled(_stamped(stamps, frames=1024), tick_frames=48.0)[1] == GapLog()


def test_slow_drift_of_the_stamps_is_followed():
    """A recorder whose clock runs 200 ppm off its samples has lost nothing."""
    stamps = [960 * n * 1.0002 for n in range(5000)]
    assert _filled(_stamped(stamps))[1] == GapLog()


def test_one_wrong_stamp_moves_nothing():
    """A stamp that the next one takes back is no gap."""
    stamps = [0, 960, 1920 + 700, 2880, 3840]
    assert _filled(_stamped(stamps))[1] == GapLog()


def test_an_unbelievable_jump_is_left_alone():
    """A jump by hours is a broken stamp: no hours of silence, and it is counted."""
    samples, log = _filled(_stamped([0, 960, 10**9, 10**9 + 960]))
    assert samples.size == 4 * 960
    assert (log.filled, log.left) == (0, 1)


def test_silence_is_bounded_altogether():
    """However many jumps there are, no more than ten minutes of silence are put in."""
    stamps, stamp = [], 0
    for _ in range(30):
        stamps += [stamp, stamp + 960]
        stamp += 1920 + 50 * RATE
    samples, log = _filled(_stamped(stamps))
    assert log.silence_frames <= 600 * RATE
    assert log.left > 0
    assert samples.size == 60 * 960 + log.silence_frames


@given(st.lists(st.integers(0, 3), min_size=1, max_size=30))
def test_every_piece_lands_where_its_stamp_says(lost_before):
    """With exact stamps, each piece begins at its stamp counted from the first."""
    stamps = list(np.cumsum([960 * (1 + lost) for lost in lost_before]))
    samples, _ = _filled(_stamped(stamps))
    for number, stamp in enumerate(stamps):
        assert samples[stamp - stamps[0]] == number + 1


def test_only_the_last_block_is_shortened():
    """Padding in the last block is cut; a file longer than it says is left whole."""
    blocks = [np.ones((100, 2), np.float32)] * 3
    assert sum(map(len, end_at(blocks, 250))) == 250
    assert sum(map(len, end_at(blocks, 150))) == 300
    assert sum(map(len, end_at(blocks, 400))) == 300
    assert sum(map(len, end_at(blocks, None))) == 300
    assert list(end_at([], 5)) == []


@given(st.lists(st.integers(1, 50), max_size=10), st.integers(0, 300))
def test_dropping_the_start_leaves_the_rest(lengths, dropped):
    """What is left is what was there, less the first frames."""
    whole = np.arange(sum(lengths), dtype=np.float32)[:, None]
    blocks = np.split(whole, np.cumsum(lengths)[:-1]) if lengths else []
    rest = list(drop_start(blocks, dropped))
    assert np.array_equal(np.concatenate([np.zeros((0, 1)), *rest]), whole[dropped:])


@pytest.mark.parametrize("least_frames", [1, 64, 1000])
def test_regrouping_changes_no_sample(least_frames):
    """Blocks joined hold the same samples, all but the last of the least length."""
    whole = np.arange(777, dtype=np.float32)[:, None]
    joined = list(regroup(np.array_split(whole, 40), least_frames=least_frames))
    assert np.array_equal(np.concatenate(joined), whole)
    assert all(len(block) >= least_frames for block in joined[:-1])
