"""Checks of a round on the disk: whatever stops the program, what came is there."""

import json
import os
import time

import numpy as np
import pytest

from loosehand.errors import DiskFull, StoreError
from loosehand.web.live import journal as journal_module
from loosehand.web.live.journal import (
    drop_workout,
    journals_in,
    keep_check,
    kept_check,
    new_journal,
    open_journal,
)

HEAD = {"workout": "w" * 32, "round": "r" * 32, "page": "p", "more": [1.5, None, "ü"]}
SOUND = np.array([0, 1, -1, 2**23 - 1, -(2**23), 5], dtype=np.int32)


@pytest.fixture
def journal(tmp_path):
    """A journal with six samples and two strokes."""
    made = new_journal(tmp_path, HEAD)
    made.append(SOUND[:4])
    made.append(SOUND[4:])
    made.append_stroke({"frame": 1.5, "note": 38, "velocity": 90})
    made.append_stroke({"frame": 2.5, "note": 38, "velocity": 91})
    yield made
    made.close()


def sound_of(journal):
    """All samples of a journal."""
    return np.concatenate([*journal.blocks(), np.zeros(0, dtype=np.int32)])


def test_what_was_written_is_there_at_once(journal):
    """Another reader finds head, sound and strokes while the round goes on."""
    other = open_journal(journal.folder)
    assert other.head == HEAD
    assert other.samples == journal.samples == 6
    assert np.array_equal(sound_of(other), SOUND)
    assert [stroke["velocity"] for stroke in other.strokes()] == [90, 91]
    assert other.how_it_ended() is None
    other.close()


def test_a_journal_lies_under_its_workout(journal, tmp_path):
    """A round's folder is named by its workout and its key, and is its owner's alone."""
    assert journal.folder == tmp_path / "live" / ("w" * 32) / ("r" * 32)
    assert journals_in(tmp_path) == [journal.folder]
    if os.name == "posix":
        assert journal.folder.stat().st_mode & 0o077 == 0
        assert (journal.folder / "sound.i32").stat().st_mode & 0o077 == 0


def test_samples_are_whole_little_endian_words(journal):
    """What lies on the disk can be read without this program."""
    data = (journal.folder / "sound.i32").read_bytes()
    assert np.array_equal(np.frombuffer(data, dtype="<i4"), SOUND)


@pytest.mark.parametrize("torn", [1, 2, 3])
def test_a_torn_write_is_cut_to_whole_samples(journal, torn):
    """Part of a sample at the end is dropped; what is written then follows the last whole one."""
    journal.close()
    with (journal.folder / "sound.i32").open("ab") as stream:
        stream.write(b"\x01\x02\x03"[:torn])
    again = open_journal(journal.folder)
    assert again.samples == 6
    again.append(SOUND)
    assert np.array_equal(sound_of(again), [*SOUND, *SOUND])
    again.close()


@pytest.mark.parametrize(
    ("torn", "kept"),
    [(b"{", []), (b'{"frame": 3.5, "no', []), (b'{"frame": 3.5, "velocity": 99}', [99])],
)
def test_a_torn_stroke_takes_no_other_with_it(journal, torn, kept):
    """A line that was cut short is left out; strokes before it and after it are there."""
    journal.close()
    with (journal.folder / "strokes.jsonl").open("ab") as stream:
        stream.write(torn)
    again = open_journal(journal.folder)
    again.append_stroke({"frame": 4.5, "note": 38, "velocity": 92})
    assert [stroke["velocity"] for stroke in again.strokes()] == [90, 91, *kept, 92]
    again.close()


def test_more_sound_than_a_block_comes_back_whole(tmp_path, monkeypatch):
    """Blocks are read one after the other to the end."""
    monkeypatch.setattr(journal_module, "_BLOCK_SAMPLES", 7)
    made = new_journal(tmp_path, HEAD)
    whole = np.arange(100, dtype=np.int32)
    made.append(whole)
    sizes = [block.size for block in made.blocks()]
    assert sizes == [7] * 14 + [2]
    assert np.array_equal(sound_of(made), whole)
    made.close()


def test_how_a_round_ended_is_kept(journal):
    """Once a round is over its journal says how, whoever opens it."""
    journal.end({"ended": None, "void": "device", "capture": {"frames_lost": 3}})
    journal.close()
    again = open_journal(journal.folder)
    assert again.how_it_ended() == {"ended": None, "void": "device", "capture": {"frames_lost": 3}}
    again.close()


def test_an_end_that_was_not_written_whole_is_none(journal):
    """An end is there whole or not at all: a passing file does not count."""
    (journal.folder / "end.passing").write_bytes(b'{"ended"')
    assert journal.how_it_ended() is None
    (journal.folder / "end.json").write_bytes(b'{"ended"')
    assert journal.how_it_ended() is None


@pytest.mark.parametrize("data", [None, b"", b"[]", b"{", b"\xff\xfe"])
def test_a_journal_without_a_head_is_none(tmp_path, data):
    """Where the program stopped before the head was written there is no journal to open."""
    folder = tmp_path / "live" / "w" / "r"
    folder.mkdir(parents=True)
    if data is not None:
        (folder / "head.json").write_bytes(data)
    assert open_journal(folder) is None
    assert not (folder / "sound.i32").exists()


