"""Names of percussion notes."""

from loosehand.parts.percussion import PERCUSSION, PERCUSSION_CHANNEL, percussion_name


def test_every_note_of_the_table_has_a_name_of_its_own():
    """47 notes, 47 names."""
    assert len(set(PERCUSSION.values())) == len(PERCUSSION) == 47
    assert all(percussion_name(note) == name for note, name in PERCUSSION.items())


def test_notes_outside_the_table_have_none():
    """Kits use such notes in ways of their own."""
    assert percussion_name(34) is None
    assert percussion_name(82) is None


def test_the_percussion_channel_is_the_tenth():
    """Counted from 0 it is 9."""
    assert PERCUSSION_CHANNEL + 1 == 10
