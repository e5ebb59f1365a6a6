"""Tests of MusicXML: valid, exact, read by another program, and careful with strangers."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.errors import BadNotation
from loosehand.parts import Bar, Meter, Part, Section, Stroke
from loosehand.sheets.part_musicxml import part_from_musicxml, part_to_musicxml
from tests.sheets.music_xml_schema import music_xml_schema, problems
from tests.sheets.some_parts import groove, parts
from tests.sheets.strange_scores import BACK, EIGHTHS, FOUR, KICKS, note, score

SLOW = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


@pytest.fixture(scope="module")
def schema():
    """Return the W3C schema of MusicXML 4.0."""
    return music_xml_schema()


def test_the_groove_is_valid(schema):
    """The W3C schema of MusicXML 4.0 finds nothing wrong with a tune that uses everything."""
    assert problems(schema, part_to_musicxml(groove(), shows_sticking=True)) == []


def test_the_schema_finds_faults(schema):
    """The check can fail: a note without its duration is found."""
    broken = part_to_musicxml(groove()).replace(b"<duration>", b"<chord /><duration>", 1)
    assert problems(schema, broken) != []


@SLOW
@given(part=parts())
def test_any_part_is_valid_and_read_back_exactly(schema, part):
    """Whatever can be played is valid MusicXML 4.0, and comes back as it was."""
    score = part_to_musicxml(part)
    assert problems(schema, score) == []
    assert part_from_musicxml(score) == part


def test_the_sticking_changes_nothing_that_is_read():
    """A score that shows R and L is read like one that does not."""
    assert part_from_musicxml(part_to_musicxml(groove(), shows_sticking=True)) == groove()


@pytest.mark.filterwarnings("ignore")
def test_music21_reads_every_stroke():
    """Another program finds each stroke at its place, with its place on the staff and its head."""
    import music21

    read = music21.converter.parseData(part_to_musicxml(groove()).decode(), format="musicxml")
    found = []
    for number, measure in enumerate(read.parts[0].getElementsByClass("Measure"), start=1):
        for read_note in measure.recurse().notes:
            if read_note.duration.isGrace:
                continue
            heads = getattr(read_note, "notes", [read_note])
            at = Fraction(read_note.getOffsetInHierarchy(measure)).limit_denominator(48) / 4
            found += [(number, at, h.displayStep, h.displayOctave, h.notehead) for h in heads]
    assert sorted(found) == sorted(_written(groove()))


def _written(part):
    from loosehand.parts import INSTRUMENTS

    bars = [bar for section in part.sections for bar in section.bars]
    for number, bar in enumerate(bars, start=1):
        for stroke in bar.strokes:
            on = INSTRUMENTS[stroke.instrument]
            at = Fraction(stroke.place, bar.meter.unit * bar.places_per_unit)
            yield (number, at, on.display_step, on.display_octave, on.head)


def test_a_score_of_another_program_is_read():
    """Places, limbs and the tempo of a plain score are told or guessed by the rules."""
    part = part_from_musicxml(
        score(f'<measure number="1">{FOUR}<sound tempo="92"/>{EIGHTHS}{BACK}{KICKS}</measure>')
    )
    expected = tuple(
        [Stroke(place, "right hand", "hat") for place in range(8)]
        + [Stroke(place, "right foot", "kick") for place in (0, 4)]
    )
    bar = Bar(Meter((1, 1, 1, 1), 4), 2, expected)
    section = Section("section 1", (bar,), 1, None, None)
    assert part == Part("", Fraction(92), Fraction(1, 4), 50, (), (section,))


def test_a_repeat_over_two_names_is_written_out():
    """A repeat sign around two named sections plays both again."""
    name = "<direction><direction-type><rehearsal>{}</rehearsal></direction-type></direction>"
    end = '<barline><repeat direction="backward"/></barline>'
    part = part_from_musicxml(
        score(
            f'<measure number="1">{FOUR}{name.format("A")}{EIGHTHS}</measure>'
            f'<measure number="2">{name.format("B")}{EIGHTHS}{end}</measure>'
        )
    )
    assert [section.name for section in part.sections] == ["A", "B", "A", "B"]


def test_sounds_are_told_by_their_midi_numbers():
    """An instrument of the part list is known by its General MIDI number, one-based."""
    told = (
        '<score-instrument id="X"><instrument-name>Ride 2</instrument-name></score-instrument>'
        '<midi-instrument id="X"><midi-unpitched>60</midi-unpitched></midi-instrument>'
    )
    measure = f"<measure>{FOUR}{note('B', 4, 8, '<instrument id=' + chr(34) + 'X' + chr(34))}"
    measure = measure.replace('id="X"</note>', 'id="X"/></note>') + "</measure>"
    [section] = part_from_musicxml(score(measure, told)).sections
    assert section.bars[0].strokes == (Stroke(0, "right hand", "ride"),)


def test_edited_notes_stand_above_what_was_kept():
    """A tempo and an accent changed by another program are read, not what we once wrote."""
    told = part_to_musicxml(groove()).replace(b'tempo="104.0"', b'tempo="90"')
    told = told.replace(b"<accent />", b"<staccato />", 1)
    part = part_from_musicxml(told)
    assert part.tempo_bpm == 90
    assert part.sections[0].bars[0].strokes[0].marks == ()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "well-formed"),
        (b"no xml at all", "line 1, column 1"),
        (b"<score-timewise/>", "score-partwise"),
        (score("<measure/>"), "no part of it has an unpitched note"),
        (score(f"<measure>{FOUR}{note('C', 9, 1)}</measure>"), "bar 1: the note at C9"),
        (score(f"<measure>{FOUR}{note('G', 5, 'x')}</measure>"), "bar 1: duration = 'x'"),
        (score(f"<measure>{FOUR}{EIGHTHS}{EIGHTHS}</measure>"), "bar 1: a note stands 1 of"),
        (score(f"<measure>{FOUR}{BACK}{EIGHTHS}</measure>"), "bar 1: it goes back"),
        (
            score(
                f"<measure>{FOUR}{EIGHTHS}</measure><measure><barline><ending/></barline></measure>"
            ),
            "bar 2: first and second endings",
        ),
        (score(f'<measure>{FOUR}{EIGHTHS}<sound dacapo="yes"/></measure>'), "bar 1: a jump"),
        (
            score(
                f"<measure>{FOUR}{EIGHTHS}<note><pitch><step>C</step><octave>4</octave></pitch>"
                "<duration>1</duration></note></measure>"
            ),
            "bar 1: a note with a pitch",
        ),
        (
            score(
                f"<measure>{FOUR}{note('G', 5, 1)}"
                + "".join(note(s, 5, 1).replace("<note>", "<note><chord/>") for s in "CDE")
                + "</measure>"
            ),
            "bar 1, place 0: .* more than two hands",
        ),
    ],
)
def test_what_is_no_part_is_refused_with_its_place(data, says):
    """What is wrong is said in one sentence that points at it."""
    with pytest.raises(BadNotation, match=says) as refusal:
        part_from_musicxml(data)
    assert "\n" not in str(refusal.value)


def test_a_place_too_fine_to_write_is_refused():
    """A place finer than a 1024th has no note value."""
    bar = Bar(Meter((1,), 32), 64, (Stroke(1, "right hand", "pad"), Stroke(2, "left hand", "pad")))
    part = replace(groove(), sections=(Section("fine", (bar,), 1, None, None),))
    with pytest.raises(BadNotation, match="1/2048"):
        part_to_musicxml(part)


def test_a_fine_grid_of_our_own_comes_back():
    """A grid finer than is looked for in strange files is kept, and read."""
    bar = Bar(Meter((1, 1), 4), 63, (Stroke(5, "right hand", "pad"),))
    part = replace(groove(), sections=(Section("fine", (bar,), 1, None, None),))
    assert part_from_musicxml(part_to_musicxml(part)) == part
