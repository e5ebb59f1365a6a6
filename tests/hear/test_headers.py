"""What headers say that the decoder does not pass on."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.hear.headers import announced_wav_s, lacks_mp4_index, lacks_ogg_end


def _box(kind, length):
    return (8 + length).to_bytes(4, "big") + kind + bytes(length)


def _wav(data_length, *, extra=b""):
    form = bytes.fromhex("0100 0100 80bb0000 00770100 0200 1000")
    head = b"RIFF" + bytes(4) + b"WAVE" + extra + b"fmt " + len(form).to_bytes(4, "little") + form
    return io.BytesIO(head + b"data" + data_length.to_bytes(4, "little") + bytes(100))


def test_a_wav_header_announces_its_length():
    """The data chunk's length over the bytes a second, wherever the chunk stands."""
    assert announced_wav_s(_wav(96_000 * 3)) == 3.0
    odd_chunk = b"LIST" + (5).to_bytes(4, "little") + bytes(6)
    assert announced_wav_s(_wav(96_000 * 3, extra=odd_chunk)) == 3.0


@pytest.mark.parametrize("length", [0, 0xFFFFFFFF])
def test_a_wav_header_that_does_not_know_says_nothing(length):
    """A length of nought or of all ones was never filled in."""
    assert announced_wav_s(_wav(length)) is None


def test_an_mp4_without_its_index_is_told():
    """Only a file that begins as MP4 and ends before its index lacks it."""
    start = _box(b"ftyp", 16)
    assert lacks_mp4_index(io.BytesIO(start + _box(b"mdat", 100)))
    assert lacks_mp4_index(io.BytesIO(start + _box(b"mdat", 100)[:50]))
    assert not lacks_mp4_index(io.BytesIO(start + _box(b"mdat", 100) + _box(b"moov", 10)))
    assert not lacks_mp4_index(io.BytesIO(b"OggS" + bytes(100)))


def test_a_long_box_is_passed_over():
    """A box with its length in 64 bits is passed over by that length."""
    long_box = (1).to_bytes(4, "big") + b"mdat" + (116).to_bytes(8, "big") + bytes(100)
    whole = _box(b"ftyp", 16) + long_box + _box(b"moov", 10)
    assert not lacks_mp4_index(io.BytesIO(whole))


def test_an_ogg_without_its_end_is_told():
    """The last page carries the mark of the end, or the file was cut off."""
    page = b"OggS\x00%b" + bytes(21)
    middle, end = page % b"\x00", page % b"\x04"
    assert lacks_ogg_end(io.BytesIO(middle + middle))
    assert not lacks_ogg_end(io.BytesIO(middle + end))
    assert not lacks_ogg_end(io.BytesIO(b"RIFF" + middle))


@given(st.binary(max_size=200), st.sampled_from([b"", b"RIFF\0\0\0\0WAVE", b"\0\0\0\x10ftyp"]))
def test_no_header_stops_a_reader(data, head):
    """Any bytes give an answer."""
    for read in (announced_wav_s, lacks_mp4_index, lacks_ogg_end):
        read(io.BytesIO(head + data))
