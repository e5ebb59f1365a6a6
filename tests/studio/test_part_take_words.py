"""A take against its part, in words and bar by bar."""

import pytest

from loosehand.judge.part_heard import hear_part
from loosehand.studio.part_take_words import (
    asked_in_words,
    bars_heard,
    cure_in_words,
    drive_in_words,
    told_in_words,
    words_against,
)
from tests.judge.part_scenes import ACCENTS, HEAD, LINES, TEXT
from tests.studio.part_take_scenes import asked_of, heard_of_part

FOURS = f"{HEAD}RH hat {'Xxxx' * 4}\n"


def bars_of(heard, *, ended="lost the click"):
    """Return the bars of a take whose hold ended in some way."""
    return bars_heard(heard, ended=ended)


def heard(count_held=48, **how):
    """Return a take against the part."""
    return hear_part(heard_of_part(**how)[2], asked_of(), count_held=count_held)


def test_each_bar_has_its_marks():
    """What came, what did not, what nobody asked for, each at its place."""
    bars = bars_of(heard())
    assert [bar.bar for bar in bars] == list(range(1, 13))
    first = bars[0].marks
    assert (first[0], first[6], first[12], first[1]) == ("came", "missed", "came", "stroke")
    assert (bars[0].due, bars[0].came, bars[0].missed_at) == (3, 2, "2 &")
    assert (bars[3].due, bars[3].came, bars[3].unasked_at) == (2, 2, "1 &")
    assert all(bar.is_judged and bar.break_at is None for bar in bars)
    assert sum(bar.due for bar in bars) == 30


@pytest.mark.parametrize(("held", "bar", "at"), [(24, 6, 16), (22, 6, 8)])
def test_after_the_break_nothing_is_said(held, bar, at):
    """The break stands in its bar, at its place; what comes after is not judged."""
    bars = bars_of(heard(count_held=held))
    assert [(each.bar, each.break_at) for each in bars if each.break_at is not None] == [(bar, at)]
    assert [each.is_judged for each in bars] == [each.bar <= bar for each in bars]
    assert bars[-1].due == 0


@pytest.mark.parametrize(
    ("ended", "broke", "says"),
    [
        ("lost the click", True, "the break"),
        ("stopped", True, "the break"),
        (None, True, "the break"),
        ("held to the end", False, "the end of the take"),
        ("recording ended", False, "the end of the take"),
        ("stopped by choice", False, "the end of the take"),
    ],
)
def test_a_take_that_ends_early_has_no_break(ended, broke, says):
    """Only where the hand lost the click, or a person said where without saying how."""
    bar = bars_of(heard(count_held=24), ended=ended)[5]
    assert (bar.break_at, bar.broke, bar.end_in_words) == (16, broke, says)


def test_accents_before_the_first_stroke_are_missed():
    """Silent first and last strokes of a held take are marked as missed accents."""
    body = heard_of_part(accents=ACCENTS)[2]
    kept = [each for each in body["strokes"] if (each["count"], each["place"]) != (1, 0)]
    bars = bars_of(hear_part(body | {"strokes": kept}, asked_of(), count_held=48))
    assert bars[0].marks[0] == "missed"
    assert bars[0].missed_at == "1"


CRASHES = "".join(
    f"[{name}] x6\nRH hat {first}xxx Xxxx xxXx xxxx\nRH crash {crash}... .... .... ....\n"
    for name, first, crash in (("a", ".", "X"), ("b", "x", "."))
)


def test_an_accent_that_cannot_be_told_has_its_own_mark():
    """Six crashes that are always accented: the bars say where it cannot be told."""
    asked = asked_of(f"{HEAD}{CRASHES}")
    found = hear_part(heard_of_part(asked.accents)[2], asked, count_held=48)
    bars = bars_of(found)
    assert [bar.untold_at for bar in bars] == ["1"] * 6 + [""] * 6
    assert [(bar.due, bar.came) for bar in bars] == [(2, 2)] * 12
    assert asked_in_words(asked) == (
        "192 strokes in 12 bars, 30 of them accents. Of 6 of these it cannot be told whether they "
        "come: they have fewer than 8 plain strokes alike to stand out from."
    )


def test_the_cure_of_the_accents_is_told_where_they_are_the_main_fault():
    """Once, and the sentence of the technique has none then."""
    few = tuple(sorted(set(ACCENTS) - set(ACCENTS[::3])))
    found = heard(accents=few)
    assert cure_in_words(found) == (
        "Most worth working at are the accents missed. To try: Lower everything else; do not raise "
        "the accents."
    )
    (said, levels) = words_against(heard_of_part(few)[2], found)
    assert "To try" not in said
    assert levels.startswith("Soft and loud are told with the levels off")
    assert cure_in_words(heard()) == cure_in_words(heard(count_held=None)) == ""


def test_accents_of_the_part_are_no_fault_of_the_technique():
    """The reading alone calls the 1 loud; against the part it is asked for."""
    text = f"{HEAD}[a] x12\nRH hat Xxxx xxxx xxxx xxxx\n"
    accents = tuple(range(0, 192, 16))
    body = heard_of_part(accents)[2]
    assert body["technique"]["faults"][0]["kind"] == "loud"
    found = hear_part(body, asked_of(text), count_held=48)
    assert (found.technique.faults, found.technique.main_fault) == ((), None)
    assert "loud." not in words_against(body, found)[0]


