"""What of a part a take can be heard against."""

from dataclasses import replace

import pytest

from loosehand.errors import BadNotation, InputError
from loosehand.judge.part_to_hear import LevelClass, PartToHear, limb_named, part_to_hear
from loosehand.parts.text import parse_part
from tests.judge.part_scenes import ACCENTS, HEAD, LINES, TEXT

HAND = "right hand"


@pytest.fixture
def asked():
    """What is asked of the right hand."""
    return part_to_hear(parse_part(TEXT), "right hand")


def test_what_is_asked_comes_from_the_part(asked):
    """Tempo, places a count, all accents of the tune, and the bar of each place."""
    assert (asked.tempo_bpm, asked.places_per_count, asked.places) == (100.0, 4, 192)
    assert (asked.counts, asked.bars, asked.is_whole, asked.has_accents) == (48, 12, True, True)
    assert asked.accents == ACCENTS
    assert asked.bar_of_place[[0, 15, 16, 191]].tolist() == [1, 1, 2, 12]


def test_a_part_is_heard_up_to_the_first_gap():
    """Eight bars of all places, then a rest within a bar: whole counts up to there."""
    for gap, places in (("xxxx .xxx", 132), ("xxxx xx.x", 132), (".xxx xxxx", 128)):
        text = f"{HEAD}[verse] x4\n{LINES}[stop]\nRH hat {gap} xxxx xxxx\n"
        asked = part_to_hear(parse_part(text), "right hand")
        assert (asked.places, asked.bars) == (places, 9)
        assert (asked.is_whole, asked.is_last_bar_cut) == (False, places > 128)


def test_a_last_bar_that_is_cut_is_not_whole():
    """Twelve of its sixteen places are heard; a part whose bars all end in counts is whole."""
    cut = part_to_hear(
        parse_part(f"{HEAD}RH hat Xxxx xxxx xxxx xxxx | xxxx xxxx xxxx xxx.\n"), HAND
    )
    assert (cut.places, cut.last_bar_places, cut.is_last_bar_cut, cut.is_whole) == (
        28,
        16,
        True,
        False,
    )
    sevens = "tempo: 100\nmeter: 7/8 as 2+2+3\ngrid: 2\n[a] x7\nRH ride Xxxx xxxx xxxxxx\n"
    assert part_to_hear(parse_part(sevens), HAND).is_last_bar_cut
    assert part_to_hear(parse_part(sevens.replace("x7", "x8")), HAND).is_whole


def test_each_place_has_a_class():
    """Instrument, ghost or plain, dynamic; an accent has the class of a plain stroke there."""
    text = f"{HEAD}[a] p\nRH hat Xxxx .xxx Xggx xxxx\nRH snare .... x... .... ....\n[b] f\n"
    asked = part_to_hear(parse_part(text + "RH hat Xxxx xxxx xxxx xxxx\n"), HAND)
    of_place = [asked.classes[each] for each in asked.class_of_place]
    assert of_place[0] == of_place[1] == LevelClass("hat", False, "p")
    assert of_place[4] == LevelClass("snare", False, "p")
    assert of_place[9] == of_place[10] == LevelClass("hat", True, "p")
    assert of_place[16] == of_place[31] == LevelClass("hat", False, "f")
    assert (len(asked.classes), asked.ghosts) == (4, (9, 10))
    assert len(set(asked.level_class.tolist())) == 4


@pytest.mark.parametrize(
    ("first", "says"),
    [
        ("1/8 as 1\ngrid: 2\n[p]\nRH hat xx", "a pick-up of 1/2 of a count"),
        ("3/8 as 3\ngrid: 2\n[p]\nRH hat xxxxxx", "a pick-up of 3/2 counts"),
    ],
)
def test_a_pick_up_of_part_of_a_count_is_refused(first, says):
    """The click would lie between its places; one of whole counts is heard."""
    rest = "\nmeter: 4/4\ngrid: 4\n[a] x4\nRH hat Xxxx xxxx Xxxx xxxx\n"
    with pytest.raises(BadNotation, match=says):
        part_to_hear(parse_part(f"tempo: 100\nmeter: {first}{rest}"), HAND)
    count = "tempo: 100\nmeter: 1/4 as 1\ngrid: 4\n[p]\nRH hat xxxx"
    assert part_to_hear(parse_part(count + rest), HAND).bar_starts[:2] == (0, 4)


