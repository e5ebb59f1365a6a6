"""Checks of what passes over the socket: it is read, or refused as what cannot be."""

import json
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from loosehand.errors import InputError
from loosehand.web.live.wire import (
    MOST_BLOCK_BYTES,
    number_in,
    read_block,
    read_message,
    text_in,
)


def outcome(act, *args, **kwargs):
    """What an act gives, and what it refuses with: one of them is None. Other errors pass on."""
    try:
        return act(*args, **kwargs), None
    except InputError as error:
        return None, str(error)


def block_of(frame, samples):
    """A block of sound as a page sends it."""
    return struct.pack("<d", frame) + np.asarray(samples, dtype="<f4").tobytes()


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=True, allow_infinity=True)
    | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(
    frame=st.integers(0, 2**50 - 1),
    samples=arrays(np.float32, st.integers(1, 60), elements=st.floats(-1, 1, width=32)),
)
def test_sound_comes_through_to_24_bits(frame, samples):
    """A sample is kept to within half a step of 24 bits, and its frame exactly."""
    block = read_block(block_of(frame, samples))
    assert block.frame == frame
    assert block.samples.dtype == np.int32
    assert np.all(np.abs(block.samples / 2.0**23 - samples) <= 2.0**-23)


@given(arrays(np.int32, st.integers(1, 60), elements=st.integers(-(2**23), 2**23 - 1)))
def test_whole_steps_come_through_exactly(steps):
    """What was 24 bits once is so again, to the last bit."""
    assert np.array_equal(read_block(block_of(0, steps / 2.0**23)).samples, steps)


@pytest.mark.parametrize(
    ("sample", "kept"),
    [(1.0, 2**23 - 1), (-1.0, -(2**23)), (5.0, 2**23 - 1), (3.4e38, 2**23 - 1), (-3e38, -(2**23))],
)
def test_what_is_beyond_full_scale_is_cut(sample, kept):
    """A sample beyond full scale is full scale, however far beyond."""
    assert read_block(block_of(7, [0.0, sample])).samples.tolist() == [0, kept]


@pytest.mark.parametrize("frame", [-1.0, 0.5, float("nan"), float("inf"), -float("inf"), 2.0**50])
def test_frames_that_cannot_be_are_refused(frame):
    """A frame is a whole number from the start of the clock on."""
    with pytest.raises(InputError, match="is not the number of a frame"):
        read_block(block_of(frame, [0.0]))


@pytest.mark.parametrize("sample", [float("nan"), float("inf")])
def test_samples_that_are_no_numbers_are_refused(sample):
    """Sound is made of numbers."""
    with pytest.raises(InputError, match="samples that are no numbers"):
        read_block(block_of(0, [0.0, sample]))


@pytest.mark.parametrize("size", [0, 4, 8, 11, 13, MOST_BLOCK_BYTES + 4])
def test_blocks_of_no_length_are_refused(size):
    """A block has a frame and whole samples, of no more than four seconds."""
    with pytest.raises(InputError, match=f"a block of sound has {size} bytes"):
        read_block(bytes(size))


def test_the_longest_block_is_read():
    """A block of four seconds is taken whole."""
    assert read_block(bytes(MOST_BLOCK_BYTES)).samples.size == 4 * 48_000


@given(st.binary(max_size=200))
def test_any_bytes_are_a_block_or_refused(data):
    """Whatever bytes come, they are sound or refused, and nothing else happens."""
    block, refusal = outcome(read_block, data)
    if block is None:
        assert "\n" not in refusal
    else:
        assert block.samples.size == (len(data) - 8) // 4


@given(message=st.dictionaries(st.text(max_size=8), anything, max_size=5), kind=st.text(max_size=9))
def test_a_message_is_an_object_with_its_kind(message, kind):
    """A JSON object that says its kind is read as it is."""
    whole = message | {"kind": kind}
    assert json.dumps(read_message(json.dumps(whole))) == json.dumps(whole)


@pytest.mark.parametrize(
    "text",
    [
        *("", "nonsense", "[]", "1", "null", '"kind"', "{}", '{"kind": 1}', '{"kind": null}'),
        *(
            "[" * 9_000,
            '{"kind":' * 2_000,
            '{"kind": "a"} x',
            '{"kind": "a", "n": ' + "9" * 5000 + "}",
        ),
    ],
)
def test_messages_that_are_none_are_refused(text):
    """What is no JSON object with a kind is refused."""
    with pytest.raises(InputError, match="a message"):
        read_message(text)


def test_messages_are_not_long():
    """A message of more than 20,000 letters is refused unread."""
    with pytest.raises(InputError, match="has 20002 letters"):
        read_message('"' + "x" * 20_000 + '"')


@given(st.text(max_size=60))
def test_any_text_is_a_message_or_refused(text):
    """Whatever text comes, it is a message or refused, and nothing else happens."""
    message, refusal = outcome(read_message, text)
    assert refusal if message is None else isinstance(message["kind"], str)


@given(value=st.integers(-50, 50) | st.floats(-50, 50))
def test_a_number_within_bounds_is_taken(value):
    """A number comes through as it is, whole or not."""
    found = number_in({"n": value}, "n", lowest=-50, highest=50)
    assert isinstance(found, float)
    assert found == value


@given(value=anything | st.integers(10**30, 10**500))
def test_any_value_is_a_number_within_bounds_or_refused(value):
    """Whatever stands where a number should be, it is within bounds or refused."""
    message = read_message(json.dumps({"kind": "k", "n": value}))
    found, refusal = outcome(number_in, message, "n", lowest=0, highest=100)
    if found is None:
        assert refusal.startswith("n = ")
        assert len(refusal) < 120
    else:
        assert 0 <= found <= 100
        assert not isinstance(value, bool)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (101, "n = 101 cannot be; want 0 to 100"),
        (-0.5, r"n = -0\.5 cannot be"),
        (float("nan"), "n = nan cannot be"),
        (10**400, "cannot be"),
        (True, "n = 'True' is not a number"),
        ("5", "n = '5' is not a number"),
        (None, "n = 'None' is not a number"),
    ],
)
def test_numbers_that_cannot_be_are_refused(value, says):
    """A number out of bounds, or what is none, is said in one sentence."""
    with pytest.raises(InputError, match=says):
        number_in({"n": value}, "n", lowest=0, highest=100)


def test_a_number_that_is_not_there_is_refused():
    """What a message leaves out is not guessed."""
    with pytest.raises(InputError, match="m = 'None' is not a number"):
        number_in({"n": 1}, "m", lowest=0, highest=100)


def test_deep_rubbish_is_refused():
    """However deeply lists stand in lists, a message is read or refused."""
    for depth in range(850, 1010, 3):
        text = '{"kind": "k", "n": ' + "[" * depth + "]" * depth + "}"
        with pytest.raises(InputError):
            number_in(read_message(text), "n", lowest=0, highest=1)


@given(value=anything)
def test_any_value_is_a_short_text_or_refused(value):
    """Whatever stands where a text should be, it is one of at most so many letters or refused."""
    found, refusal = outcome(text_in, {"t": value}, "t", longest=5)
    if isinstance(value, str) and len(value) <= 5:
        assert found == value
    else:
        assert refusal == "t is not a text of at most 5 letters"
