"""Checks of float arrays as text."""

import json

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from loosehand.hear.array_text import array_of_text, text_of_array


@given(
    arrays(
        np.float32,
        st.integers(0, 50),
        elements=st.floats(width=32, allow_nan=True, allow_infinity=True, allow_subnormal=True),
    )
)
def test_an_array_comes_back_to_the_last_bit(values):
    """Whatever the numbers, text that JSON holds gives the same bits back."""
    text = json.loads(json.dumps(text_of_array(values)))
    again = array_of_text(text)
    assert again.dtype == np.float32
    assert again.tobytes() == values.tobytes()


def test_bytes_stand_in_one_order_on_every_machine():
    """The text is that of little-endian numbers, whatever the array's own order."""
    values = np.array([1.0, -0.5], dtype=">f4")
    assert text_of_array(values) == text_of_array(values.astype("<f4"))
    assert array_of_text(text_of_array(values)).tolist() == [1.0, -0.5]