FOUR = "\nmeter: 4/4\ngrid: 4\nRH hat Xxxx xxxx xxxx xxxx"
SEVEN = "meter: 7/8 as 2+2+3\ngrid: 2\nRH hat Xxxx xxxx xxxxxX"
FIVE = "meter: 5/8 as 2+3\ngrid: 2\nRH hat Xxxx xxxxxx\n"


@pytest.mark.parametrize(
    ("lines", "starts", "accents"),
    [
        (f"[a]\n{SEVEN}{FOUR}\n[b] x2{FOUR}", (0, 14, 30, 46), (0, 13, 14, 30, 46)),
        (f"[a] x2\n{SEVEN}\n[b] x2{FOUR}", (0, 14, 28, 44), (0, 13, 14, 27, 28, 44)),
        (f"[a]\n{FIVE}[b]\n{SEVEN}\n[c] x2{FOUR}", (0, 10, 24, 40), (0, 10, 23, 24, 40)),
    ],
)
def test_a_change_of_meter_is_no_pick_up(lines, starts, accents):
    """A bar of 7/2 or 5/2 counts: the click goes on and falls on another place of the next bar."""
    asked = part_to_hear(parse_part(f"tempo: 100\n{lines}\n"), HAND)
    assert (asked.places_per_count, asked.bar_starts, asked.accents) == (4, starts, accents)
    assert asked.places % 4 == 0


def test_a_first_bar_shorter_than_a_count_is_a_pick_up():
    """Even where it is half of the second or more."""
    first = "[p]\nmeter: 1/8 as 1\ngrid: 2\nRH hat xx\n[q]\nmeter: 2/8 as 2\nRH hat Xxxx\n"
    with pytest.raises(BadNotation, match="a pick-up of 1/2 of a count"):
        part_to_hear(parse_part(f"tempo: 100\n{first}[a] x4{FOUR}\n"), HAND)


def test_too_few_places_in_whole_counts_are_refused():
    """Seventeen strokes at twelve a count make one whole count of twelve; accents need 16."""
    text = "tempo: 40\nmeter: 2/4\ngrid: 12\nRH hat Xxxxxxxxxxxx xxxxx.......\n"
    with pytest.raises(BadNotation, match="after 17 of them, 12 in whole counts: want"):
        part_to_hear(parse_part(text), HAND)
    short = "tempo: 40\nmeter: 1/4 as 1\ngrid: 12\nRH hat Xxxxxxxxxxxx\n"
    with pytest.raises(BadNotation, match="the right hand has 12 strokes in all: want"):
        part_to_hear(parse_part(short), HAND)


def test_other_meters_count_the_beat_of_the_tempo():
    """Sixteenths of 7/8 to a click in quarters are four a count; triplets in 4/4 are three."""
    seven = "tempo: 100\nmeter: 7/8 as 2+2+3\ngrid: 2\nRH ride Xxxx xxxx xxxxxx | %\n"
    asked = part_to_hear(parse_part(seven), "right hand")
    assert (asked.places_per_count, asked.accents, asked.bar_starts) == (4, (0, 14), (0, 14))
    triplets = "tempo: 100\nmeter: 4/4\ngrid: 3\nRH ride Xxx xxx xxx xxx | %\n"
    assert part_to_hear(parse_part(triplets), "right hand").places_per_count == 3


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"{HEAD}[a]\nRH hat Xxxx xxxx xxxx xxxx\n[b] tempo 90\nrest 1\n", "changes its tempo"),
        (f"{HEAD}swing: 60\nRH hat Xxxx xxxx xxxx xxxx\n", "swung"),
        (f"{HEAD}RH hat Xxxx xxxx xxxx xxxx\ngrid: 3\nRH hat xxx xxx xxx xxx\n", "3, 4 places"),
        (f"{HEAD}RH hat Xxxx x.xx xxxx xxxx\n", "leaves out a place after 5"),
        (f"{HEAD}LH hat Xxxx xxxx xxxx xxxx\n", "leaves out the first place"),
        (f"tempo: 60\nmeter: 1/4\ngrid: 16\nRH hat {'x' * 16} | %\n", "16 places in a count"),
    ],
)
def test_a_part_that_cannot_be_heard_is_refused(text, says):
    """In a sentence that says why."""
    with pytest.raises(BadNotation, match=says):
        part_to_hear(parse_part(text), "right hand")


