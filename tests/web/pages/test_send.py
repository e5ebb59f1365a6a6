"""Checks of sending a recorded file."""

import io

import pytest
import soundfile

from loosehand.studio.chart import chart_rounds
from loosehand.web.pages import send
from tests.cli.conftest import write_midi
from tests.web.conftest import NOW

SAID = {"player": "Nerys", "hand": "left", "tempo": "104", "per_count": "4", "round_s": "60"}


@pytest.fixture
def held(tmp_path):
    """Return a MIDI file of a minute at 104, held to the end."""
    return write_midi(tmp_path / "held.mid", tempo_bpm=104, counts=104).read_bytes()


def takes_of(studio):
    """Return the rounds of the studio that have a take."""
    with studio.look() as session:
        return [found for found in chart_rounds(session, player=None) if found.has_take]


def test_a_file_that_is_sent_stands_on_the_chart(hearing_client, studio, held):
    """The take is heard, filed with its tags, and its page opened."""
    said = SAID | {"feel": "working", "surface": "hat", "technique": "", "loudness": ""}
    answer = hearing_client.post("/send", data=said, files={"file": ("my take.mid", held)})
    (take,) = takes_of(studio)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/take/{take.take_id}")
    assert (take.row.player, take.row.day, take.row.count_held) == ("Nerys", NOW.date(), 104)
    assert (take.row.tags.feel, take.row.tags.surface, take.row.tags.loudness) == (
        "working",
        "hat",
        None,
    )


@pytest.mark.parametrize("name", ["../../../etc/take.mid", "take", "take.mid\x00", ".", "a" * 300])
def test_a_name_of_a_file_leads_nowhere(hearing_client, studio, held, name):
    """Whatever the file is called, only what is in it counts."""
    answer = hearing_client.post("/send", data=SAID, files={"file": (name, held)})
    assert answer.status_code == 303
    assert len(takes_of(studio)) == 1


def _sound(seconds):
    """Return a FLAC of silence."""
    out = io.BytesIO()
    soundfile.write(out, [0.0] * (8000 * seconds), 8000, format="FLAC")
    return out.getvalue()


@pytest.mark.parametrize(
    ("change", "data", "status", "sentence"),
    [
        ({"tempo": "0"}, None, 422, "tempo_bpm = 0 is not a tempo"),
        ({"tempo": "fast"}, None, 422, "is not a tempo"),
        ({"hand": "third"}, None, 422, "is not known"),
        ({"player": " "}, None, 422, "player is empty"),
        ({"per_count": ""}, None, 422, "per_count"),
        ({"round_s": "long"}, None, 422, "is not a number of seconds"),
        ({"round_s": "nan"}, None, 422, "round_s"),
        ({}, b"no sound at all", 415, "take"),
        ({}, b"", 415, "empty"),
        ({}, "silence", 422, "nobody plays"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    hearing_client, studio, held, change, data, status, sentence
):
    """A word or a file that cannot be leads back to the form, with a sentence; nothing is filed."""
    data = held if data is None else _sound(20) if data == "silence" else data
    answer = hearing_client.post("/send", data=SAID | change, files={"file": ("take", data)})
    assert answer.status_code == status
    said = answer.text.split('role="alert">')[1].split("</p>")[0]
    assert sentence in said
    assert takes_of(studio) == []


def test_a_file_is_called_by_its_own_name(hearing_client):
    """Not by the one that it has here; and what is no letter of HTML stays one."""
    for name, shown in (("my <take>.wav", "my &lt;take&gt;.wav: "), ("b" * 90, f"{'b' * 60}: ")):
        files = {"file": (name, b"no sound at all")}
        answer = hearing_client.post("/send", data=SAID, files=files)
        assert answer.status_code == 415
        assert answer.text.split('role="alert">')[1].startswith(shown)


def test_what_was_said_is_still_there(hearing_client, held):
    """After a mistake the words need not be said again."""
    said = SAID | {"tempo": "1", "hand": "right", "technique": '"whip" & co', "feel": "tense"}
    text = hearing_client.post("/send", data=said, files={"file": ("take", held)}).text
    assert 'value="&#34;whip&#34; &amp; co"' in text
    assert "<option selected>tense</option>" in text
    assert 'value="right" checked' in text


def test_a_form_without_a_file_is_said(hearing_client):
    """Without a file, or with one that is no file, the form says so."""
    for sending in ({"data": SAID}, {"data": SAID | {"file": "text"}}):
        answer = hearing_client.post("/send", **sending)
        assert answer.status_code == 422
        assert "no file was chosen" in answer.text


def test_a_form_that_is_torn_is_said(hearing_client):
    """A body that is no form is one sentence."""
    answer = hearing_client.post(
        "/send", content=b"--x\r\nnonsense", headers={"content-type": "multipart/form-data"}
    )
    assert answer.status_code == 422
    assert "could not be read" in answer.text


def test_a_file_that_is_too_large_is_refused(hearing_client, studio, held, monkeypatch):
    """Beyond the limit the rest is heard out and dropped, and the form says the limit."""
    monkeypatch.setattr(send, "MOST_BYTES", 1_000_000)
    data = held + bytes(2_000_000)
    answer = hearing_client.post("/send", data=SAID, files={"file": ("take.mid", data)})
    assert answer.status_code == 422
    assert "larger than 1 MB" in answer.text
    assert takes_of(studio) == []


def test_the_form_knows_the_players(client):
    """The players of the studio are offered, and what the address says is filled in."""
    text = client.get("/send?player=Tobin&tempo=92").text
    assert '<option value="Nerys">' in text
    assert 'value="Tobin"' in text
    assert 'value="92"' in text
