"""The page of a part: drawn, typed, changed on its staff, saved, deleted."""

import json
import re
import shutil
import subprocess

import pytest

from loosehand.parts.text import parse_part
from loosehand.studio.part_examples import EXAMPLE_TUNE
from loosehand.studio.parts_store import MOST_CHARACTERS, change_part, list_parts, load_part
from loosehand.web.pages import part as part_page
from tests.judge.part_scenes import TEXT as PART_TEXT
from tests.project_files import PACKAGE
from tests.studio.part_take_scenes import file_of_part, part_with_take
from tests.web.conftest import NOW
from tests.web.pages.page_forms import fields_without_label, forms_of
from tests.web.pages.part_scenes import TINY, kept_part, of_many_sections

OTHER = TINY.replace("90", "96")
SCRIPTS = PACKAGE / "web" / "static" / "js"
ASKED = """
import { kept, moved, nearest, placeXs, said } from "./part-select.js";
import { offsetOf, sectionOf } from "./part-text.js";

const limbs = ["right hand", "left hand"];
const stroke = { place: 1, limb: 0, marks: [], said: "right hand, hat" };
const kick = { place: 1, limb: 1, marks: [], said: "left hand, snare" };
const bars = [
  { section: 0, bar: 0, said: "a bar 1", places: ["count 1", "count 1, &"],
    strokes: [stroke, kick] },
  { section: 1, bar: 0, said: "b bar 1", places: ["count 1"], strokes: [] },
];
const at = (index, place, limb) => ({ index, place, limb });
const text = "tempo: 90\\n[a]\\nRF kick x\\n  [b]\\nRF kick x";
console.log(JSON.stringify({
  right: moved(bars, at(0, 1, 1), "ArrowRight", 2),
  left: moved(bars, at(1, 0, 0), "ArrowLeft", 2),
  first: moved(bars, at(0, 0, 0), "ArrowLeft", 2),
  last: moved(bars, at(1, 0, 0), "ArrowRight", 2),
  down: moved(bars, at(0, 0, 1), "ArrowDown", 2),
  bar: moved(bars, at(0, 1, 0), "PageDown", 2),
  other: moved(bars, at(0, 1, 0), "q", 2),
  said: [said(bars, at(0, 1, 0), limbs), said(bars, at(1, 0, 1), limbs)],
  kept: [kept(bars, [bars[1]], at(1, 0, 0)), kept(bars, [bars[1]], at(0, 1, 1))],
  xs: [
    placeXs(new Map([[0, 100], [2, 120]]), 4, 50, 160),
    placeXs(new Map([[2, 120]]), 4, 50, 160),
    placeXs(new Map(), 4, 0, 100),
  ],
  nearest: nearest([10, 20, 30], 24),
  offset: [offsetOf(text, 3, 4), offsetOf(text, 1, 1), offsetOf(text, 99, 99)],
  section: [0, 12, 20, 30, text.length].map((offset) => sectionOf(text, offset)),
}));
"""


@pytest.fixture
def part(studio):
    """Return the number of a small part."""
    return kept_part(studio, TINY)


def saved(client, part, text, version="1", **more):
    """Send the form of the page."""
    data = {"text": text, "version": version, "act": "save"} | more
    return client.post(f"/part/{part}", data=data, follow_redirects=False)


def test_the_staff_stands_above_the_text(client, studio):
    """The page shows tempo, length and drum notation first, then the text as it was typed."""
    part = kept_part(studio, "# a note of mine\n" + EXAMPLE_TUNE)
    text = client.get(f"/part/{part}").text
    assert text.index("staff-system") < text.index("<textarea")
    assert "1 min 58 s" in text
    assert forms_of(text)[f"/part/{part}"]["text"] == "# a note of mine\n" + EXAMPLE_TUNE
    assert set(fields_without_label(text)) <= {"text"}
    assert '<label for="text"' in text


def test_what_is_typed_is_saved(client, studio, part):
    """The form of the page, with another text, changes the part; a browser's line ends do not."""
    form = forms_of(client.get(f"/part/{part}").text)[f"/part/{part}"]
    answer = saved(client, part, OTHER.replace("\n", "\r\n"), form["version"])
    assert (answer.status_code, answer.headers["location"]) == (303, f"/part/{part}")
    assert load_part(studio, part).text == OTHER