@pytest.mark.parametrize(("sign", "count"), [("x", 0), ("X", 16)])
def test_accents_of_none_or_all_are_no_refusal(sign, count):
    """The rest of such a take can be heard."""
    asked = part_to_hear(parse_part(f"{HEAD}RH hat {sign * 16}\n"), "right hand")
    assert (len(asked.accents), asked.has_accents) == (count, False)


def test_limbs_are_named():
    """In small letters or capitals; anything else is refused with the four that there are."""
    assert limb_named(" Left Hand") == "left hand"
    with pytest.raises(InputError, match="right hand, left hand, right foot, left foot"):
        limb_named("third hand")


def test_what_is_stored_comes_back(asked):
    """Equal, and made of plain values."""
    assert PartToHear.from_json(asked.to_json()) == asked
    assert all(type(place) is int for place in asked.to_json()["bar_starts"])


@pytest.mark.parametrize(
    "change",
    [
        {"limb": "tail"},
        {"places": 16.5},
        {"places": 10**9},
        {"accents": [0, 192]},
        {"accents": [6, 0]},
        {"accents": None},
        {"bar_starts": []},
        {"bar_starts": [4, 8]},
        {"bars": 3},
        {"places_per_count": 0},
        {"places_per_count": True},
        {"tempo_bpm": "fast"},
        {"tempo_bpm": float("nan")},
        {"last_bar_places": 12},
        {"classes": []},
        {"classes": [{"instrument": "lute", "ghost": False, "dynamic": "f"}]},
        {"classes": [{"instrument": "hat", "ghost": 0, "dynamic": "f"}]},
        {"classes": ["hat"]},
        {"class_of_place": [0] * 191},
        {"class_of_place": [1] * 192},
    ],
)
def test_what_cannot_have_been_stored_is_refused(asked, change):
    """One sentence for each object that does not add up, and for one that lacks a field."""
    with pytest.raises(InputError, match="what a part asks of a limb"):
        PartToHear.from_json(asked.to_json() | change)
    lacking = asked.to_json()
    del lacking["bars"]
    with pytest.raises(InputError, match="what a part asks of a limb"):
        PartToHear.from_json(lacking)


def test_what_was_stored_without_classes_is_read():
    """As one class throughout, and a last bar that was not cut; it asks as the text does now."""
    asked = part_to_hear(parse_part(TEXT), HAND)
    stored = asked.to_json()
    for lacking in ("last_bar_places", "classes", "class_of_place"):
        del stored[lacking]
    old = PartToHear.from_json(stored)
    assert (old.classes, old.is_whole, old.ghosts) == ((), True, ())
    assert old.level_class.tolist() == [0] * 192
    assert old.asks_as(asked)
    assert asked.asks_as(old)


def test_another_title_or_tempo_asks_for_the_same(asked):
    """An accent, a bar or a limb that differs does not."""
    assert asked.asks_as(replace(asked, title="Fast train", tempo_bpm=120.0, bars=40))
    for change in ({"accents": (0,)}, {"places": 188}, {"limb": "left hand"}):
        assert not asked.asks_as(replace(asked, **change))
    on_ride = part_to_hear(parse_part(TEXT.replace("hat", "ride")), HAND)
    assert not asked.asks_as(on_ride)
