"""Checks of blocks becoming sound: nothing twice, and silence where something was lost."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.web.live.capture import Capture, Recent
from loosehand.web.live.wire import SoundBlock

START = 1000
SOUND = np.arange(1, 401, dtype=np.int32)


def block_at(first, end):
    """The block of the sound from one of its samples to another."""
    return SoundBlock(START + first, SOUND[max(first, 0) : end])


def pushed(capture, *blocks):
    """All that some blocks add."""
    return np.concatenate([capture.push(block) for block in blocks])


def new_capture():
    """A capture that begins with the sound."""
    return Capture(START, START)


@given(cuts=st.sets(st.integers(1, 399), max_size=30))
def test_blocks_of_any_size_are_the_sound(cuts):
    """However it was cut, the sound comes out whole, and nothing is said to be lost."""
    edges = [0, *sorted(cuts), 400]
    blocks = [block_at(*pair) for pair in pairwise(edges)]
    capture = new_capture()
    assert np.array_equal(pushed(capture, *blocks), SOUND)
    assert (capture.next_frame, capture.lost_frames, capture.repeated_frames) == (START + 400, 0, 0)


@given(
    cuts=st.sets(st.integers(1, 399), max_size=12),
    again=st.lists(st.tuples(st.integers(0, 399), st.integers(1, 400)), max_size=8),
)
def test_what_is_sent_again_is_taken_once(cuts, again):
    """Whatever of the past is sent again between blocks, the sound comes out once."""
    edges = [0, *sorted(cuts), 400]
    capture = new_capture()
    parts = []
    for first, end in pairwise(edges):
        parts.append(capture.push(block_at(first, end)))
        for old, size in again:
            if old < end:
                parts.append(capture.push(block_at(old, min(old + size, end))))
    assert np.array_equal(np.concatenate(parts), SOUND)
    assert capture.lost_frames == 0
    # Every sample that came more often than once is counted each further time.
    sent = sum(
        max(min(old + size, end) - old, 0) for end in edges[1:] for old, size in again if old < end
    )
    assert capture.repeated_frames == sent


def test_an_overlap_adds_only_what_is_new():
    """Of a block that is known in part only the rest is taken."""
    capture = new_capture()
    assert pushed(capture, block_at(0, 100), block_at(60, 150)).tolist() == SOUND[:150].tolist()
    assert capture.repeated_frames == 40


@given(gap=st.integers(1, 300))
def test_silence_stands_for_what_was_lost(gap):
    """Lost frames are silent, so that what follows stays in its place, and are counted."""
    capture = new_capture()
    sound = pushed(capture, block_at(0, 50), block_at(50 + gap, 400))
    assert sound.size == 400
    assert np.array_equal(sound[:50], SOUND[:50])
    assert not np.any(sound[50 : 50 + gap])
    assert np.array_equal(sound[50 + gap :], SOUND[50 + gap :])
    assert (capture.lost_frames, capture.longest_gap) == (gap, gap)


def test_the_longest_gap_is_told_of_several():
    """Frames lost are added up; the longest gap is told on its own."""
    capture = new_capture()
    pushed(capture, block_at(0, 10), block_at(15, 20), block_at(40, 50), block_at(52, 60))
    assert (capture.lost_frames, capture.longest_gap) == (27, 20)


def test_what_comes_late_stays_lost():
    """A block out of order finds silence in its place: sound that was heard is not changed."""
    capture = new_capture()
    sound = pushed(capture, block_at(0, 100), block_at(200, 300), block_at(100, 200))
    assert sound.tolist() == [*SOUND[:100], *([0] * 100), *SOUND[200:300]]
    assert (capture.lost_frames, capture.repeated_frames) == (100, 100)


def test_a_block_from_before_the_start_is_cut():
    """What lies before the first frame is left out, and was not sent twice."""
    capture = new_capture()
    early = SoundBlock(START - 60, np.full(100, 9, dtype=np.int32))
    assert capture.push(early).tolist() == [9] * 40
    assert (capture.repeated_frames, capture.lost_frames) == (0, 0)
    assert capture.next_frame == START + 40


@pytest.mark.parametrize("gap", [2**21, 2**40, 2**49])
def test_a_leap_of_the_clock_fills_no_memory(gap):
    """Where a page's clock leaps the frames are lost, and only some of them are filled."""
    capture = new_capture()
    added = capture.push(SoundBlock(START + gap, SOUND))
    assert added.size < 2**21
    assert np.array_equal(added[-400:], SOUND)
    assert (capture.lost_frames, capture.longest_gap) == (gap, gap)
    assert capture.next_frame == START + gap + 400


def test_the_last_moments_are_kept():
    """At least so many frames are kept, and no more than a block beyond."""
    recent = Recent(100)
    for first in range(0, 400, 30):
        recent.push(block_at(first, min(first + 30, 400)))
        kept = recent.since(0)
        size = sum(block.samples.size for block in kept)
        assert min(first + 30, 100) <= size < 100 + 30 or first >= 390
        assert kept[-1].samples[-1] == SOUND[min(first + 30, 400) - 1]


@given(frame=st.integers(START - 50, START + 450))
def test_the_past_is_told_from_a_frame_on(frame):
    """From any frame on, what is kept comes in order and cut to it."""
    recent = Recent(1000)
    for first in range(0, 400, 64):
        recent.push(block_at(first, min(first + 64, 400)))
    blocks = recent.since(frame)
    sound = np.concatenate([block.samples for block in blocks]) if blocks else SOUND[:0]
    assert np.array_equal(sound, SOUND[max(frame - START, 0) :])
    for block in blocks:
        assert block.samples[0] == SOUND[block.frame - START]