def test_a_text_that_cannot_be_read_is_not_saved_and_not_lost(client, studio, part):
    """The page comes back with the text, the sentence, the line, and the staff of before."""
    wrong = TINY.replace("X. x.", "X. z.")
    answer = saved(client, part, wrong)
    assert answer.status_code == 422
    assert "line 6, column 13" in answer.text
    assert forms_of(answer.text)[f"/part/{part}"]["text"] == wrong
    assert "staff-system" in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert load_part(studio, part).text == TINY


def test_a_change_made_elsewhere_is_told_and_both_are_there(client, studio, part):
    """Of two who save, the second sees his text and the other's; saving again replaces it."""
    change_part(studio, part, OTHER, seen=1, now=NOW)
    mine = TINY.replace("90", "80")
    answer = saved(client, part, mine)
    assert answer.status_code == 409
    assert "changed elsewhere" in answer.text
    form = forms_of(answer.text)[f"/part/{part}"]
    assert form["text"] == mine
    assert "tempo: 96" in answer.text
    assert load_part(studio, part).text == OTHER
    assert saved(client, part, mine, form["version"]).status_code == 303
    assert load_part(studio, part).text == mine


def test_drawing_saves_nothing(client, studio, part):
    """Without a script a button draws what was typed."""
    answer = saved(client, part, OTHER, act="draw")
    assert answer.status_code == 200
    assert "<strong>96</strong>" in answer.text
    assert "Not saved yet." in answer.text
    assert load_part(studio, part).text == TINY


def test_typing_is_drawn(client):
    """The script gets the staff as it stands in the page."""
    answer = client.post("/part/draw", data={"text": TINY, "width": "400"}).json()
    assert answer["problem"] is None
    assert 'class="staff-system"' in answer["staff"]
    assert "<strong>90</strong>" in answer["staff"]


def test_a_fault_is_answered_with_its_place(client):
    """The script gets the sentence, line and column, and no staff."""
    text = TINY.replace("2/4", "0/4")
    answer = client.post("/part/draw", data={"text": text}).json()
    assert set(answer) == {"problem"}
    assert answer["problem"]["line"] == 3
    assert answer["problem"]["sentence"].startswith("line 3, column 8: ")


def test_a_change_on_the_staff_changes_the_text(client):
    """Text and staff come back as one, notes of the person's kept."""
    at = {"section": "0", "bar": "0", "place": "1", "limb": "0", "edit": "stroke"}
    answer = client.post("/part/edit", data={"text": "# mine\n" + TINY} | at).json()
    assert answer["text"].startswith("# mine\n")
    strokes = parse_part(answer["text"]).sections[0].bars[0].strokes
    assert (1, "right hand", "hat") in [(one.place, one.limb, one.instrument) for one in strokes]
    assert len(re.findall(r'class="staff-stroke"', answer["staff"])) == len(strokes) == 4


def test_a_stroke_that_is_handed_over_is_followed(client):
    """The answer says whose it is then."""
    at = {"section": "0", "bar": "0", "place": "0", "limb": "0", "edit": "other limb"}
    assert client.post("/part/edit", data={"text": TINY} | at).json()["limb"] == 1


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"edit": "accent", "place": "1"}, "has no stroke there"),
        ({"edit": "fly"}, "edit = 'fly'"),
        ({"place": "9"}, "place 9"),
        ({"limb": "two"}, "limb = 'two'"),
        ({"text": "tempo: 0"}, "line 1, column 8"),
        ({"width": "wide"}, "width = 'wide'"),
        ({"from": "x"}, "from = 'x'"),
    ],
)
def test_a_change_that_cannot_be_made_says_why(client, words, says):
    """One sentence, and nothing changed."""
    asked = {"text": TINY, "section": "0", "bar": "0", "place": "0", "limb": "0", "edit": "stroke"}
    answer = client.post("/part/edit", data=asked | words).json()
    assert says in answer["problem"]["sentence"]
    assert set(answer) == {"problem"}


