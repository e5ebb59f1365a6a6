"""Broken files: whatever the bytes, an answer or one sentence, and never a stranger's error."""

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loosehand.errors import LoosehandError
from loosehand.hear.decode import read_midi, read_mono, sniff
from tests.hear.recordings import click_train, encode

ENCODERS = {
    "m4a": ("ipod", "aac", {"movflags": "faststart"}),
    "aac": ("adts", "aac", {}),
    "mp3": ("mp3", "libmp3lame", {}),
    "plain mp3": ("mp3", "libmp3lame", {"write_xing": "0"}),
    "opus": ("ogg", "libopus", {}),
    "webm": ("webm", "libopus", {}),
}
WRITERS = {"wav": "FLOAT", "flac": "PCM_16", "aiff": "PCM_24"}
KINDS = (*ENCODERS, *WRITERS)


@pytest.fixture(scope="module")
def recordings(tmp_path_factory):
    """The bytes of a quarter of a second in each format."""
    folder = tmp_path_factory.mktemp("recordings")
    clicks = click_train(48000)[:12_000]
    for kind, (container, codec, options) in ENCODERS.items():
        encode(
            folder / kind,
            clicks,
            sample_rate_hz=48000,
            container=container,
            codec=codec,
            container_options=options,
        )
    for kind, subtype in WRITERS.items():
        soundfile.write(folder / kind, clicks, 48000, format=kind.upper(), subtype=subtype)
    return {kind: (folder / kind).read_bytes() for kind in KINDS}


@pytest.fixture(scope="module")
def broken(tmp_path_factory):
    """Where a broken file is written."""
    return tmp_path_factory.mktemp("broken") / "take"


def _sentence_or_sound(path):
    """Read a file as what it seems to be: the sentence that refuses it, or its samples."""
    try:
        if sniff(path) == "midi":
            return np.array([note.velocity for note in read_midi(path).notes], dtype=float)
        return read_mono(path, longest_s=600.0).samples
    except LoosehandError as error:
        return str(error)


def _check(answer):
    """One sentence, or numbers."""
    if isinstance(answer, str):
        assert answer.endswith(".")
        assert "\n" not in answer
    else:
        assert np.all(np.isfinite(answer))


_CHANGES = st.lists(
    st.tuples(st.one_of(st.integers(0, 200), st.integers(0, 10**6)), st.integers(0, 255)),
    max_size=30,
)


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    kind=st.sampled_from(KINDS),
    changes=_CHANGES,
    lost=st.tuples(st.integers(0, 10**6), st.integers(0, 400)),
    kept_share=st.one_of(st.just(1.0), st.floats(0.0, 1.0)),
)
def test_a_mutated_recording_is_read_or_refused(
    recordings, broken, capfd, kind, changes, lost, kept_share
):
    """Changed, missing and cut-off bytes end in sound or in one sentence, and print nothing."""
    data = bytearray(recordings[kind])
    for place, byte in changes:
        data[place % len(data)] = byte
    start = lost[0] % len(data)
    del data[start : start + lost[1]]
    broken.write_bytes(data[: round(kept_share * len(data))])
    _check(_sentence_or_sound(broken))
    assert capfd.readouterr() == ("", "")


_HEADS = st.sampled_from(
    [
        b"",
        b"RIFF\x24\x00\x00\x00WAVEfmt ",
        b"\x00\x00\x00\x18ftypM4A ",
        b"ID3\x04\x00\x00\x00\x00\x00\x0a",
        b"\xff\xf1\x4c\x40",
        b"\xff\xfb\x90\x00",
        b"OggS\x00\x02",
        b"fLaC\x00\x00\x00\x22",
        b"FORM\x00\x00\x10\x00AIFF",
        b"\x1a\x45\xdf\xa3",
        b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0MTrk",
    ]
)


@settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(head=_HEADS, data=st.binary(max_size=3000))
def test_random_bytes_are_read_or_refused(broken, capfd, head, data):
    """Random bytes after any format's first ones end in an answer or in one sentence."""
    broken.write_bytes(head + data)
    _check(_sentence_or_sound(broken))
    assert capfd.readouterr() == ("", "")
