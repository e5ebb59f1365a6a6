"""Takes whose truth is plain, and a way to run the command line as anybody does."""

import json
import subprocess
import sys
from dataclasses import dataclass

import mido
import pytest

from loosehand.cli import main

TICKS_PER_BEAT = 480
MICROSECONDS = 60_000_000


@dataclass(frozen=True)
class Done:
    """What came of a command."""

    status: int
    out: str
    err: str

    @property
    def object(self):
        """Return the JSON that was printed."""
        return json.loads(self.out)

    def refused(self, status):
        """Whether it was refused in one sentence, with that status, and nothing else said."""
        one_sentence = self.err.count("\n") == 1 and self.err.startswith("loosehand: ")
        return (self.status, self.out, one_sentence) == (status, "", True)


@pytest.fixture
def in_process(tmp_path, monkeypatch, capsys):
    """Return a function that runs the command line within the tests, for speed."""
    monkeypatch.chdir(tmp_path)

    def run(*words):
        status = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return Done(status, out, err)

    return run


@pytest.fixture
def loosehand(tmp_path):
    """Return a function that runs the command line in a process of its own."""

    def run(*words, stdin=None):
        done = subprocess.run(
            [sys.executable, "-m", "loosehand", *map(str, words)],
            capture_output=True,
            encoding="utf-8",
            timeout=120,
            cwd=tmp_path,
            input=stdin,
        )
        assert "Traceback" not in done.stderr
        return Done(done.returncode, done.stdout, done.stderr)

    return run


def write_midi(
    path, *, tempo_bpm, counts, note=38, places_per_count=4, lead_counts=0, silent_counts=0
):
    """Write a MIDI file of somebody who plays every place of some counts exactly, then stops."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=round(MICROSECONDS / tempo_bpm), time=0))
    step = TICKS_PER_BEAT // places_per_count
    wait = lead_counts * TICKS_PER_BEAT
    for _ in range(counts * places_per_count):
        track.append(mido.Message("note_on", note=note, velocity=90, time=wait))
        track.append(mido.Message("note_off", note=note, velocity=0, time=step // 2))
        wait = step - step // 2
    rest = step // 2 + silent_counts * TICKS_PER_BEAT
    track.append(mido.MetaMessage("end_of_track", time=rest))
    mido.MidiFile(ticks_per_beat=TICKS_PER_BEAT, tracks=[track]).save(path)
    return path


@pytest.fixture
def held_midi(tmp_path):
    """Write a minute at 104, held to the end."""
    return write_midi(tmp_path / "held.mid", tempo_bpm=104, counts=104)


@pytest.fixture
def stopped_midi(tmp_path):
    """Write 41 counts at 104, and then nothing to the end of the minute."""
    return write_midi(tmp_path / "stopped.mid", tempo_bpm=104, counts=41, silent_counts=63)