def test_nothing_measured_is_no_words():
    """Of a take that is too short for a technique."""
    assert words_against(heard_of_part()[2], heard(count_held=4)) == []
    assert words_against(heard_of_part()[2], heard(count_held=None)) == []


def told(found):
    """Tell a take against the part, from its bars."""
    return told_in_words(found, bars_of(found))


def test_an_accent_missed_again_and_again_is_named():
    """Three times and every second time; fewer are not."""
    assert "The accent at 2 & was missed 3 times of 6." in told(heard())
    few = tuple(sorted(set(ACCENTS) - {6, 38}))
    assert "The accent at" not in told(heard(accents=few))


def test_an_accent_that_comes_unasked_again_and_again_is_named():
    """Three times; fewer are not."""
    assert "unasked at" not in told(heard())
    many = tuple(sorted(set(ACCENTS) | {17, 49, 81}))
    assert told(heard(accents=many)).endswith("3 times one came unasked at 1 e.")


def test_all_of_it_is_told_in_one():
    """How many came, then what went wrong again and again; without bars the first alone."""
    found = told(heard())
    assert found.startswith("Accents of the right hand: 27 of 30 came")
    assert found.endswith("The accent at 2 & was missed 3 times of 6.")
    assert told_in_words(heard(), []) == heard().told
    assert told(heard(count_held=2)).startswith("Accents cannot be told yet")


def test_what_is_asked_is_said():
    """Strokes, bars and accents; where the part goes on, and where accents are not compared."""
    assert asked_in_words(asked_of()) == "192 strokes in 12 bars, 30 of them accents."
    plain = asked_in_words(asked_of(f"{HEAD}RH hat {'x' * 16}\n"))
    assert plain.startswith("16 strokes in 1 bar, none of them an accent: hold, evenness")
    assert "every one an accent" in asked_in_words(asked_of(f"{HEAD}RH hat {'X' * 16}\n"))
    gap = asked_in_words(asked_of(f"{HEAD}[a]\n{LINES}[b]\nrest 2\n"))
    assert gap.endswith(
        "The part has 4 bars; it is heard up to bar 2, where this limb leaves out a place."
    )
    cut = asked_in_words(asked_of(f"{HEAD}RH hat Xxxx xxxx xxxx xxxx | xxxx xxxx xxxx xxx.\n"))
    assert cut == (
        "28 strokes in 2 bars, 1 of them accents. The part has 2 bars; of bar 2 only the first 12 "
        "places are heard: whole counts, as far as this limb leaves out no place."
    )


def test_without_accents_there_are_no_bars():
    """Neither where the take is too short, nor where the part asks for none."""
    assert bars_of(heard(count_held=2)) == []
    plain = asked_of(TEXT.replace("X", "x"))
    assert bars_of(hear_part(heard_of_part()[2], plain, count_held=48)) == []


def test_bars_of_broken_counts_name_places_by_number():
    """In 7/8 to a click in quarters a bar has no whole counts."""
    text = "tempo: 100\nmeter: 7/8 as 2+2+3\ngrid: 2\n[a] x8\nRH ride Xxxx xxxx xxxxxx\n"
    asked = asked_of(text)
    accents = tuple(sorted((set(asked.accents) - {14}) | {19}))
    body = heard_of_part(accents, places=112)[2]
    bars = bars_of(hear_part(body, asked, count_held=28))
    assert (bars[1].missed_at, bars[1].unasked_at) == ("place 1", "place 6")


@pytest.mark.parametrize(
    ("strokes", "phase", "text", "says"),
    [
        (4, 0, TEXT, "every 4th stroke"),
        (4, 0, FOURS, "every 4th stroke, as the part asks"),
        (4, 2, FOURS, "every 4th stroke"),
        (2, 0, FOURS, "every 2nd stroke, as the part asks"),
        (2, 1, FOURS, "every 2nd stroke"),
        (4, 0, f"{HEAD}RH snare {'Xggg' * 2}{'xggg' * 2}\n", "every 4th stroke, as the part asks"),
        (4, 0, f"{HEAD}RH snare {'xggg' * 4}\n", "every 4th stroke, as the part asks"),
        (4, 1, f"{HEAD}RH snare {'xggg' * 4}\n", "every 4th stroke"),
        (1, None, FOURS, "single strokes"),
        (None, None, TEXT, "cannot be told"),
    ],
)
def test_the_drive_is_said(strokes, phase, text, says):
    """With what else would sound like it, where that falls on the stroke of the drive."""
    body = {"technique": {"drive_length": {"strokes": strokes, "phase": phase}}}
    assert drive_in_words(body, asked_of(text)) == says


def test_no_drive_is_no_words():
    """Where nothing was measured."""
    for technique in ({}, {"drive_length": None}):
        assert drive_in_words({"technique": technique}, asked_of()) == ""