def test_a_round_that_begins_again_goes_on(journal, tmp_path):
    """A journal of the same key keeps what it holds."""
    again = new_journal(tmp_path, HEAD)
    assert again.samples == 6
    again.close()


def test_a_journal_that_is_filed_goes(journal, tmp_path):
    """A dropped journal leaves nothing; dropping it twice does no harm."""
    journal.drop()
    journal.drop()
    assert not journal.folder.exists()
    assert journals_in(tmp_path) == []


def test_journals_are_found_in_order(tmp_path):
    """All rounds of all workouts are found; files beside them are none."""
    for workout, key in (("b", "2"), ("a", "9"), ("b", "1")):
        new_journal(tmp_path, HEAD | {"workout": workout, "round": key}).close()
    keep_check(tmp_path, "a", "p", {})
    live = tmp_path / "live"
    assert journals_in(tmp_path) == [live / "a" / "9", live / "b" / "1", live / "b" / "2"]


def test_no_journals_where_none_were(tmp_path):
    """A studio that never had a stand has no journals."""
    assert journals_in(tmp_path) == []


def test_a_check_is_kept_for_its_page(tmp_path):
    """A page finds its own sound check again, and nobody else's."""
    assert kept_check(tmp_path, "w", "page 1") is None
    keep_check(tmp_path, "w", "page 1", {"floor": "AAAA"})
    assert kept_check(tmp_path, "w", "page 1") == {"floor": "AAAA"}
    assert kept_check(tmp_path, "w", "page 2") is None
    assert kept_check(tmp_path, "v", "page 1") is None
    keep_check(tmp_path, "w", "page 2", {"floor": "BBBB"})
    assert kept_check(tmp_path, "w", "page 1") is None


def test_a_workout_that_is_over_leaves_nothing(tmp_path):
    """The check goes with its workout; a round that is not filed yet stays."""
    keep_check(tmp_path, "w", "p", {})
    drop_workout(tmp_path, "w")
    assert not (tmp_path / "live" / "w").exists()
    keep_check(tmp_path, "w", "p", {})
    new_journal(tmp_path, HEAD | {"workout": "w"}).close()
    drop_workout(tmp_path, "w")
    assert len(journals_in(tmp_path)) == 1
    assert kept_check(tmp_path, "w", "p") is None
    drop_workout(tmp_path, "never")


@pytest.mark.parametrize(
    ("number", "error"), [(28, DiskFull), (5, StoreError)], ids=["no room", "broken disk"]
)
def test_what_the_disk_says_is_one_sentence(journal, monkeypatch, number, error):
    """A full or a broken disk is said as such, and what was kept before stays."""

    def fail(*_args):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", fail)
        with pytest.raises(error):
            journal.append(SOUND)
        with pytest.raises(error):
            journal.append_stroke({})
    assert journal.samples == 6
    assert np.array_equal(sound_of(journal), SOUND)


def test_a_write_that_takes_only_part_goes_on(journal, monkeypatch):
    """Where the system takes a few bytes at a time, all of them arrive."""
    write = os.write
    with monkeypatch.context() as patch:
        patch.setattr(os, "write", lambda handle, data: write(handle, bytes(data[:5])))
        journal.append(SOUND)
    assert np.array_equal(sound_of(journal), [*SOUND, *SOUND])


def test_the_sound_reaches_the_disk_every_second(journal, monkeypatch):
    """No more than about a second of sound waits for the disk itself."""
    synced = []
    now_s = [time.monotonic()]
    with monkeypatch.context() as patch:
        patch.setattr(journal_module.time, "monotonic", lambda: now_s[0])
        patch.setattr(os, "fsync", synced.append)
        for _ in range(40):
            now_s[0] += 0.25
            journal.append(SOUND)
    assert 7 <= len(synced) <= 10


def test_what_is_kept_is_plain_json(journal):
    """The head on the disk is what was given."""
    assert json.loads((journal.folder / "head.json").read_text()) == HEAD


@pytest.mark.parametrize("fails", ["write", "fsync"])
def test_what_is_not_kept_whole_is_not_kept(journal, monkeypatch, fails):
    """A disk that fills in mid-write leaves no part of it: what follows stays in its place."""
    write, journal._synced_s = os.write, -100.0
    taken = []

    def fill_up(handle, data):
        if taken:
            raise OSError(28, os.strerror(28))
        taken.append(data)
        return write(handle, bytes(data[:5]))

    def no_room(_handle):
        raise OSError(28, os.strerror(28))

    with monkeypatch.context() as patch:
        patch.setattr(os, fails, fill_up if fails == "write" else no_room)
        with pytest.raises(DiskFull):
            journal.append(SOUND)
    assert journal.samples == 6
    journal.append(SOUND[:2])
    assert np.array_equal(sound_of(journal), [*SOUND, *SOUND[:2]])


def test_an_end_that_finds_no_room_is_remembered(journal, monkeypatch):
    """Where a full disk takes no end the journal still tells it, while the program runs."""

    def no_room(*_args):
        raise OSError(28, os.strerror(28))

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", no_room)
        with pytest.raises(DiskFull):
            journal.end({"void": None})
    assert journal.how_it_ended() == {"void": None}
    assert open_journal(journal.folder).how_it_ended() is None
