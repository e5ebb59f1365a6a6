"""Tests of reading MIDI files of other programs, written here by mido."""

import io
from fractions import Fraction

import pytest

from loosehand.errors import BadNotation
from loosehand.sheets.part_midi import part_from_midi


def file_of(notes, *, ticks_per_quarter=96, metas=(), channel=9):
    """Return a file of format 0: notes as (tick, note, velocity), ended 10 ticks later."""
    import mido

    events = [(tick, message) for tick, message in metas]
    for tick, note, velocity in notes:
        on = mido.Message("note_on", channel=channel, note=note, velocity=velocity)
        off = mido.Message("note_off", channel=channel, note=note)
        events += [(tick, on), (tick + 5, off)]
    events.sort(key=lambda event: event[0])
    track, before = mido.MidiTrack(), 0
    for tick, message in events:
        track.append(message.copy(time=tick - before))
        before = tick
    file = mido.MidiFile(type=0, ticks_per_beat=ticks_per_quarter)
    file.tracks.append(track)
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


def strokes(data):
    """Return (bar, place, limb, instrument, marks) of what is read."""
    part = part_from_midi(data)
    bars = [bar for section in part.sections for bar in section.bars]
    return [
        (number, s.place, s.limb, s.instrument, s.marks)
        for number, bar in enumerate(bars, start=1)
        for s in bar.strokes
    ]


def test_notes_near_the_grid_are_put_on_it():
    """Eighths that were played a little off are eighths."""
    data = file_of([(0, 42, 80), (50, 42, 80), (95, 42, 80), (146, 42, 80)])
    assert [place for _, place, *_ in strokes(data)] == [0, 1, 2, 3]


def test_exact_quintuplets_stay_quintuplets():
    """A grid on which the notes lie exactly is taken before a looser one."""
    data = file_of([(19 * k, 38, 80) for k in range(5)], ticks_per_quarter=95)
    part = part_from_midi(data)
    assert part.sections[0].bars[0].places_per_unit == 5


def test_a_note_before_the_bar_line_belongs_to_the_next_bar():
    """A crash played early on the one of a bar is on the one."""
    data = file_of([(0, 36, 80), (96, 38, 80), (192, 36, 80), (382, 49, 80), (480, 38, 80)])
    assert (2, 0, "right hand", "crash", ()) in strokes(data)


def test_hard_and_soft_are_told_by_the_median():
    """An accent and a ghost note stand out of the plain strokes."""
    data = file_of([(0, 42, 80), (48, 42, 110), (96, 42, 80), (144, 42, 40), (192, 42, 80)])
    assert [marks for *_, marks in strokes(data)] == [(), ("accent",), (), ("ghost",), ()]


def test_a_soft_note_just_before_makes_a_flam():
    """Two notes on the snare within 40 ms, the first softer, are one flam."""
    data = file_of([(0, 38, 80), (92, 38, 40), (96, 38, 80), (192, 38, 80)])
    assert [(place, marks) for _, place, _, _, marks in strokes(data)] == [
        (0, ()),
        (1, ("flam",)),
        (2, ()),
    ]


def test_meters_markers_and_tempos_make_sections():
    """Markers name sections, tempos change in them, meters make the bars."""
    import mido

    metas = [
        (0, mido.MetaMessage("time_signature", numerator=7, denominator=8)),
        (0, mido.MetaMessage("set_tempo", tempo=500_000)),
        (0, mido.MetaMessage("marker", text="one")),
        (336, mido.MetaMessage("marker", text="two")),
        (336, mido.MetaMessage("set_tempo", tempo=600_000)),
    ]
    part = part_from_midi(file_of([(0, 36, 80), (336, 36, 80)], metas=metas))
    told = [(s.name, s.tempo_bpm, s.bars[0].meter.grouping) for s in part.sections]
    assert part.tempo_bpm == 120
    assert told == [("one", None, (2, 2, 3)), ("two", Fraction(100), (2, 2, 3))]


def test_a_hanging_note_is_refused_with_bar_and_tick():
    """A note that is struck and never ends is named."""
    data = file_of([(0, 42, 80), (480, 38, 80)])
    hanging = data.replace(bytes([0x89, 38, 64]), bytes([0x89, 37, 64]))
    with pytest.raises(BadNotation, match="bar 2, tick 480: note 38 is struck and never ends"):
        part_from_midi(hanging)


def test_a_file_without_drums_is_refused():
    """Notes on another channel are no percussion."""
    with pytest.raises(BadNotation, match="no note on channel 10"):
        part_from_midi(file_of([(0, 60, 80)], channel=0))


def test_a_sound_that_no_kit_has_is_refused_with_its_place():
    """A cuica is none of our instruments."""
    with pytest.raises(BadNotation, match="bar 1, tick 96: note 78 of channel 10 is none of"):
        part_from_midi(file_of([(0, 36, 80), (96, 78, 80)]))


def test_three_strokes_of_two_hands_are_refused_with_their_bar():
    """Hat, snare and crash at once are one hand too many."""
    with pytest.raises(BadNotation, match=r"bar 1, place 0: .* more than two hands"):
        part_from_midi(file_of([(0, 42, 80), (0, 38, 80), (0, 49, 80)]))


def test_a_meter_within_a_bar_is_refused():
    """A meter that changes in the middle of a bar has no bars."""
    import mido

    metas = [(96, mido.MetaMessage("time_signature", numerator=3, denominator=4))]
    with pytest.raises(BadNotation, match="bar 1, tick 96: the meter changes in the middle"):
        part_from_midi(file_of([(0, 36, 80), (800, 36, 80)], metas=metas))
