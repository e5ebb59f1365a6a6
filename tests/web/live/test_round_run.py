"""Checks of a round while it runs."""

import os
from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy import select

from loosehand.errors import DiskFull
from loosehand.studio.models import Take
from loosehand.web.live.head import head_from_json
from loosehand.web.live.journal import new_journal, open_journal
from loosehand.web.live.round_run import RoundRun, sound_of
from loosehand.web.live.wire import SoundBlock
from tests.web.live.conftest import workout_of
from tests.web.live.page_and_room import BLOCK, steady


def a_head(stand):
    """The head of a round that a page has just begun."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=lambda planned: steady(planned["counts"], 4))
    page.arm()
    stand.play(page, until=lambda each: each.state["phase"] == "round")
    return seat.sitting.run.head


def blocks_of(head, *, size, seed=5, samples=96_000):
    """Two seconds of a round's sound, in blocks."""
    rng = np.random.default_rng(seed)
    sound = rng.integers(-200_000, 200_000, samples).astype(np.int32)
    return [
        SoundBlock(head.start_frame + first, sound[first : first + size])
        for first in range(0, samples, size)
    ], sound


def test_samples_go_to_the_journal_first(stand, tmp_path):
    """What was pushed is on the disk at once, sample for sample."""
    head = a_head(stand)
    journal = new_journal(tmp_path, head.to_json())
    run = RoundRun(head, journal)
    blocks, sound = blocks_of(head, size=BLOCK)
    for block in blocks:
        run.push_block(block)
    assert np.array_equal(np.concatenate(list(journal.blocks())), sound)
    assert run.now_s == pytest.approx(2.0)


def test_a_round_goes_on_from_its_journal(stand, tmp_path):
    """A round that is opened again is where it was, and takes what is sent again only once."""
    head = a_head(stand)
    journal = new_journal(tmp_path, head.to_json())
    blocks, sound = blocks_of(head, size=BLOCK)
    first = RoundRun(head, journal)
    for block in blocks[:100]:
        first.push_block(block)
    journal.close()
    again_journal = new_journal(tmp_path, head.to_json())
    again = RoundRun(head_from_json(head.to_json()), again_journal)
    assert again.now_s == first.now_s
    assert again.watched == first.watched
    for block in blocks[90:]:
        again.push_block(block)
    assert np.array_equal(np.concatenate(list(again_journal.blocks())), sound)
    assert again.capture_facts()["frames_lost"] == 0


def test_a_gap_is_filled_with_silence_and_counted(stand, tmp_path):
    """Frames that never came are silence in the take; a quarter of a second of them is too much."""
    head = a_head(stand)
    run = RoundRun(head, new_journal(tmp_path, head.to_json()))
    blocks, sound = blocks_of(head, size=BLOCK)
    for block in [*blocks[:10], *blocks[12:]]:
        run.push_block(block)
    kept = np.concatenate(list(run.journal.blocks()))
    assert kept.size == sound.size
    assert not kept[10 * BLOCK : 12 * BLOCK].any()
    assert run.capture_facts()["frames_lost"] == 2 * BLOCK
    assert not run.broke_off
    run.push_block(SoundBlock(head.start_frame + 200_000, np.ones(8, dtype=np.int32)))
    assert run.broke_off


def test_sound_is_what_is_read_back():
    """Samples as sound are exact: whole numbers over two to the 23."""
    samples = np.array([-(2**23), -1, 0, 1, 2**23 - 1], dtype=np.int32)
    sound = sound_of(samples)
    assert sound.dtype == np.float32
    assert np.array_equal(sound.astype(np.float64) * 2**23, samples)


def test_the_take_tells_how_it_was_captured(stand):
    """With the take stand the microphone's settings, the way of the click, and what was lost."""
    seat = stand.seat(stand.begin(workout_of()))
    page = stand.page(seat, play_round=lambda planned: steady(planned["counts"], 4))
    page.arm()
    stand.play(page, until=lambda each: each.results)
    with stand.studio.look() as session:
        capture = session.scalars(select(Take)).one().told["capture"]
    assert capture["listens"] == "microphone"
    assert capture["settings"]["echoCancellation"] is False
    assert capture["round_trip_s"] == pytest.approx(0.043, abs=1e-4)
    assert capture["residual_s"] < 1e-3


def test_a_block_that_found_no_room_may_come_again(stand, tmp_path, monkeypatch):
    """A block that a full disk did not take is not counted as taken: sent again, it is there."""
    head = a_head(stand)
    journal = new_journal(tmp_path, head.to_json())
    run = RoundRun(head, journal)
    blocks, sound = blocks_of(head, size=BLOCK)

    def no_room(*_args):
        raise OSError(28, os.strerror(28))

    for block in blocks[:20]:
        run.push_block(block)
    with monkeypatch.context() as patch:
        patch.setattr(os, "write", no_room)
        for block in blocks[20:30]:
            with pytest.raises(DiskFull):
                run.push_block(block)
    for block in blocks[20:]:
        run.push_block(block)
    assert np.array_equal(np.concatenate(list(journal.blocks())), sound)
    assert run.capture.lost_frames == run.capture.repeated_frames == 0


def test_a_stroke_of_a_pad_that_is_sent_again_is_taken_once(stand, tmp_path):
    """After a break of the line a page sends its strokes again: each is one, also anew."""
    head = replace(a_head(stand), listens="pad", acoustics=None)
    journal = new_journal(tmp_path, head.to_json())
    run = RoundRun(head, journal)
    strokes = [{"frame": head.start_frame + 9_000.25 * k, "note": 38} for k in range(1, 5)]
    for stroke in [*strokes[:3], *strokes]:
        run.push_pad(**stroke, velocity=90)
    again = RoundRun(head, open_journal(journal.folder))
    for stroke in strokes:
        again.push_pad(**stroke, velocity=90)
    assert [each["frame"] for each in journal.strokes()] == [each["frame"] for each in strokes]
