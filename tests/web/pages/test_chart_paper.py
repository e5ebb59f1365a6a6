"""Paper charts: typed in all at once or not at all, and printed."""

import io
import json
import re
import shutil
import subprocess
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from pypdf import PdfReader

from loosehand.errors import InputError
from loosehand.studio.chart import Kind, KindPlayed, chart_rounds
from loosehand.studio.filing import RoundPlace, correct_count
from loosehand.web.pages.chart_paper import paper_asked

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
TODAY = date(2027, 3, 1)
SCRIPT = Path(__file__).resolve().parents[3] / "src/loosehand/web/static/js/paper-grid.js"
SHEET = {
    "month": "2027-02",
    "hand": "left",
    "technique": "whip fours",
    "surface": "pad",
    "loudness": "medium",
    "grid": "4",
    "round_s": "60",
    "first": "90",
    "last": "110",
    "step": "5",
}


def counts(studio):
    """Rounds of the left hand: day, tempo, count."""
    with studio.look() as session:
        return [
            (found.row.day.day, found.row.tags.tempo_bpm, found.row.count_held)
            for found in chart_rounds(session, player="Nerys")
            if found.row.tags.hand == "left"
        ]


def send(client, player="Nerys", **cells):
    """Send a sheet: c3_95 is the cell of the 3rd at 95."""
    typed = {name.replace("_", "-"): word for name, word in cells.items()}
    return client.post(f"/chart/{player}/paper", data=SHEET | typed)


def fields(answer):
    """Fields of the sheet with what is in them."""
    return dict(re.findall(r'<input name="(c[^"]+)" value="([^"]*)"', answer.text))


def test_the_sheet_has_days_across_and_tempos_down(client):
    """Each free cell has a field that is named by its day and tempo; taken ones show numbers."""
    answer = client.get("/chart/Nerys/paper", params=SHEET)
    found = fields(answer)
    assert len(found) == 28 * 5 - 9
    assert "c22-90" not in found
    assert 'aria-label="3 February 2027 at 95"' in answer.text
    assert answer.text.count("<tr>") == 6


def test_days_to_come_have_no_fields(client):
    """On the first of the month only that day can be typed in."""
    found = fields(client.get("/chart/Nerys/paper", params=SHEET | {"month": "2027-03"}))
    assert set(found) == {f"c1-{tempo}" for tempo in range(90, 115, 5)}


def test_a_sheet_begins_with_the_kind_played_last(client):
    """Where nothing is asked for, this month, the usual ladder and the last tags are laid out."""
    text = client.get("/chart/Nerys/paper").text
    for name, word in {"month": "2027-03", "technique": "whip fours", "last": "140"}.items():
        assert f'name="{name}" value="{word}"' in text


def test_all_cells_are_filed_in_one_act(client, studio):
    """Numbers are written by hand, empty cells are left alone, = is all the counts."""
    before = counts(studio)
    answer = send(client, c1_90="90", c1_95=" 61 ", c2_110="0", c3_100="=", c4_100="  ")
    assert answer.status_code == 200
    assert "4 numbers are new on the chart." in answer.text
    new = [found for found in counts(studio) if found not in before]
    assert new == [(1, 90.0, 90), (1, 95.0, 61), (2, 110.0, 0), (3, 100.0, 100)]


def test_the_same_sheet_sent_twice_doubles_nothing(client, studio):
    """Numbers that stand there already are not added again, and the page says how many."""
    send(client, c1_90="90", c1_95="61")
    after_first = counts(studio)
    answer = send(client, c1_90="90", c1_95="61", c2_95="5")
    assert "1 number is new on the chart; 2 stood there already." in answer.text
    assert counts(studio) == [*after_first[:2], (2, 95.0, 5), *after_first[2:]]


def test_a_corrected_number_is_still_the_one_that_was_written(client, studio):
    """A sheet sent again after a correction does not bring the old number back as a new round."""
    send(client, c1_95="61")
    place = RoundPlace("Nerys", date(2027, 2, 1), 1)
    correct_count(studio, place, count_held=60, ended=None, why="misread", now=NOW)
    assert "0 numbers are new on the chart; 1 stood there already." in send(client, c1_95="61").text
    assert counts(studio)[0] == (1, 95.0, 60)


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("4o", "1 February 2027 at 95: &#39;4o&#39; is not a whole number"),
        ("96", "1 February 2027 at 95: 96 cannot be; want a whole number from 0"),
        ("-1", "1 February 2027 at 95: -1 cannot be"),
        ("<b>", "1 February 2027 at 95: &#39;&lt;b&gt;&#39; is not"),
    ],
)
def test_one_bad_cell_saves_nothing(client, studio, word, said):
    """The sentence names the cell, and everything typed is shown again."""
    before = counts(studio)
    answer = send(client, c1_95=word, c2_95="5", c3_110="7")
    assert answer.status_code == 422
    assert said in answer.text
    assert "Nothing was saved." in answer.text
    assert counts(studio) == before
    typed = {name: text for name, text in fields(answer).items() if text}
    assert {name: typed[name] for name in ("c2-95", "c3-110")} == {"c2-95": "5", "c3-110": "7"}
    assert answer.text.count('aria-invalid="true"') == 1


