"""Techniques as data: complete, in agreement with themselves, and shown as they are."""

import pytest

from loosehand.errors import BadNotation
from loosehand.parts.instruments import INSTRUMENTS, SURFACES
from loosehand.parts.techniques import CURES, TECHNIQUES, read_techniques
from tests.techniques_page import DATA, PAGE, page_text

ONE = """\
[[technique]]
name = "stick twirls"
strokes_per_drive = 2
cycle = ["down", "up"]
accents = [0]
leans_on = []
tempo_range_bpm = [60, 90]
surfaces = ["pad"]
gives = "a"
costs = "b"
first_fault = "c"
cure = "d"
develop = "e"
source = "a teacher"
"""


def test_the_techniques_of_the_glossary_are_all_there():
    """Three singles, three whips, push-pull, each with the strokes a drive of the glossary."""
    assert {name: of.strokes_per_drive for name, of in TECHNIQUES.items()} == {
        "wrist singles": 1,
        "finger singles": 1,
        "forearm singles": 1,
        "whip fours": 4,
        "whip threes": 3,
        "whip twos": 2,
        "push-pull": 2,
    }


def test_every_entry_says_where_it_comes_from():
    """No source is invented: it is a source, or the words that there is none."""
    sources = {of.source for of in TECHNIQUES.values()}
    assert sources == {"common practice, no source"}
    assert "\nsource" in DATA.read_text("utf-8")


def test_faults_have_cures():
    """What the judge may find wrong with a place has something to try."""
    assert {"late", "early", "soft", "loud"} <= set(CURES)
    assert all(cure.endswith(".") for cure in CURES.values())


def test_every_surface_is_under_some_instrument():
    """Instruments of the hands have a surface, those of the feet have none."""
    assert {name for name, of in INSTRUMENTS.items() if not of.by_foot} == set(SURFACES)


def test_a_teachers_own_file_is_read():
    """A file of one technique and no fault is enough."""
    table = read_techniques(ONE)
    assert list(table.techniques) == ["stick twirls"]
    assert table.techniques["stick twirls"].tempo_range_bpm == (60, 90)
    assert not table.faults


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('costs = "b"\n', "", "technique 'stick twirls' has no 'costs': want a sentence"),
        ('name = "stick twirls"\n', "", "a technique has no 'name'"),
        ('costs = "b"', "costs = 3", "'stick twirls' has costs = '3': want a sentence"),
        ('costs = "b"', 'cost = "b"\ncosts = "b"', "has a field 'cost' that nothing reads"),
        ('["down", "up"]', '["down", "flick"]', "has cycle = .*: want a list of full, down"),
        ('["down", "up"]', '["down"]', "has 2 strokes a drive and a cycle of 1"),
        ("strokes_per_drive = 2", "strokes_per_drive = true", "strokes_per_drive = 'True'"),
        ("accents = [0]", "accents = [2]", "has accents with 2: want phases 0 to 1"),
        ("leans_on = []", "leans_on = [-1]", "has leans_on with -1"),
        ("[60, 90]", "[90, 60]", r"has tempo_range_bpm = \[90, 60\]: want two, rising"),
        ("[60, 90]", "[60]", "want two, rising"),
        ('["pad"]', '["table"]', "has surfaces = .*: want a list of hat"),
        ('["pad"]', "[]", "has no surface"),
        ("[[technique]]", "[technique]", "'technique' is no list of tables"),
        ("[[technique]]", "[[techniques]]", "'techniques' is no table of techniques"),
        ("[[technique]]", "[[technique", "the techniques are no TOML"),
        (ONE, "", "the file has no technique"),
        (ONE, ONE + ONE, "technique 'stick twirls' stands there twice"),
        (ONE, ONE + '[[fault]]\nkey = "late"\n', "fault 'late' has no 'what'"),
        (ONE, "#" * 200_001, "200001 characters long"),
    ],
)
def test_an_incomplete_file_is_refused_in_one_sentence(old, new, said):
    """The sentence names the entry and the field, and says what is wanted."""
    with pytest.raises(BadNotation, match=said) as refused:
        read_techniques(ONE.replace(old, new))
    assert "\n" not in str(refused.value)


def test_the_page_of_techniques_is_current():
    """docs/techniques.md is what techniques.toml says today."""
    assert PAGE.read_text("utf-8") == page_text()
