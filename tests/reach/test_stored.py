"""A reach as bytes comes back the same."""

import dataclasses
import io
from datetime import date, timedelta

import numpy as np
import pytest

from loosehand.errors import BadTable
from loosehand.reach.fit import expect_of_nobody, fit_hand
from loosehand.reach.seen import HandKind, RoundSeen
from loosehand.reach.stored import reach_from_bytes, reach_to_bytes

DAY = date(2027, 3, 1)
KIND = HandKind("left", None, "pad", None, 4)


@pytest.fixture(scope="module")
def reach():
    """Fit a few days."""
    return fit_hand(
        [
            RoundSeen(
                DAY - timedelta(days=back),
                order,
                KIND,
                90.0 + 10 * order,
                60.0,
                90 - 30 * order,
                False,
                None,
            )
            for back in range(5)
            for order in range(3)
        ],
        kind=KIND,
        as_of=DAY,
    )


def same(one, other):
    """Whether two values are equal to the last bit, arrays and all."""
    if isinstance(one, np.ndarray):
        return (
            one.dtype == other.dtype
            and one.shape == other.shape
            and one.tobytes() == other.tobytes()
        )
    if dataclasses.is_dataclass(one):
        return type(one) is type(other) and all(
            same(getattr(one, field.name), getattr(other, field.name))
            for field in dataclasses.fields(one)
        )
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return type(one) is type(other) and (one == other or (one != one and other != other))


def test_a_fit_comes_back_to_the_last_bit(reach):
    """Every field, every draw, and so every answer."""
    again = reach_from_bytes(reach_to_bytes(reach))
    assert same(again, reach)
    assert again.chance_of_holding(tempo_bpm=100.0, time_s=60.0) == reach.chance_of_holding(
        tempo_bpm=100.0, time_s=60.0
    )


def test_what_is_expected_of_nobody_comes_back():
    """Days that are none and scores that are no number come back as they were."""
    nobody = expect_of_nobody(KIND, as_of=DAY)
    assert nobody.first_day is None
    assert same(reach_from_bytes(reach_to_bytes(nobody)), nobody)


@pytest.mark.parametrize(
    "spoil", [lambda data: b"", lambda data: data[:-40], lambda data: b"x" * 99]
)
def test_bytes_of_another_kind_are_refused(reach, spoil):
    """Nothing, a part, or anything else is one sentence."""
    with pytest.raises(BadTable, match="cannot be read"):
        reach_from_bytes(spoil(reach_to_bytes(reach)))


def test_a_field_that_is_missing_is_refused(reach):
    """Bytes of a version with other fields are not taken for this one's."""
    arrays = dict(np.load(io.BytesIO(reach_to_bytes(reach))))
    (name,) = (name for name, array in arrays.items() if array.dtype == np.uint8)
    plain = arrays[name].tobytes().replace(b'"longest_held_s"', b'"longest_held_x"')
    out = io.BytesIO()
    np.savez(out, **{**arrays, name: np.frombuffer(plain, np.uint8)})
    with pytest.raises(BadTable, match="longest_held_s"):
        reach_from_bytes(out.getvalue())


def test_what_has_no_place_in_the_bytes_is_refused(reach):
    """A value of an unknown type is a fault of ours, and said at once."""
    with pytest.raises(TypeError, match="cannot be stored"):
        reach_to_bytes(dataclasses.replace(reach, law={1, 2}))
