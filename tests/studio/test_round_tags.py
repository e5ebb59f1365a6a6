"""Words and figures of a round."""

from dataclasses import replace

import pytest

from loosehand.errors import BadTempo, InputError
from loosehand.studio.round_tags import (
    check_day,
    check_player,
    check_tags,
    check_tempo_bpm,
    check_text,
    check_whole,
    counts_of_round,
    ended_of_written,
)


@pytest.mark.published(
    source="common practice, no source",
    locator="a minute at 60 is 60 counts",
    kind="common-practice",
)
def test_a_minute_at_60_is_60_counts():
    """A minute has as many counts as its tempo says."""
    for tempo_bpm in (60, 104, 105, 140):
        assert counts_of_round(tempo_bpm=tempo_bpm, round_s=60.0) == tempo_bpm


def test_a_round_has_whole_counts():
    """A count that is cut off is not offered."""
    assert counts_of_round(tempo_bpm=105.0, round_s=30.0) == 52


@pytest.mark.parametrize(
    "tempo", ["0", "-5", "1000", "nan", "inf", "-inf", "fast", "", "19.9", "400.1", "1e400"]
)
def test_a_tempo_that_cannot_be_is_refused(tempo):
    """A tempo is a number from 20 to 400."""
    with pytest.raises(BadTempo, match="want a number from 20 to 400"):
        check_tempo_bpm(tempo)


@pytest.mark.parametrize("tempo_bpm", [20.0, 60.0, 104.5, 400.0])
def test_a_tempo_that_can_be_is_kept(tempo_bpm):
    """A tempo in words or figures is the same tempo."""
    assert check_tempo_bpm(str(tempo_bpm)) == check_tempo_bpm(tempo_bpm) == tempo_bpm


@pytest.mark.parametrize("text", ["", "x", "1.5", "0", "13", "-1", "²", "1" * 40])
def test_a_whole_number_that_cannot_be_is_refused(text):
    """Places are a whole number from 1 to 12."""
    with pytest.raises(InputError, match=r"places_per_count = .* from 1 to 12"):
        check_whole(text, field="places_per_count", lowest=1, highest=12)


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("hand", "both"),
        ("loudness", "ff"),
        ("feel", "great"),
        ("tempo_bpm", 0.0),
        ("places_per_count", 0),
        ("round_s", 0.0),
        ("round_s", float("nan")),
        ("round_s", 1e9),
        ("round_s", 0.1),
        ("technique", "x" * 61),
        ("surface", "a\nb"),
    ],
)
def test_the_first_wrong_tag_is_named(tags, field, wrong):
    """A refusal names its field."""
    with pytest.raises(InputError, match=field):
        check_tags(replace(tags, **{field: wrong}))


def test_empty_tags_are_none(tags):
    """A tag left empty is a tag left out."""
    left_out = replace(tags, technique=" ", surface="", loudness="", feel="")
    checked = check_tags(left_out)
    assert (checked.technique, checked.surface, checked.loudness, checked.feel) == (None,) * 4


def test_a_name_has_one_form():
    """A name is trimmed, and composed and decomposed letters are the same name."""
    assert check_player(" Ine\u0301s ") == check_player("In\u00e9s") == "In\u00e9s"


@pytest.mark.parametrize("text", ["", "  ", "a\nb", "a\x00b", "x" * 81, "a\u2028b"])
def test_a_name_that_cannot_be_is_refused(text):
    """A name is a short line of letters."""
    with pytest.raises(InputError, match="player"):
        check_player(text)


def test_a_text_shown_is_short():
    """A refusal quotes no more than it needs."""
    with pytest.raises(InputError) as caught:
        check_text("\n".join(["x" * 300] * 2), field="why", longest=400)
    assert len(str(caught.value)) < 150


@pytest.mark.parametrize("text", ["", "1.3.2027", "2027-02-30", "20270301", "2027-W09-1"])
def test_a_day_is_written_one_way(text):
    """A day is an ISO date with dashes."""
    with pytest.raises(InputError, match="like 2027-03-01"):
        check_day(text)


def test_a_number_from_paper_that_is_all_the_counts_was_held():
    """A round from paper is held to the end if all its counts were held."""
    assert ended_of_written(None, count_held=104, counts=104) == "held to the end"
    assert ended_of_written(None, count_held=103, counts=104) is None
    assert ended_of_written("stopped", count_held=104, counts=104) == "stopped"
