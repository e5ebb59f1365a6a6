"""Swing in milliseconds, section by section, and the line that tells it."""

from dataclasses import replace

import pytest

from loosehand.errors import BadNotation
from loosehand.parts.demand import demand_of
from loosehand.parts.part import SWING_LIMITS_PERCENT
from loosehand.parts.swing import (
    CLEARLY_SHORT_MS,
    MEASURED_RATIO,
    MEASURED_SHORT_MS,
    kept_swing_percent,
    long_to_short,
    swing_line,
    swung_sections,
)
from loosehand.parts.text import parse_part
from loosehand.parts.unroll import unrolled

SIXTEENTHS = "RH hat xxxx xxxx xxxx xxxx\n"


def swung(body=SIXTEENTHS, *, tempo="126", meter="4/4", grid="4", swing=71):
    """A part with swing."""
    head = f"tempo: {tempo}\nmeter: {meter}\ngrid: {grid}\nswing: {swing}\n"
    return parse_part(f"{head}[verse] x2\n{body}")


def test_long_and_short_are_those_that_are_played():
    """The two notes of a pair are as long as the tune played out has them."""
    part = swung(swing=63, tempo="97.5")
    (section,) = swung_sections(part)
    first, second, third = unrolled(part).time_s[:3]
    assert section.long_ms == pytest.approx(1e3 * (second - first))
    assert section.short_ms == pytest.approx(1e3 * (third - second))
    assert section.ratio == pytest.approx(section.long_ms / section.short_ms)


@pytest.mark.parametrize(
    ("meter", "grid", "body", "tempo", "note", "pair_ms"),
    [
        ("4/4", "2", "RH ride xx xx xx xx\n", "150", "an eighth", 400.0),
        ("4/4", "4", SIXTEENTHS, "150", "a sixteenth", 200.0),
        ("4/4", "8", "RH hat xxxxxxxx xxxxxxxx xxxxxxxx xxxxxxxx\n", "60", "a 32nd", 250.0),
        ("4/4", "6", "RH hat xxxxxx xxxxxx xxxxxx xxxxxx\n", "60", None, 1000.0 / 3),
        ("7/8 as 2+2+3", "2", "RH hat xxxx xxxx xxxxxx\n", "120", "a sixteenth", 250.0),
        ("6/8", "2", "RH hat xxxxxx xxxxxx\n", "dotted quarter = 80", "a sixteenth", 250.0),
    ],
)
def test_the_note_and_the_beat_are_those_of_the_part(meter, grid, body, tempo, note, pair_ms):
    """Meter, grid and the note value that the tempo counts all tell how long a pair is."""
    (section,) = swung_sections(swung(body, meter=meter, grid=grid, tempo=tempo))
    assert section.note == note
    assert section.long_ms + section.short_ms == pytest.approx(pair_ms)


def test_a_straight_part_has_no_swing():
    """Swing of 50 is none, and nothing is told."""
    assert swung_sections(swung(swing=50)) == ()
    assert swing_line(()) is None


@pytest.mark.parametrize(
    ("grid", "body"),
    [("4", "RH hat x.x. x.x. x.x. x.x.\n"), ("3", "RH hat xxx xxx xxx xxx\n")],
)
def test_where_no_swung_place_is_struck_there_is_no_short_note(grid, body):
    """Eighths on a grid of sixteenths, and triplets, stay as they are."""
    assert swung_sections(swung(body, grid=grid)) == ()


def test_the_finest_grid_of_a_section_is_told():
    """Of eighths and sixteenths in one section the sixteenths have the shorter note."""
    both = "RH hat xxxx xxxx xxxx xxxx\n\nmeter: 4/4\ngrid: 2\nRH hat xx xx xx xx\n"
    (section,) = swung_sections(swung(both))
    assert section.note == "a sixteenth"


def test_a_swung_part_that_cannot_be_played_is_refused():
    """Swing outside its limits is refused in a sentence, and no ratio is told."""
    with pytest.raises(BadNotation, match="swing = 100: want 50"):
        swung_sections(replace(swung(), swing_percent=100))


def test_a_short_note_that_is_clearly_short_is_remarked():
    """At 126 swing 71 leaves 69 ms; 100 of 238 ms would be swing 58."""
    sections = swung_sections(swung())
    assert swing_line(sections) == (
        "At this tempo the short note, a sixteenth, lasts 69 ms; drummers measured on the ride "
        "kept their short eighth near 100 ms (Friberg and Sundström 2002), which would be swing "
        "58 here."
    )
    assert sections[0].is_clearly_short


def test_elsewhere_ratio_and_length_are_told_alone():
    """At 104 swing 58 leaves 121 ms, and no drummer is named against it."""
    sections = swung_sections(swung(tempo="104", swing=58))
    told = "At this tempo the short note, a sixteenth, lasts 121 ms, long to short 1.4 : 1."
    assert swing_line(sections) == told
    assert sections[0].kept_swing_percent is None


