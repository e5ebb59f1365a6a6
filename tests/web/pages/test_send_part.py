"""Sending a take of a part: the limb is chosen, the rest comes from the part."""

import pytest

from loosehand.errors import BadNotation, InputError, NotFound
from loosehand.studio.part_takes import part_of_take
from loosehand.studio.parts_store import change_part, delete_part
from loosehand.studio.take_sheet import load_take
from loosehand.web.pages.send_part import part_chosen, part_words, taken_of
from tests.judge.part_scenes import ACCENTS, HEAD, LINES, TEXT, write_accents, write_recording
from tests.studio.part_take_scenes import PLAYED, asked_of
from tests.web.conftest import NOW
from tests.web.pages.page_forms import fields_without_label, forms_of
from tests.web.pages.part_scenes import kept_part

SWUNG = TEXT.replace("grid: 4", "grid: 4\nswing: 60")
BOTH = f"{HEAD}[a] x4\nRH hat xxxx xxxx xxxx xxxx\nLH snare Xxxx Xxxx Xxxx Xxxx\n"


@pytest.fixture
def part(studio):
    """Return the number of a part of one player."""
    return kept_part(studio, TEXT, "Nerys")


def said(number, **other):
    """What the form of a part sends."""
    words = {"part": str(number), "version": "1", "limb": "right hand", "player": "Nerys"}
    return words | {"tempo": "100"} | other


def send(client, words, path):
    """Send a file with these words."""
    return client.post("/send", data=words, files={"file": (path.name, path.read_bytes())})


def test_the_form_is_filled_in_from_the_part(client, part):
    """Player, tempo, limb and version; places a count are told and cannot be changed."""
    text = client.get(f"/send?part={part}").text
    form = forms_of(text)["/send"]
    assert form == {
        "file": "",
        "part": str(part),
        "version": "1",
        "player": "Nerys",
        "limb": "right hand",
        "tempo": "100",
        "feel": "",
        "technique": "",
        "surface": "hat",
        "loudness": "medium",
    }
    assert fields_without_label(text) == []
    assert "Surface and loudness as the part has them" in text
    assert "192 strokes in 12 bars, 30 of them accents." in text
    assert f'<a href="/part/{part}">Slow train</a>' in text


def test_the_page_of_a_part_leads_here(client, part):
    """By one clear link, for the one whose part it is."""
    assert f'href="/send?part={part}&amp;player=Nerys"' in client.get(f"/part/{part}").text


def test_the_address_may_say_more(client, studio):
    """Limb, tempo and player of the address go above those of the part."""
    part = kept_part(studio, BOTH, None)
    form = forms_of(client.get(f"/send?part={part}&limb=left+hand&tempo=82&player=Tobin").text)
    found = form["/send"]
    assert (found["limb"], found["tempo"], found["player"]) == ("left hand", "82", "Tobin")


def test_only_the_leading_hand_has_the_parts_surface(client, studio):
    """The other hand may play anything; the address may say another surface."""
    part = kept_part(studio, BOTH, None)

    def said_of(words):
        found = forms_of(client.get(f"/send?part={part}{words}").text)["/send"]
        return found["surface"], found["loudness"]

    assert said_of("") == ("hat", "medium")
    assert said_of("&limb=left+hand") == ("", "")
    assert said_of("&surface=pad") == ("pad", "medium")


def test_a_hand_that_cannot_be_heard_says_why_where_it_is_chosen(client, studio):
    """It cannot be chosen, and asking for it by address chooses the other."""
    part = kept_part(studio, TEXT, None)
    text = client.get(f"/send?part={part}&limb=left+hand").text
    left = text.split('value="left hand"')[1].split("</label>")[0]
    assert "disabled" in left
    assert "The left hand leaves out the first place" in left
    assert forms_of(text)["/send"]["limb"] == "right hand"


def test_no_foot_is_offered(client, studio):
    """The ear judges hands."""
    text = client.get(f"/send?part={kept_part(studio, BOTH, None)}").text
    assert 'value="right foot"' not in text
    chosen = part_chosen(studio, {"part": "1"})
    with pytest.raises(InputError, match="right foot is not heard"):
        taken_of(chosen, said(1, limb="right foot"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (SWUNG, "The part is swung"),
        (f"{TEXT}[end] tempo 80\n{LINES}", "The part changes its tempo"),
        (f"{HEAD}RH hat x.x. x.x. x.x. x.x.\n", "The right hand leaves out a place after 1"),
    ],
)
def test_a_part_that_cannot_be_heard_says_why(client, studio, text, says):
    """There is no form that would end in a refusal, but a way to send the take by itself."""
    page = client.get(f"/send?part={kept_part(studio, text, 'Nerys')}").text
    assert says in page
    assert "/send" not in forms_of(page)
    assert 'href="/send?player=Nerys"' in page


