"""Files of a part: what is given out can be taken in again, and its sound is heard."""

import io
import wave

import numpy as np
import pytest

from loosehand.errors import BadNotation
from loosehand.parts.text import parse_part
from loosehand.studio.part_examples import EXAMPLES
from loosehand.web.pages.part_files import FORMS, part_of_file
from tests.web.pages.part_scenes import TINY, kept_part


@pytest.mark.parametrize("ending", FORMS)
@pytest.mark.parametrize("title", EXAMPLES)
def test_what_is_given_out_comes_back(client, studio, title, ending):
    """Each form of each example is read back as the same part."""
    number = kept_part(studio, EXAMPLES[title])
    answer = client.get(f"/part/{number}/part.{ending}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == FORMS[ending].media_type
    name = title.lower().replace(" ", "-")
    assert f'filename="{name}.{ending}"' in answer.headers["content-disposition"]
    assert part_of_file(answer.content) == parse_part(EXAMPLES[title])


def test_a_title_without_plain_letters_gives_a_file_its_number(client, studio):
    """A name that every file system takes, and the page names the sound alike."""
    number = kept_part(studio, TINY.replace("title: Tiny", "title: \N{GREEK SMALL LETTER ALPHA}!"))
    answer = client.get(f"/part/{number}/part.mid")
    assert f'filename="part-{number}.mid"' in answer.headers["content-disposition"]
    assert f'download="part-{number}.wav"' in client.get(f"/part/{number}").text


def test_a_form_that_there_is_not_is_refused(client, studio):
    """The forms that there are are named."""
    answer = client.get(f"/part/{kept_part(studio, TINY)}/part.exe")
    assert answer.status_code == 422
    assert "want one of musicxml, mid, txt" in answer.text


def test_bytes_that_are_nothing_are_refused():
    """Neither of the three forms."""
    with pytest.raises(BadNotation, match="neither MIDI, nor MusicXML, nor text"):
        part_of_file(b"\x80\x81\x82")


def test_a_part_is_heard_with_its_click(client, studio):
    """A WAV of the count-in and the whole part, in which something sounds."""
    number = kept_part(studio, TINY)
    answer = client.get(f"/part/{number}/sound.wav")
    assert answer.headers["content-type"] == "audio/wav"
    with wave.open(io.BytesIO(answer.content)) as sound:
        rate, frames = sound.getframerate(), sound.getnframes()
        samples = np.frombuffer(sound.readframes(frames), "<i2") / 32768
    # Four counts before it and four counts of the part, at 90.
    assert frames / rate > 8 * 60 / 90
    assert np.abs(samples).max() > 0.1


def test_a_player_may_ask_for_a_stretch_of_the_sound(client, studio):
    """Ranges of bytes are those of the whole; one past the end is refused."""
    address = f"/part/{kept_part(studio, TINY)}/sound.wav"
    whole = client.get(address).content
    piece = client.get(address, headers={"range": "bytes=1000-1999"})
    assert (piece.status_code, piece.content) == (206, whole[1000:2000])
    assert piece.headers["content-range"] == f"bytes 1000-1999/{len(whole)}"
    assert client.get(address, headers={"range": "bytes=99999999-"}).status_code == 416


@pytest.mark.parametrize(("word", "status"), [("1", 200), ("2", 422), ("0", 422), ("a", 422)])
def test_one_section_is_heard(client, studio, word, status):
    """By its number from 1."""
    address = f"/part/{kept_part(studio, TINY)}/sound.wav?section={word}"
    assert client.get(address).status_code == status
