"""Checks of files to readings, one and many."""

import numpy as np
import pytest
import soundfile

from loosehand.batch import hear_file, hear_many
from loosehand.errors import LoosehandError
from tests.hear.midi_takes import write_midi
from tests.hear.scenes import RATE_HZ, jittered, request, sound_of

STROKE_S = jittered(2.4, 0.15, 80, sd_s=0.005)


@pytest.fixture(scope="module")
def paths(tmp_path_factory):
    """A recording, a file that is none, one that is missing, and a MIDI take."""
    folder = tmp_path_factory.mktemp("takes")
    sound = sound_of(STROKE_S, 0.6 * np.arange(24), duration_s=14.6)
    soundfile.write(folder / "take.wav", sound, RATE_HZ)
    (folder / "words.wav").write_text("no sound at all")
    write_midi(folder / "take.mid", STROKE_S)
    return [folder / name for name in ("take.wav", "words.wav", "missing.wav", "take.mid")]


@pytest.mark.parametrize("which", [0, 3], ids=["wav", "midi"])
def test_hear_file(paths, which):
    """A held take is heard as held, from sound and from MIDI."""
    reading = hear_file(paths[which], request())
    assert reading.count_held == pytest.approx(20, abs=1)
    assert len(reading.strokes) == pytest.approx(80, abs=3)


def test_leading_hand_is_said(paths):
    """In an alternating take the hand that was taken to lead is said."""
    reading = hear_file(paths[3], request(hand="alternating"))
    assert "The right hand was taken to lead." in reading.quality.assumed


@pytest.mark.parametrize("workers", [1, 2])
def test_many_are_as_one_by_one(paths, workers):
    """Many files give what each gives alone, in order, errors in their places."""
    found = list(hear_many(paths, request(), notes=None, workers=workers))
    assert [path for path, _ in found] == paths
    for which in (1, 2):
        assert isinstance(found[which][1], LoosehandError)
    for which in (0, 3):
        assert found[which][1].to_json() == hear_file(paths[which], request()).to_json()


def test_a_missing_file_is_an_error(paths):
    """A missing file alone is an error, not a reading."""
    with pytest.raises(LoosehandError):
        hear_file(paths[2], request())
