"""Two takes of one player side by side."""

import re

import pytest

from loosehand.judge.technique import hear_technique
from loosehand.judge.technique_json import technique_json
from tests.judge.held_scenes import hand
from tests.judge.part_scenes import ACCENTS, TEXT
from tests.judge.test_main_fault import trending
from tests.studio.part_take_scenes import file_of_part, part_with_take
from tests.studio.take_scenes import HELD, file_midi, file_sound, heard_take
from tests.web.pages.page_forms import fields_without_label, forms_of


@pytest.fixture
def takes(studio, client):
    """Two takes of Ines and one of Otto."""
    file_sound(studio)
    file_midi(studio)
    file_sound(studio, player="Otto")
    return client


def test_the_page_of_a_take_leads_here(takes):
    """From a take one comes to those that it can be compared with: the player's own."""
    assert 'href="/compare?one=1"' in takes.get("/take/1").text
    text = takes.get("/compare?one=1").text
    assert '<option value="2">' in text
    assert '<option value="3">' not in text
    assert fields_without_label(text) == []
    assert forms_of(text)["/compare"] == {"one": "1", "other": "2"}


def test_two_takes_stand_side_by_side(takes):
    """Pictures before the table, the table before words; both holds are there."""
    text = takes.get("/compare?one=1&other=2").text
    assert text.index("part-plot") < text.index("<tbody>") < text.index("second less the first")
    held = heard_take()["count_held"]
    assert f"first take {held} of 24; second take {HELD} of 24" in text
    assert "Timing by place, two takes" in text
    assert "Level by place, two takes" in text
    assert "counts held" in text


def test_how_the_drives_sound_side_by_side(studio, client):
    """Each stroke of the drive and what changes over the take are drawn, and told in the table."""
    fours = trending(hand(drive=4, contrast_db=7.0, decay_db=1.0), 4, gap_ms=-10.0)
    for held in (fours, hand(drive=2, contrast_db=6.0), hand()):
        technique = technique_json(hear_technique(held))
        file_sound(studio, body=heard_take() | {"technique": technique})
    text = client.get("/compare?one=1&other=2").text
    level = text.split('id="plot-pair-drive-level"')[1].split("</svg>")[0]
    change = text.split('id="plot-pair-drive-change"')[1].split("</svg>")[0]
    for name in ("2nd stroke", "3rd stroke", "4th stroke", "accent above", "decay from"):
        assert (name in level, name in change) == (True, False)
    for name in ("lateness after", "growth of the taps", "growth of the gaps"):
        assert (name in level, name in change) == (False, True)
    row = text.split('<th scope="row">growth of the gaps in a drive')[1].split("</tr>")[0]
    assert row.endswith("<td>plain</td>")
    file_sound(studio, body=heard_take() | {"technique": {}})
    assert "pair-drive" not in client.get("/compare?one=3&other=4").text
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))


def test_the_other_way_round_the_difference_turns(takes):
    """Second less first."""
    one, other = (
        takes.get(f"/compare?{words}").text for words in ("one=1&other=2", "one=2&other=1")
    )
    rows = [
        next(row for row in text.split("<tr>") if "spread of the intervals" in row)
        for text in (one, other)
    ]
    figures = [[cell.split("<")[0] for cell in row.split('class="figure">')[1:]] for row in rows]
    assert figures[0][:2] == figures[1][1::-1]
    signs = {figures[0][2][0], figures[1][2][0]}
    assert signs == {"+", "\N{MINUS SIGN}"}


def test_a_player_with_one_take_is_told(studio, client):
    """There is nothing to choose from."""
    file_sound(studio)
    assert "has no other take yet" in client.get("/compare?one=1").text


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        ("", 422, "which take is compared?"),
        ("one=x", 422, "one = &#39;x&#39;"),
        ("one=1&other=-2", 422, "other = "),
        ("one=1&other=1", 422, "not compared with itself"),
        ("one=1&other=3", 422, "only takes of one player"),
        ("one=99", 404, "99"),
        ("one=1&other=99", 404, "99"),
        ("one=" + "9" * 30, 422, "one = "),
    ],
)
def test_what_cannot_be_compared_says_why(takes, words, status, says):
    """One sentence each."""
    answer = takes.get(f"/compare?{words}")
    assert answer.status_code == status
    assert says in answer.text


def test_two_hands_are_not_compared(studio, client):
    """An alternating take is of two hands, each with a technique of its own."""
    file_sound(studio)
    file_sound(studio, body=heard_take() | {"hand": "alternating"})
    answer = client.get("/compare?one=1&other=2")
    assert answer.status_code == 422
    assert "of two hands" in answer.text


def row_of(text, name):
    """Cells of a row of the table, without their marks."""
    row = text.split("<tbody>")[1].split(f'<th scope="row">{name}</th>')[1].split("</tr>")[0]
    return re.findall(r"<td[^>]*>(.*?)</td>", row)


def test_two_takes_of_a_part_tell_their_accents(studio, client):
    """Where both were asked for the same; where not, there is no such row."""
    number = part_with_take(studio)
    file_of_part(studio, number, accents=ACCENTS)
    text = client.get("/compare?one=1&other=2").text
    assert row_of(text, "accents of the part that came")[:2] == [
        "27 of 30, 1 unasked",
        "30 of 30",
    ]
    file_midi(studio)
    assert "accents of the part" not in client.get("/compare?one=1&other=3").text
    file_of_part(studio, number, text=TEXT.replace("x6", "x5"))
    assert "accents of the part" not in client.get("/compare?one=1&other=4").text


def test_a_row_has_the_same_decimals_throughout(takes):
    """Counts are whole; a figure with a decimal stands beside one with a decimal."""
    text = takes.get("/compare?one=1&other=2").text
    assert all("." not in cell for cell in row_of(text, "counts held")[:3])
    rows = re.findall(r'<th scope="row">(.*?)</th>', text.split("<tbody>")[1])
    for name in rows:
        cells = [cell for cell in row_of(text, name)[:2] if cell]
        assert len({"." in cell for cell in cells}) == 1
