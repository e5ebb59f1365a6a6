"""The page of all parts: begun, brought from elsewhere, refused."""

import pytest

from loosehand.parts.text import parse_part
from loosehand.sheets.part_midi import part_to_midi
from loosehand.sheets.part_musicxml import part_to_musicxml
from loosehand.studio.part_examples import EXAMPLE_TUNE, EXAMPLES
from loosehand.studio.parts_store import list_parts, load_part
from loosehand.web.pages import part_files
from tests.web.pages.page_forms import fields_without_label
from tests.web.pages.part_scenes import TINY, kept_part


def brought(client, data, name="part.mid", **said):
    """Send a file."""
    return client.post("/parts", data=said, files={"file": (name, data)}, follow_redirects=False)


def test_an_empty_studio_says_how_to_begin(client):
    """Nothing yet, and both ways to a part, every field labelled."""
    text = client.get("/parts").text
    assert "No part yet" in text
    assert all(title in text for title in EXAMPLES)
    assert "MIDI, MusicXML or text, up to 8 MB" in text
    assert fields_without_label(text) == []


def test_a_part_is_begun_from_an_example(client, studio):
    """It is kept, whose it was said to be, and its page opened."""
    answer = client.post(
        "/parts", data={"example": "Seven", "player": "Nerys"}, follow_redirects=False
    )
    (listed,) = list_parts(studio)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/part/{listed.part_id}")
    assert (listed.title, listed.player) == ("Seven", "Nerys")
    assert "Seven" in client.get("/parts").text


@pytest.mark.parametrize(
    "write", [part_to_midi, part_to_musicxml, lambda part: EXAMPLE_TUNE.encode()]
)
def test_a_file_is_brought(client, studio, write):
    """MIDI, MusicXML and text become a part with every stroke."""
    tune = parse_part(EXAMPLE_TUNE)
    answer = brought(client, write(tune), player="")
    assert answer.status_code == 303
    (listed,) = list_parts(studio)
    assert listed.player is None
    found = parse_part(load_part(studio, listed.part_id).text)
    assert sum(len(one.bars) * one.times for one in found.sections) == 51


@pytest.mark.parametrize(
    "data",
    [
        b"MThd",
        b"MThd" + bytes(40),
        b"<!DOCTYPE x [<!ENTITY a 'b'>]><score-partwise>&a;</score-partwise>",
        b"<html></html>",
        b"PK\x03\x04nonsense",
        b"\xff\xd8\xff\xe0 a photo",
        b"tempo: 0",
        b"\xff\xfe\x00",
    ],
)
def test_a_file_that_is_no_part_is_refused_in_a_sentence(client, studio, data):
    """The page comes back, with why, and nothing is kept."""
    answer = brought(client, data)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert list_parts(studio) == []


def test_a_file_that_is_too_large_is_refused(client, studio, monkeypatch):
    """Beyond the limit nothing is read."""
    answer = brought(client, bytes(part_files.MOST_BYTES + 1))
    assert answer.status_code == 422
    assert "larger than 8 MB" in answer.text


def test_what_was_not_chosen_is_asked_for(client, studio):
    """No file, an unknown example, an unknown player."""
    empty = client.post("/parts", files={"file": ("", b"")})
    assert (empty.status_code, "no file was chosen" in empty.text) == (422, True)
    wrong = client.post("/parts", data={"example": "Opus 1"})
    assert (wrong.status_code, "Opus 1" in wrong.text) == (422, True)
    nobody = client.post("/parts", data={"example": "Seven", "player": "Nobody"})
    assert nobody.status_code == 404
    assert list_parts(studio) == []


def test_all_parts_are_listed(client, studio):
    """Each by its title, with whose it is."""
    number = kept_part(studio, TINY, "Tobin")
    text = client.get("/parts").text
    assert f'href="/part/{number}"' in text
    assert "Tobin, changed on 1 March 2027" in text
    assert 'href="/parts" aria-current="page"' in text