@pytest.mark.parametrize(("swing", "is_short"), [(60, False), (61, True)])
def test_the_bound_of_clearly_short(swing, is_short):
    """In a pair of 200 ms swing 60 leaves 80 ms, which is not yet clearly short."""
    (section,) = swung_sections(swung(tempo="150", swing=swing))
    assert section.is_clearly_short is is_short


def test_where_straight_notes_are_short_already_no_swing_is_proposed():
    """At 170 a straight sixteenth lasts 88 ms: there is no room for 100 ms."""
    told = swing_line(swung_sections(swung(tempo="170")))
    assert "even straight notes last 88 ms here." in told
    assert "which would be" not in told


def test_sections_are_told_by_their_own_tempos():
    """The shortest is told with its tempo, the others that are short by name, slow ones not."""
    body = SIXTEENTHS + "".join(
        f"[{name}] tempo {tempo}\n{SIXTEENTHS}"
        for name, tempo in (("chorus", 140), ("slow", 60), ("a", 130), ("b", 130), ("c", 130))
    )
    sections = swung_sections(swung(body))
    assert [each.tempo_bpm for each in sections] == [126.0, 140.0, 60.0, 130.0, 130.0, 130.0]
    told = swing_line(sections)
    assert told.startswith("In chorus, at 140, the short note, a sixteenth, lasts 62 ms;")
    assert told.endswith("Short too: verse, a, b and 1 more.")


def test_a_section_that_comes_twice_is_named_once():
    """The same name is not told as another section that is short too."""
    body = SIXTEENTHS + f"[chorus]\nRH hat x... x... x... x...\n[verse]\n{SIXTEENTHS}"
    assert "Short too" not in swing_line(swung_sections(swung(body)))


ONE_TEMPO_OF_ITS_OWN = "RH ride x. x. x. x.\n[b] tempo 250\nRH ride xx xx xx xx\n"


def test_the_one_swung_section_is_named_where_it_has_a_tempo_of_its_own():
    """In a part of two tempos a single swung section is said with its name and tempo."""
    told = swing_line(swung_sections(swung(ONE_TEMPO_OF_ITS_OWN, grid="2", tempo="120", swing=70)))
    assert told.startswith("In b, at 250, the short note, an eighth, lasts 72 ms;")
    same = ONE_TEMPO_OF_ITS_OWN.replace(" tempo 250", "")
    told = swing_line(swung_sections(swung(same, grid="2", tempo="250", swing=70)))
    assert told.startswith("At this tempo the short note, an eighth, lasts 72 ms;")


def test_sections_at_one_tempo_are_told_together():
    """Where the whole part has one tempo no section need be named, nor which are short too."""
    two = swung_sections(swung(f"{SIXTEENTHS}[chorus]\n{SIXTEENTHS}"))
    assert len(two) == 2
    assert swing_line(two) == swing_line(swung_sections(swung()))


def test_the_note_value_of_the_tempo_is_named_where_it_is_no_quarter():
    """A tempo of dotted quarters is not told as if it were one of quarters."""
    body = "RH hat xxxxxx xxxxxx\n[chorus] tempo 97.5\nRH hat xxxxxx xxxxxx\n"
    told = swing_line(
        swung_sections(swung(body, meter="6/8", grid="2", tempo="dotted quarter = 80", swing=60))
    )
    assert told.startswith("In chorus, at dotted quarter = 97.5, the short note, a sixteenth,")


def test_the_demand_holds_it():
    """The demand of a part tells its swing, 69 of 238 ms at 126; of a straight part none."""
    (section,) = demand_of(swung()).swing
    assert (section.section, section.tempo_bpm, section.note) == ("verse", 126.0, "a sixteenth")
    assert section.short_ms == pytest.approx(69.05, abs=0.01)
    assert section.long_ms == pytest.approx(169.05, abs=0.01)
    assert demand_of(swung(swing=50)).swing == ()


@pytest.mark.parametrize(
    ("pair_ms", "percent"),
    [(1e6, 78), (450.0, 78), (400.0, 75), (250.0, 60), (200.0, 50), (199.0, 50), (10.0, 50)],
)
def test_the_swing_that_would_be_kept(pair_ms, percent):
    """100 ms short, between 1 : 1 at fast tempos and 3.5 : 1, 78 %, at slow ones; from a table."""
    assert kept_swing_percent(pair_ms) == percent


def test_what_is_ours_and_what_was_measured_agree():
    """Clearly short, 80 ms, is below the 100 that were kept; a part swings to 3 : 1 at most."""
    assert (CLEARLY_SHORT_MS, MEASURED_SHORT_MS, MEASURED_RATIO) == (80.0, 100.0, (1.0, 3.5))
    assert long_to_short(SWING_LIMITS_PERCENT[1]) == pytest.approx(3.0)