def test_a_long_part_is_leafed_through(client, studio):
    """The address says from where; sections are offered as links."""
    part = kept_part(studio, of_many_sections(9, 5))
    page = client.get(f"/part/{part}?from=4").text
    assert 'aria-label="part 5"' in page
    assert 'aria-label="part 1"' not in page
    assert 'href="?from=0"' in page


def test_an_endless_text_is_refused(client, studio, part):
    """What is too long is not read, in the form and for the script."""
    endless = "x" * (MOST_CHARACTERS + 1)
    assert (
        "characters"
        in client.post("/part/draw", data={"text": endless}).json()["problem"]["sentence"]
    )
    assert saved(client, part, endless).status_code == 422
    answer = saved(client, part, "x" * 9_000_000)
    assert answer.status_code == 422
    assert "too long" in answer.text


@pytest.mark.parametrize("version", ["", "one", "-1"])
def test_a_version_is_a_number(client, studio, part, version):
    """A form that says none is refused, the text kept in the page."""
    answer = saved(client, part, OTHER, version)
    assert answer.status_code == 422
    assert "version = " in answer.text
    assert forms_of(answer.text)[f"/part/{part}"]["text"] == OTHER


def test_a_part_is_deleted_when_told_twice(client, studio, part):
    """Only with the box ticked."""
    assert client.post(f"/part/{part}/delete", data={}).status_code == 422
    assert len(list_parts(studio)) == 1
    answer = client.post(f"/part/{part}/delete", data={"yes": "yes"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/parts")
    assert list_parts(studio) == []


def test_a_part_that_is_not_there_is_not_found(client):
    """Every address of it says so."""
    for answer in (
        client.get("/part/9"),
        client.post("/part/9", data={"text": TINY, "version": "1"}),
        client.post("/part/9/delete", data={"yes": "yes"}),
        client.get("/part/9/sound.wav"),
        client.get("/part/9/part.mid"),
    ):
        assert answer.status_code == 404
        assert "there is no part 9" in answer.text


def test_words_of_a_part_stay_words(client, studio):
    """Whatever a title or section is called, it is no markup."""
    wild = "<script>alert(1)</script> & \"'"
    part = kept_part(studio, TINY.replace("Tiny", wild).replace("[a]", f"[{wild}]"))
    for page in (client.get(f"/part/{part}").text, client.get("/parts").text):
        assert "<script>alert" not in page
        assert "&lt;script&gt;" in page


@pytest.mark.skipif(shutil.which("node") is None, reason="there is no node to run scripts with")
def test_the_script_finds_its_way_over_the_staff():
    """Steps lead from bar to bar and stop at the ends; places without notes lie in between."""
    run = subprocess.run(
        ["node", "--input-type=module", "-e", ASKED],
        cwd=SCRIPTS,
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
    )
    found = json.loads(run.stdout)

    def at(index, place, limb):
        return {"index": index, "place": place, "limb": limb}

    assert (found["right"], found["left"]) == (at(1, 0, 1), at(0, 1, 0))
    assert (found["first"], found["last"]) == (at(0, 0, 0), at(1, 0, 0))
    assert (found["down"], found["bar"], found["other"]) == (at(0, 0, 1), at(1, 0, 0), None)
    assert found["said"] == [
        "a bar 1, count 1, &: right hand, hat; with left hand, snare",
        "b bar 1, count 1: left hand, nothing",
    ]
    assert found["kept"] == [at(0, 0, 0), at(0, 0, 1)]
    assert found["xs"] == [[100, 110, 120, 140], [80, 100, 120, 140], [20, 40, 60, 80]]
    assert found["nearest"] == 1
    assert found["offset"] == [17, 0, 39]
    assert found["section"] == [0, 0, 0, 1, 1]


def test_a_part_lists_the_takes_of_the_player_chosen(client, studio):
    """Each with a link, how fast, and what was heard; or that there are none yet."""
    number = part_with_take(studio)
    file_of_part(studio, number, tempo_bpm=80)
    text = client.get(f"/part/{number}?player=Ines").text
    assert "Takes of it by Ines" in text
    table = text.split('class="part-takes"')[1].split("</table>")[0]
    assert table.count('<th scope="row"') == 2
    rows = table.split("<tr>")[2:]
    assert [row.split('href="')[1].split('"')[0] for row in rows] == ["/take/2", "/take/1"]
    assert [">80<" in row for row in rows] == [True, False]
    for words in ("right hand", "48 of 48", "27 of 30"):
        assert all(words in row for row in rows)
    assert "None yet." in client.get(f"/part/{kept_part(studio, TINY)}?player=Ines").text


def test_nobodys_takes_are_shown_unless_a_player_is_chosen(client, studio):
    """On a part of the whole studio no take stands until one says whose; the line says so."""
    number = part_with_take(studio)
    for address in (f"/part/{number}", f"/part/{number}?player="):
        text = client.get(address).text
        assert "One player's takes are shown at a time: choose whose." in text
        assert "/take/" not in text
        assert "48 of 48" not in text
    assert "player" not in fields_without_label(text)


def test_one_players_takes_never_stand_beside_anothers(client, studio):
    """Of two who played a part, only the chosen one's takes are in the page."""
    number = part_with_take(studio)
    file_of_part(studio, number, player="Otto", tempo_bpm=80)
    takes = {"Ines": "/take/1", "Otto": "/take/2"}
    for name, own in takes.items():
        text = client.get(f"/part/{number}?player={name}").text
        assert [each for each in takes.values() if f'href="{each}"' in text] == [own]


def test_a_players_own_part_shows_the_owners_takes(client, studio):
    """Nobody need be chosen there; another one may be, and nobody unknown."""
    number = kept_part(studio, PART_TEXT, player="Nerys")
    for name in ("Nerys", "Tobin"):
        file_of_part(studio, number, player=name)
    own = client.get(f"/part/{number}").text
    assert ('href="/take/1"' in own, 'href="/take/2"' in own) == (True, False)
    assert 'href="/take/1"' not in client.get(f"/part/{number}?player=Tobin").text
    answer = client.get(f"/part/{number}?player=Nobody")
    assert answer.status_code == 404
    assert "there is no player &#39;Nobody&#39;" in answer.text


def test_the_player_chosen_goes_along(client, studio):
    """To the form that sends a take, and to the ways of playing; nobody where nobody is chosen."""
    number = part_with_take(studio)
    text = client.get(f"/part/{number}?player=Ines").text
    assert f'href="/send?part={number}&amp;player=Ines"' in text
    assert f'href="/part/{number}/ways?player=Ines"' in text
    text = client.get(f"/part/{number}").text
    assert f'href="/send?part={number}"' in text
    assert f'href="/part/{number}/ways"' in text


def test_the_player_chosen_stays_after_saving(client, studio):
    """Saving and drawing go on with the player whose takes are shown."""
    number = part_with_take(studio)
    address = f"/part/{number}?player=Ines"
    form = forms_of(client.get(address).text)[address]
    saved = client.post(address, data=form | {"text": OTHER, "act": "save"}, follow_redirects=False)
    assert saved.headers["location"] == address
    drawn = client.post(address, data=form | {"text": OTHER, "act": "draw"})
    assert "Takes of it by Ines" in drawn.text


def test_the_takes_are_not_printed(client, studio):
    """A printed part, laid on a stand, shows nobody's takes."""
    number = part_with_take(studio)
    text = client.get(f"/part/{number}?player=Ines").text
    assert 'class="takes-of-part"' in text
    css = (PACKAGE / "web" / "static" / "css" / "part.css").read_text("utf-8")
    rule = css.split("@media print {")[1].split("{")[0]
    assert ".takes-of-part" in rule


def test_of_many_takes_the_last_are_listed(client, studio, monkeypatch):
    """And a sentence says how many there are."""
    monkeypatch.setattr(part_page, "_MOST_TAKES", 1)
    number = part_with_take(studio)
    file_of_part(studio, number, player="Otto")
    assert "The last" not in client.get(f"/part/{number}?player=Ines").text
    file_of_part(studio, number, tempo_bpm=80)
    assert "The last 1 of 2." in client.get(f"/part/{number}?player=Ines").text
