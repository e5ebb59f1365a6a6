"""A text is heard as it stands, saved or not, and nothing of it is kept for long."""

import io
import wave

import pytest

from loosehand.errors import BadNotation, InputError, NotFound
from loosehand.parts.text import parse_part
from loosehand.studio.parts_store import load_part
from loosehand.web.pages.part_listen import HeardTexts, address_to_hear
from tests.web.pages.part_scenes import TINY, kept_part

FASTER = TINY.replace("90", "180")
"""Two bars of two counts at twice the tempo."""


def length_s(data):
    """How long a sound lasts."""
    with wave.open(io.BytesIO(data)) as sound:
        return sound.getnframes() / sound.getframerate()


def answer_to(client, text, **more):
    """What the script gets that wants to have a text heard."""
    return client.post("/part/listen", data={"text": text} | more).json()


def test_a_text_is_heard_as_it_stands(client, studio):
    """At twice the tempo the sound is shorter by half of eight counts; the saved one stays."""
    number = kept_part(studio, TINY)
    saved = client.get(f"/part/{number}/sound.wav").content
    answer = answer_to(client, FASTER)
    assert answer["problem"] is None
    heard = client.get(answer["address"])
    assert (heard.status_code, heard.headers["content-type"]) == (200, "audio/wav")
    assert length_s(saved) - length_s(heard.content) == pytest.approx(8 * (60 / 90 - 60 / 180))
    assert load_part(studio, number).text == TINY
    assert client.get(f"/part/{number}/sound.wav").content == saved


def test_a_player_may_ask_for_a_stretch_of_it(client):
    """Ranges of bytes are those of the whole."""
    address = answer_to(client, FASTER)["address"]
    whole = client.get(address).content
    piece = client.get(address, headers={"range": "bytes=100-199"})
    assert (piece.status_code, piece.content) == (206, whole[100:200])


def test_one_section_is_heard(client):
    """By its number from 1, without those before it."""
    text = TINY + "[b]\nRH hat x. x.\n"
    whole = client.get(answer_to(client, text)["address"]).content
    one = client.get(answer_to(client, text, section="2")["address"]).content
    assert length_s(whole) - length_s(one) == pytest.approx(4 * 60 / 90)
    said = answer_to(client, text, section="3")["problem"]["sentence"]
    assert said == "section = 3: want 1 to 2"


def test_what_cannot_be_read_is_said_with_its_place(client):
    """The sentence and the place that the page shows for a fault of the text."""
    answer = answer_to(client, TINY.replace("X.", "Xz"))
    assert "address" not in answer
    assert answer["problem"]["line"] == 6


def test_what_is_too_long_is_refused_before_it_is_played():
    """Half an hour is the most, and one section of a longer tune is heard."""
    text = TINY.replace("x2", "x2000")
    texts = HeardTexts(most=2)
    with pytest.raises(BadNotation, match="want 1800 s at most; listen to one section"):
        address_to_hear(texts, text, parse_part(text), section="")
    with_end = text + "[end]\nRH hat x. x.\n"
    assert address_to_hear(texts, with_end, parse_part(with_end), section="2").endswith("section=2")
    with pytest.raises(InputError, match="want its number from 1"):
        address_to_hear(texts, TINY, parse_part(TINY), section="all")


def test_few_texts_are_kept():
    """The one that nobody asked for longest is let go; the same text has the same key."""
    texts = HeardTexts(most=2)
    first, second = texts.keep("a"), texts.keep("b")
    assert texts.keep("a") == first
    texts.keep("c")
    assert texts.text_of(first) == "a"
    with pytest.raises(NotFound, match="press Listen again"):
        texts.text_of(second)


def test_a_sound_that_nobody_asked_for_is_not_found(client):
    """A key that was made up leads to no text."""
    assert client.get("/part/heard/0123.wav").status_code == 404


def test_only_this_site_may_have_a_text_played(client):
    """A page of another site is refused, as with all that is sent."""
    answer = client.post(
        "/part/listen", data={"text": TINY}, headers={"origin": "http://elsewhere.example"}
    )
    assert answer.status_code == 403


def test_an_endless_text_is_refused(client):
    """What is longer than any part is not read."""
    assert client.post("/part/listen", data={"text": "x" * 9_000_000}).status_code == 422


def test_without_a_script_the_page_is_laid_out_to_be_heard(client, studio):
    """The button sends the form: the player has the text as it stands, and it says so."""
    number = kept_part(studio, TINY)
    before = client.get(f"/part/{number}").text
    assert f'src="/part/{number}/sound.wav?v=1"' in before
    assert "As it was last saved, with a click" in before
    answer = client.post(
        f"/part/{number}", data={"text": FASTER, "version": "1", "act": "listen"}
    ).text
    assert "As the text stands above, not saved yet, with a click" in answer
    address = answer.split('id="sound"')[1].split('src="')[1].split('"')[0]
    assert length_s(client.get(address).content) < length_s(
        client.get(f"/part/{number}/sound.wav").content
    )
    assert load_part(studio, number).text == TINY


def test_a_text_with_a_fault_leaves_the_saved_sound(client, studio):
    """Without a script too, what is heard is what the page says it is."""
    number = kept_part(studio, TINY)
    answer = client.post(
        f"/part/{number}", data={"text": TINY + "?", "version": "1", "act": "listen"}
    ).text
    assert "As it was last saved, with a click" in answer
    assert f'src="/part/{number}/sound.wav?v=1"' in answer