def test_more_bad_cells_are_counted_and_marked(client):
    """One sentence names the first by day; the others are marked where they stand."""
    answer = send(client, c9_90="x", c2_110="y", c3_95="z")
    assert "2 February 2027 at 110: &#39;y&#39;" in answer.text
    assert "(and 2 more, marked below)" in answer.text
    assert answer.text.count('aria-invalid="true"') == 3


def test_another_number_in_a_taken_cell_is_refused(client, studio):
    """A different number is most likely a correction: no second round is made of it."""
    before = counts(studio)
    answer = send(client, c22_95="59", c1_95="5")
    assert answer.status_code == 422
    assert "22 February 2027 at 95: 59 was typed where 60 stands already" in answer.text
    assert counts(studio) == before


def test_a_day_to_come_is_refused(client, studio):
    """A number of tomorrow cannot be."""
    before = counts(studio)
    answer = client.post("/chart/Nerys/paper", data=SHEET | {"month": "2027-03", "c2-95": "5"})
    assert answer.status_code == 422
    assert "2 March 2027 at 95: date = 2027-03-02 has not come yet" in answer.text
    assert counts(studio) == before


@pytest.mark.parametrize("cell", ["c30-95", "c1-97", "c0-95"])
def test_a_cell_that_is_not_on_the_sheet_is_not_dropped_unseen(client, studio, cell):
    """What was typed for another sheet is refused, not forgotten."""
    before = counts(studio)
    answer = client.post("/chart/Nerys/paper", data=SHEET | {cell: "5", "c1-95": "5"})
    assert answer.status_code == 422
    assert f"&#39;{cell}&#39; is not a cell of this sheet" in answer.text
    assert counts(studio) == before


def test_a_full_sheet_fits_one_form(client, studio):
    """Thirty tempos by twenty-eight days are filed at once."""
    cells = {f"c{day}-{tempo}": "10" for day in range(1, 29) for tempo in range(60, 90)}
    asked = SHEET | {"first": "60", "last": "89", "step": "1", "hand": "alternating"}
    answer = client.post("/chart/Nerys/paper", data=asked | cells)
    assert "840 numbers are new on the chart." in answer.text


