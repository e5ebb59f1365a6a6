"""The page of a take of a part: what it says of the part."""

import pytest

from loosehand.studio.filing import correct_count
from loosehand.studio.parts_store import change_part, delete_part
from loosehand.studio.take_sheet import load_take
from loosehand.web.pages.take_part import against_part
from tests.judge.part_scenes import ACCENTS, HEAD, TEXT
from tests.studio.part_take_scenes import file_of_part, part_with_take
from tests.studio.take_scenes import file_midi
from tests.web.conftest import NOW


@pytest.fixture
def part(studio):
    """Return the number of a part that has one take."""
    return part_with_take(studio)


def block(client, take_id=1):
    """Return what a take's page says of its part."""
    text = client.get(f"/take/{take_id}").text
    return text.split('class="against"')[1].split("</section>")[0]


def test_a_take_stands_against_its_part(client, part):
    """A sentence, then the picture, then the table, then how it was played and where to go on."""
    text = block(client)
    assert "27 of 30 came, 1 came unasked" in text
    assert "The accent at 2 &amp; was missed 3 times of 6." in text
    order = [
        "27 of 30",
        'role="img"',
        "<table",
        "Drive as heard:",
        f"/part/{part}/ways?player=Ines",
    ]
    found = [text.index(each) for each in order]
    assert found == sorted(found)
    assert f'href="/part/{part}?player=Ines"' in text
    assert f'href="/send?part={part}&amp;limb=right%20hand&amp;player=Ines&amp;tempo=100"' in text
    assert "at the tempo of the part, 100" in text


def test_the_table_has_a_row_a_bar(client, part):
    """Headed by column and row, with places in words."""
    table = block(client).split("<table")[1]
    assert table.count('scope="col"') == 5
    assert table.count('scope="row"') == 12
    assert '<th scope="row">1</th><td>3</td><td>2</td><td>2 &amp;</td><td></td>' in table
    assert '<th scope="row">4</th><td>2</td><td>2</td><td></td><td>1 &amp;</td>' in table


def test_a_slower_take_says_so(client, studio, part):
    """Practice below the tempo is a normal thing, and is named."""
    file_of_part(studio, part, tempo_bpm=80)
    assert "at 80, slower than the part, which is at 100" in block(client, 2)


def test_a_part_that_changed_is_said(client, studio, part):
    """The old take is heard against the old text."""
    change_part(studio, part, TEXT.replace("RH hat Xxxx", "RH hat xxxx"), seen=1, now=NOW)
    text = block(client)
    assert "changed since" in text
    assert "27 of 30 came" in text


def test_a_part_that_was_deleted_is_said(client, studio, part):
    """Nothing leads to what is not there."""
    delete_part(studio, part)
    text = block(client)
    assert "deleted since" in text
    assert "27 of 30 came" in text
    assert "/part/" not in text


def test_the_break_that_stands_ends_it(client, studio, part):
    """After a person's number nothing is judged, and the key says so."""
    place = load_take(studio, 1).place
    correct_count(studio, place, count_held=24, ended=None, why="a slip", now=NOW)
    text = block(client)
    assert "12 of 15 came" in text
    assert text.count('<td colspan="4">after the break</td>') == 6
    assert "After the red line" in text


def test_a_recording_that_ended_early_has_no_break(client, studio):
    """Nothing of a break is said where the recording ended before the part."""
    part_with_take(studio, change={"count_held": 24, "ended": "recording ended"})
    text = block(client)
    assert "12 of 15 came" in text
    assert text.count('<td colspan="4">after the end of the take</td>') == 6
    assert "After the dashed line, where the take ended" in text
    assert "break" not in text.replace("break-", "")


def test_accents_of_the_part_are_not_named_as_the_main_fault(client, studio):
    """The page tells the technique against the part: what is asked for has no cure."""
    text = f"{HEAD}[a] x12\nRH hat Xxxx xxxx xxxx xxxx\n"
    part_with_take(studio, text=text, accents=tuple(range(0, 192, 16)))
    page = client.get("/take/1").text
    told = page.split('id="technique"')[1].split("<h3")[0]
    assert "12 of 12 came" in block(client)
    assert "Soft and loud are told with the levels off that the part asks for." in told
    assert "loud." not in told
    assert "To try" not in page


@pytest.mark.parametrize("count", [48, 8, 3, 0])
def test_after_a_correction_too_the_part_decides_what_is_a_fault(client, studio, count):
    """However few counts a person leaves: the 1 is loud because the part asks for it."""
    text = f"{HEAD}[a] x12\nRH hat Xxxx xxxx xxxx xxxx\n"
    place = part_with_take_of_ones(studio, text)
    correct_count(studio, place, count_held=count, ended=None, why="heard it", now=NOW)
    page = client.get("/take/1").text
    assert "dB loud" not in page
    assert "To try" not in page


def part_with_take_of_ones(studio, text):
    """Keep a part with an accent on the 1 of each bar and a take that plays it."""
    part_with_take(studio, text=text, accents=tuple(range(0, 192, 16)))
    sheet = load_take(studio, 1)
    assert sheet.body["technique"]["main_fault"]["kind"] == "loud"
    return sheet.place


def test_what_is_shown_has_the_same_keys_with_and_without_a_number(studio):
    """So that the page may ask for each of them."""
    part_with_take(studio)
    part = part_with_take(studio, change={"count_held": None, "ended": "not judged"})
    judged, not_judged = (against_part(studio, load_take(studio, each)) for each in (1, 2))
    assert part == 2
    assert judged.keys() == not_judged.keys()
    assert (not_judged["cure"], not_judged["end"], not_judged["has_untold"]) == ("", None, False)


def test_one_cure_is_shown_where_accents_are_missed(client, studio):
    """In the block of the part, and nowhere else."""
    few = tuple(sorted(set(ACCENTS) - set(ACCENTS[::3])))
    part_with_take(studio, accents=few)
    assert "To try: Lower everything else; do not raise the accents." in block(client)
    assert client.get("/take/1").text.count("To try:") == 1


def test_what_cannot_be_told_has_a_sign_and_a_column(client, studio):
    """Only where there is such an accent."""
    lines = "RH hat .xxx xxXx xxxx Xxxx\nRH crash X... .... .... ....\n"
    rest = "RH hat xxxx xxXx xxxx Xxxx\n"
    part_with_take(studio, text=f"{HEAD}[a] x6\n{lines}[b] x6\n{rest}", accents=ACCENTS)
    text = block(client)
    assert "one of which it cannot be told" in text
    assert text.count('scope="col"') == 6
    assert text.count("<td>1</td></tr>") == 6


def test_a_part_without_accents_has_no_picture(client, studio):
    """The rest of the page is as ever."""
    part_with_take(studio, text=TEXT.replace("X", "x"))
    text = block(client)
    assert "asks for no accents" in text
    assert "<svg" not in text
    assert "<table" not in text


def test_a_take_of_no_part_says_nothing(client, studio):
    """The page of any other take is as it was."""
    file_midi(studio)
    assert against_part(studio, load_take(studio, 1)) is None
    assert 'class="against"' not in client.get("/take/1").text


def test_a_take_that_was_not_judged(client, studio):
    """Without a number no accents are compared."""
    part_with_take(studio, change={"count_held": None, "ended": "not judged"})
    assert "There is no number for this take" in block(client)