def test_a_take_of_a_part_is_heard_and_filed(hearing_client, studio, part, tmp_path):
    """With the part and what it asked; the round is as long as the part, and no longer."""
    path = write_accents(tmp_path / "take.mid", PLAYED, places=256)
    answer = send(hearing_client, said(part, feel="loose"), path)
    assert answer.status_code == 303
    sheet, taken = load_take(studio, 1), part_of_take(studio, 1)
    assert answer.headers["location"] == "/take/1"
    assert (taken.part_id, taken.asked) == (part, asked_of())
    assert (sheet.tags.hand, sheet.tags.places_per_count, sheet.tags.counts) == ("right", 4, 48)
    assert (sheet.count_held, sheet.ended, sheet.tags.feel) == (48, "held to the end", "loose")
    assert "27 of 30 came" in hearing_client.get("/take/1").text


def test_a_slower_recording_by_phone_tells_the_bars(hearing_client, studio, part, tmp_path):
    """AAC of a room with its click, at 80 instead of 100: what was left out stands in its bar."""
    loud = set(ACCENTS) - {6, 38, 127}
    path = write_recording(tmp_path / "take.m4a", loud, tempo_bpm=80.0, seed=1)
    assert send(hearing_client, said(part, tempo="80"), path).status_code == 303
    sheet = load_take(studio, 1)
    assert (sheet.count_held, sheet.tags.counts, sheet.tags.round_s) == (48, 48, 36.0)
    table = hearing_client.get("/take/1").text.split("Accents asked for, bar by bar")[1]
    rows = [row.split("</tr>")[0] for row in table.split("<tr>")[2:14]]
    missed = {1 + index for index, row in enumerate(rows) if "&amp;" in row or " a<" in row}
    assert missed == {1, 3, 8}


def test_a_part_without_accents_is_sent_all_the_same(hearing_client, studio, tmp_path):
    """For hold, evenness and technique; the form said that accents are not compared."""
    part = kept_part(studio, TEXT.replace("X", "x"), None)
    assert "accents are not compared" in hearing_client.get(f"/send?part={part}").text
    path = write_accents(tmp_path / "take.mid", ())
    assert send(hearing_client, said(part), path).status_code == 303
    assert load_take(studio, 1).count_held == 48
    assert "asks for no accents" in hearing_client.get("/take/1").text


@pytest.mark.parametrize(
    ("other", "status", "says"),
    [
        ({"version": "7"}, 409, "changed since this form was opened"),
        ({"limb": "left hand"}, 422, "The left hand leaves out the first place"),
        ({"limb": "right foot"}, 422, "right foot is not heard"),
        ({"limb": "nose"}, 422, "limb = "),
        ({"tempo": "fast"}, 422, "is not a tempo"),
        ({"part": "x"}, 422, "part = "),
        ({"part": "99"}, 404, "there is no part 99"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    hearing_client, studio, part, tmp_path, other, status, says
):
    """Nothing is filed, and the form comes again with what was said."""
    path = write_accents(tmp_path / "take.mid", ())
    answer = send(hearing_client, said(part, player="Tobin", **other), path)
    assert answer.status_code == status
    assert says in answer.text.split('role="alert">')[1].split("</p>")[0]
    assert forms_of(answer.text)["/send"]["player"] == "Tobin"
    with pytest.raises(NotFound):
        load_take(studio, 1)


def test_after_a_change_the_take_can_be_sent_again(hearing_client, studio, part, tmp_path):
    """The form that comes back is of the part as it is now."""
    change_part(studio, part, TEXT.replace("[verse] x6", "[verse] x5"), seen=1, now=NOW)
    path = write_accents(tmp_path / "take.mid", PLAYED)
    again = send(hearing_client, said(part), path)
    form = forms_of(again.text)["/send"]
    assert form["version"] == "2"
    words = {name: word for name, word in form.items() if name != "file"}
    assert send(hearing_client, words, path).status_code == 303
    assert load_take(studio, 1).tags.counts == 40


def test_a_part_that_is_not_there_is_not_found(client, studio, part):
    """Nor one that is no number, nor a limb that is none."""
    delete_part(studio, part)
    assert client.get(f"/send?part={part}").status_code == 404
    assert client.get("/send?part=one").status_code == 422
    other = kept_part(studio, TEXT, None)
    assert client.get(f"/send?part={other}&limb=nose").status_code == 422


def test_what_a_part_says_of_its_takes(studio):
    """None chosen, none said; of a part that cannot be heard its player alone."""
    assert part_chosen(studio, {}) is None
    chosen = part_chosen(studio, {"part": str(kept_part(studio, SWUNG, "Nerys"))})
    assert (chosen.limb, chosen.places_per_count) == (None, None)
    assert part_words(chosen) == {"player": "Nerys"}
    with pytest.raises(BadNotation, match="swung"):
        taken_of(chosen, said(1))