@pytest.mark.parametrize("under", ["paper", "paper.pdf"])
@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"month": "2027-13"}, "month = &#39;2027-13&#39; is not a month"),
        ({"month": "next"}, "is not a month; want one like 2026-11"),
        ({"hand": "both"}, "hand = &#39;both&#39; is not known"),
        ({"grid": "0"}, "places_per_count = 0 cannot be"),
        ({"first": "fast"}, "first = &#39;fast&#39; is not a tempo"),
        ({"last": "900"}, "last = 900 is not a tempo"),
        ({"first": "120"}, "last = 110 is below first = 120"),
        ({"step": "0"}, "step = &#39;0&#39; is not a step"),
        ({"step": "nan"}, "step = &#39;nan&#39; is not a step"),
        ({"step": "0.5"}, "makes 41 tempos; want at most 30"),
        ({"round_s": "-3"}, "round_s = -3 is not a length"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(client, under, words, said):
    """Typed or printed, one sentence names the word."""
    answer = client.get(f"/chart/Nerys/{under}", params=SHEET | words)
    assert answer.status_code == 422
    assert said in answer.text


@pytest.mark.parametrize(
    ("words", "said"),
    [({"size": "a3"}, "size = &#39;a3&#39;"), ({"blank": "yes"}, "blank = &#39;yes&#39;")],
)
def test_paper_that_cannot_be_is_refused(client, words, said):
    """Only the sizes and kinds that are offered are printed."""
    answer = client.get("/chart/Nerys/paper.pdf", params=SHEET | words)
    assert answer.status_code == 422
    assert said in answer.text


def test_nobody_has_no_paper(client):
    """Unknown players are not found, whatever is asked."""
    assert client.get("/chart/Otto/paper").status_code == 404
    assert client.get("/chart/Otto/paper.pdf").status_code == 404
    assert send(client, player="Otto", c1_95="5").status_code == 404


def printed(client, **words):
    """Words of a printed sheet."""
    answer = client.get("/chart/Nerys/paper.pdf", params=SHEET | words)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    (page,) = PdfReader(io.BytesIO(answer.content)).pages
    return page.extract_text().split()


def test_the_printed_sheet_is_blank_or_filled(client):
    """The filled one holds the three days' 60 and 31, the blank one neither; care on both."""
    blank, filled = printed(client, blank="1"), printed(client, blank="0")
    assert (filled.count("60") - blank.count("60"), filled.count("31")) == (3, 3)
    assert "31" not in blank
    assert "medical" in blank


def test_a_filled_sheet_has_rows_for_all_that_was_played(client):
    """Tempos off the ladder that was asked for are not left out."""
    words = printed(client, blank="0", first="60", last="60")
    assert {"60", "90", "95", "100"} <= set(words)
    assert words.count("31") == 3


def test_a_soft_round_is_not_printed_on_a_loud_sheet(client):
    """Only rounds of the sheet's own tags stand on it."""
    assert "31" not in printed(client, blank="0", loudness="soft")


def test_tags_are_those_asked_for_or_those_played_last():
    """The last kind is offered only where no tag is said: an empty one means not said."""
    played = [KindPlayed(Kind("push-pull", "hat", None, 3), 1, TODAY, TODAY)]
    offered = paper_asked({}, today=TODAY, played=played)
    assert (offered.tags.technique, offered.tags.places_per_count) == ("push-pull", 3)
    said = paper_asked({"technique": "", "hand": "right"}, today=TODAY, played=played)
    assert (said.tags.technique, said.tags.places_per_count, said.tags.hand) == (None, 4, "right")


def test_a_ladder_ends_where_the_step_does():
    """A step that does not reach the last tempo stops below it; tempos may be fractions."""
    words = {"first": "60", "last": "63", "step": "0.7"}
    asked = paper_asked(words, today=TODAY, played=[])
    assert asked.tempos_bpm == (60.0, 60.7, 61.4, 62.1, 62.8)
    with pytest.raises(InputError, match="makes 321 tempos"):
        paper_asked(words | {"last": "380", "step": "1"}, today=TODAY, played=[])


STEPS = """
import {{ spotAfter, stepOf }} from {script};
const size = {{ rows: 2, columns: 3 }};
const isOpen = (spot) => !(spot.row === 1 && spot.column === 0);
const press = (key, more) => ({{ key, shiftKey: false, ctrlKey: false, metaKey: false,
  altKey: false, ...more }});
const all = {{ start: 0, end: 2, length: 2 }};
console.log(JSON.stringify({{
  on: spotAfter("on", {{ row: 0, column: 0 }}, size, isOpen),
  back: spotAfter("back", {{ row: 0, column: 1 }}, size, isOpen),
  left: spotAfter("left", {{ row: 1, column: 1 }}, size, isOpen),
  right: spotAfter("right", {{ row: 1, column: 1 }}, size, isOpen),
  end: spotAfter("on", {{ row: 1, column: 2 }}, size, isOpen),
  enter: stepOf(press("Enter"), all),
  shiftEnter: stepOf(press("Enter", {{ shiftKey: true }}), all),
  arrow: stepOf(press("ArrowLeft"), all),
  inside: stepOf(press("ArrowLeft"), {{ start: 1, end: 1, length: 2 }}),
  letter: stepOf(press("4"), all),
  shortcut: stepOf(press("ArrowDown", {{ ctrlKey: true }}), all),
}}));
"""


@pytest.mark.skipif(shutil.which("node") is None, reason="no node to run the script with")
def test_keys_lead_past_cells_that_are_taken():
    """Enter goes down and on to the next day; arrows leave a field only from its ends."""
    script = STEPS.format(script=json.dumps(SCRIPT.as_uri()))
    run = subprocess.run(
        ["node", "--input-type=module", "-"],
        input=script,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert json.loads(run.stdout) == {
        "on": {"row": 0, "column": 1},
        "back": {"row": 0, "column": 0},
        "left": None,
        "right": {"row": 1, "column": 2},
        "end": None,
        "enter": "on",
        "shiftEnter": "back",
        "arrow": "left",
        "inside": None,
        "letter": None,
        "shortcut": None,
    }
