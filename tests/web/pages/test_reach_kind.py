"""Kinds in words and in addresses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.errors import NotFound
from loosehand.reach.seen import HandKind
from loosehand.web.pages.reach_kind import kind_of_word, kind_word, kind_words, reach_path

LEFT = HandKind("left", "whip fours", "pad", "medium", 4)
TEXTS = st.none() | st.text(alphabet="ab/~%2FE ", min_size=1, max_size=6)
KINDS = st.builds(HandKind, st.sampled_from(["left", "right"]), TEXTS, TEXTS, TEXTS, st.just(4))


@given(KINDS, KINDS)
def test_no_two_kinds_share_a_word(one, other):
    """Whatever a teacher calls a technique, two kinds have two words."""
    assert (kind_word(one) == kind_word(other)) == (one == other)


def test_a_word_finds_its_kind():
    """Among several kinds the word finds the one that it was made of."""
    right = HandKind("right", None, "pad", "~", 4)
    assert kind_of_word(kind_word(right), [LEFT, right]) is right


def test_an_unknown_word_is_not_found():
    """A word of no kind is one sentence, short whatever was typed."""
    with pytest.raises(NotFound, match="has no rounds with a count here") as raised:
        kind_of_word("x" * 500, [LEFT])
    assert len(str(raised.value)) < 160


def test_what_is_not_said_is_left_out():
    """A kind is named by what is said of it; an unusual grid is named too."""
    assert kind_words(HandKind("right", None, None, None, 4)) == "Right hand"
    assert kind_words(HandKind("right", "push-pull", "hat", None, 3)) == (
        "Right hand, push-pull, hat, 3 places a count"
    )


def test_names_are_safe_in_addresses():
    """A name with a slash and a question mark stays one part of the address."""
    assert reach_path("a/b?c", since="2027-02-01") == "/reach/a%2Fb%3Fc?since=2027-02-01"
