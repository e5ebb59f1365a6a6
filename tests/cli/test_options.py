"""The words of the command line, and what they mean."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loosehand.cli.options import (
    assumed_of,
    day_of,
    ended_of,
    first_count_s_of,
    hear_request_of,
    notes_of,
    order_of,
    places_of,
    tags_of,
    workers_of,
)
from loosehand.errors import BadTempo, InputError
from loosehand.hear.heard import ListenRequest
from loosehand.studio.round_tags import RoundTags

WORDS = {
    "tempo": "104",
    "per_count": "4",
    "hand": "left",
    "counts": "",
    "round_s": "",
    "first_count_s": "",
}
TAGS = {
    "hand": "left",
    "tempo": "104",
    "per_count": "",
    "round_s": "",
    "technique": "",
    "surface": "",
    "loudness": "",
    "feel": "",
}


def test_a_request_is_what_was_said():
    """Every word goes to its place in the request."""
    said = WORDS | {"counts": "64", "first_count_s": "1.25", "hand": "alternating"}
    assert hear_request_of(**said) == ListenRequest(
        tempo_bpm=104.0,
        places_per_count=4,
        hand="alternating",
        counts_planned=64,
        first_count_s=1.25,
    )


def test_what_was_left_out_is_left_open():
    """Nothing but the places of a count is filled in."""
    nothing = dict.fromkeys(WORDS, "")
    assert hear_request_of(**nothing) == ListenRequest(
        tempo_bpm=None, places_per_count=4, hand=None, counts_planned=None, first_count_s=None
    )


def test_a_round_in_seconds_is_its_counts():
    """Half a minute at 104 is 52 counts."""
    assert hear_request_of(**WORDS | {"round_s": "30"}).counts_planned == 52


@pytest.mark.parametrize("tempo", ["0", "-5", "1000", "nan", "NaN", "inf", "fast", "104bpm", "1O4"])
def test_a_tempo_that_cannot_be_is_refused(tempo):
    """No tempo but a number that a click can have, or auto."""
    with pytest.raises(BadTempo, match="want a number from 20 to 400"):
        hear_request_of(**WORDS | {"tempo": tempo})


@pytest.mark.parametrize(
    ("word", "wrong", "says"),
    [
        ("per_count", "0", "per_count = 0 cannot be; want a whole number from 1 to 12"),
        ("per_count", "13", "per_count = 13"),
        ("per_count", "4.5", "per_count = '4.5'"),
        ("hand", "both", "hand = 'both' is not known; want one of: left, right, alternating"),
        ("counts", "0", "counts = 0"),
        ("counts", "-3", "counts = -3"),
        ("counts", "1e3", "counts = '1e3'"),
        ("round_s", "0", "round_s = 0"),
        ("round_s", "-60", "round_s = -60"),
        ("round_s", "nan", "round_s = nan"),
        ("round_s", "1e12", "round_s = 1e12"),
        ("round_s", "a minute", "round_s = 'a minute'"),
        ("first_count_s", "-1", "first_count_s = -1"),
        ("first_count_s", "inf", "first_count_s = inf"),
        ("first_count_s", "soon", "first_count_s = 'soon'"),
    ],
)
def test_a_word_that_cannot_be_is_named(word, wrong, says):
    """A refusal says which word, what was got and what is wanted."""
    with pytest.raises(InputError) as caught:
        hear_request_of(**WORDS | {word: wrong})
    assert says in str(caught.value)


def test_counts_and_seconds_are_not_said_together():
    """Two lengths of one round are one too many."""
    with pytest.raises(InputError, match="not both"):
        hear_request_of(**WORDS | {"counts": "10", "round_s": "60"})


def test_seconds_need_a_tempo():
    """How many counts a minute has is not known while the tempo is not."""
    with pytest.raises(InputError, match="--round-s needs the tempo"):
        hear_request_of(**WORDS | {"tempo": "auto", "round_s": "60"})


def test_tags_are_what_was_said():
    """A round is a minute of sixteenths unless told otherwise."""
    assert tags_of(**TAGS | {"surface": "hat", "feel": "tense"}) == RoundTags(
        hand="left",
        tempo_bpm=104.0,
        places_per_count=4,
        round_s=60.0,
        technique=None,
        surface="hat",
        loudness=None,
        feel="tense",
    )


def test_the_chart_needs_a_tempo():
    """A round whose tempo nobody knows has no place on the chart."""
    with pytest.raises(InputError, match="the chart needs the tempo"):
        tags_of(**TAGS | {"tempo": "auto"})


def test_what_was_assumed_is_said_once_for_each_word_left_out():
    """Three words left out are three sentences; none left out is none."""
    assert len(assumed_of(tempo="", per_count="", hand="")) == 3
    assert assumed_of(tempo="104", per_count="4", hand="left") == ()
    (sentence,) = assumed_of(tempo="104", per_count="", hand="left")
    assert sentence.startswith("4 places a count")


def test_notes_are_a_set_of_midi_notes():
    """Notes may be said again and again, and are notes of MIDI."""
    assert notes_of(None) is notes_of([]) is None
    assert notes_of(["38", "40", "38"]) == {38, 40}
    for wrong in ("128", "-1", "snare"):
        with pytest.raises(InputError, match="note = "):
            notes_of([wrong])


def test_words_left_out_are_none():
    """What was not said is not known."""
    assert workers_of("") is order_of("") is ended_of("") is first_count_s_of("") is None
    assert places_of("") == 4


def test_other_words():
    """Workers, order and ending are checked, too; a person cannot say 'not judged'."""
    assert (workers_of("2"), order_of("3")) == (2, 3)
    assert ended_of("stopped by choice") == "stopped by choice"
    for wrong in (lambda: workers_of("0"), lambda: order_of("0"), lambda: ended_of("not judged")):
        with pytest.raises(InputError):
            wrong()


def test_a_day_left_out_is_today():
    """Today is the day where the person is."""
    now = datetime(2027, 3, 1, 12, tzinfo=UTC)
    assert day_of("", now=now) == now.astimezone().date()
    assert day_of("2026-12-31", now=now) == date(2026, 12, 31)


@given(st.fixed_dictionaries({word: st.text(max_size=12) for word in WORDS}))
def test_any_words_are_understood_or_refused(words):
    """Whatever is said, the answer is a request or a sentence of ours."""
    try:
        found = hear_request_of(**words)
    except InputError:
        return
    assert isinstance(found, ListenRequest)
