"""Checks of the take page: what it shows, what it plays, and how it says no."""

import gzip
import io
import json
import re
import shutil
import subprocess
from functools import cache
from html.parser import HTMLParser

import numpy as np
import pytest
import soundfile
from sqlalchemy import text

from loosehand.batch.hear_file import hear_file
from loosehand.hear.heard import ListenRequest
from loosehand.judge.read_take import read_take
from loosehand.judge.technique import hear_technique
from loosehand.judge.technique_json import technique_json
from loosehand.studio.filing import delete_sound
from loosehand.studio.take_sheet import load_take
from loosehand.web.plots.take_axis import TimeAxis
from tests.cli.conftest import write_midi
from tests.hear.scenes import request
from tests.judge.held_scenes import hand
from tests.judge.test_read_take import heard_of
from tests.project_files import PACKAGE
from tests.studio.take_scenes import (
    COUNT_S,
    COUNTS,
    DURATION_S,
    HELD,
    NOW,
    file_midi,
    file_sound,
    heard_take,
    take_samples,
)

MOST_ZIPPED = 60_000
TAKE_TIME_JS = PACKAGE / "web" / "static" / "js" / "take-time.js"


class Tags(HTMLParser):
    """Collects the tags of a page, and the ids that its labels and pictures point to."""

    def __init__(self):
        super().__init__()
        self.tags = []

    def handle_starttag(self, tag, attrs):
        """Remember a tag."""
        self.tags.append((tag, dict(attrs)))


def tags_of(answer):
    """Every tag of a page with its attributes."""
    parser = Tags()
    parser.feed(answer.text)
    return parser.tags


def words_of(answer):
    """A page without its tags, in one line."""
    return " ".join(re.sub(r"<[^>]*>", " ", answer.text).split())


def move(client, **form):
    """Move the break."""
    return client.post("/take/1/break", data=form, follow_redirects=False)


def count_of(studio, take_id=1):
    """The number that stands."""
    return load_take(studio, take_id).count_held


@pytest.fixture
def take(studio, client):
    """The page of a take with a click, filed as it was heard."""
    file_sound(studio)
    return client


@cache
def heard_alternating(folder):
    """Return the reading of exact interlocked hands at eight places a count."""
    path = write_midi(folder / "both.mid", tempo_bpm=120, counts=COUNTS, places_per_count=8)
    return hear_file(path, ListenRequest(120.0, 8, "alternating", COUNTS, None)).to_json()


# ------------------------------------------------------------------ the page


def test_the_page_of_a_take(take):
    """A take shows whose it was, its number, its plots, its figures and its player."""
    answer = take.get("/take/1")
    words = words_of(answer)
    assert answer.status_code == 200
    assert f"{HELD} of {COUNTS} counts held, fell behind" in words
    assert "1 March 2027 , round 1: 4 places a count, whip fours, pad, soft, 12 s" in words
    plots = [attrs["id"] for tag, attrs in tags_of(answer) if tag == "svg" and "id" in attrs]
    assert plots == ["plot-waveform", "plot-asynchrony-all", "plot-timing-all", "plot-level-all"]
    assert "Lead" in words
    assert "very likely right" in words
    assert ("audio", "/take/1/sound") in [(tag, a.get("src")) for tag, a in tags_of(answer)]


def test_the_technique_as_heard(studio, client):
    """The page says in a sentence what was heard of the technique; nothing where nothing was."""
    body = heard_take()
    drive = body["technique"]["drive_length"] | {"strokes": 4, "with_the_count": False}
    contrast = {"told": 6.5, "low80": 6.0, "high80": 7.0}
    fours = body["technique"] | {"drive_length": drive, "contrast_db": contrast}
    file_sound(studio, body=body | {"technique": fours})
    file_sound(studio, body=body | {"technique": {}})
    words = words_of(client.get("/take/1"))
    assert "Technique as heard An accent comes on every fourth stroke" in words
    assert "6.5 dB above the others" in words
    assert "Technique as heard" not in words_of(client.get("/take/2"))


def test_how_the_drive_sounds(studio, client):
    """A small table tells each figure of the drive with its range, whatever the main fault."""
    technique = technique_json(hear_technique(hand(drive=4, contrast_db=7.0, decay_db=1.0)))
    assert technique["main_fault"] is None
    file_sound(studio, body=heard_take() | {"technique": technique})
    file_sound(studio, body=heard_take() | {"technique": technique | {"taps_db": []}})
    text = client.get("/take/1").text
    table = text.split('class="drive-sound"')[1].split("</table>")[0]
    assert "<caption>How the drive sounds</caption>" in table
    assert table.count('<th scope="row">') == 8
    for name in (
        "4th stroke below",
        "Decay from tap to tap",
        "Lateness after",
        "Growth of the gaps",
    ):
        row = table.split(f'<th scope="row">{name}')[1].split("</tr>")[0]
        told, span = re.findall(r'<td class="figure">([^<]+)</td>', row)
        assert re.fullmatch(r".?\d+\.\d (dB|ms)( a minute)?", told)
        assert re.fullmatch(r".?\d+\.\d to .?\d+\.\d", span)
    older = client.get("/take/2").text.split("drive-sound")[1].split("</table>")[0]
    assert "stroke below the accent" not in older
    assert "Accent above the taps" in older


def test_a_take_without_a_drive_has_no_table_of_it(studio, client):
    """Of single strokes nothing is known of a drive, so there is no table."""
    file_sound(studio, body=heard_take() | {"technique": technique_json(hear_technique(hand()))})
    assert "drive-sound" not in client.get("/take/1").text


def test_a_take_read_by_an_older_version_says_how_to_hear_it_again(studio, client):
    """A reading without the newer faults names its version while its sound is kept, no other."""
    body = heard_take()
    older = {key: of for key, of in body["technique"].items() if key != "doubtful_fault"}
    file_sound(studio, body=body)
    file_sound(studio, body=body | {"technique": older})
    pages = [words_of(client.get(f"/take/{take_id}")) for take_id in (1, 2)]
    assert ["Version 7 read this take" in page for page in pages] == [False, True]
    assert "loosehand reread hears every stored take again" in pages[1]
    delete_sound(studio, player="Ines", day=None, order=None, now=NOW)
    assert "Version 7 read" not in words_of(client.get("/take/2"))


def test_the_page_runs_under_its_own_policy(take):
    """Nothing in the page runs or styles from within it: no inline script, style or handler."""
    answer = take.get("/take/1")
    for tag, attrs in tags_of(answer):
        assert tag != "style"
        assert "style" not in attrs
        assert not [name for name in attrs if name.startswith("on")]
        assert tag != "script" or attrs["src"]


def test_every_field_and_picture_is_named(take):
    """Each field has a label, each picture a title and words, each id stands once."""
    tags = tags_of(take.get("/take/1"))
    ids = [attrs["id"] for _, attrs in tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    labelled = {attrs["for"] for tag, attrs in tags if tag == "label" and "for" in attrs}
    for tag, attrs in tags:
        if tag == "input" and attrs.get("type") not in {"checkbox", "radio"}:
            assert attrs["id"] in labelled or attrs.get("aria-label")
        if tag == "svg" and attrs.get("role") == "img":
            assert set(attrs["aria-labelledby"].split()) <= set(ids)
        if tag == "th":
            assert attrs["scope"] in {"row", "col"}


def test_the_table_has_every_count(take):
    """The table below the plots has a row for each count that has strokes."""
    page = take.get("/take/1").text
    rows = re.findall(r'<tr><th scope="row">(\d+)<td>(\d)', page)
    counts = {stroke["count"] for stroke in heard_take()["strokes"]} - {None}
    assert [int(count) for count, _ in rows] == sorted(counts)
    assert page.count("<td>held") == HELD


def test_the_page_is_small(take):
    """The whole page stays under 60 kB on its way."""
    assert len(gzip.compress(take.get("/take/1").content)) < MOST_ZIPPED


@pytest.mark.parametrize("path", ["/take/2", "/take/0", f"/take/{10**30}", "/take/2/sound"])
def test_no_such_take(take, path):
    """A take that is not there is said in a sentence."""
    answer = take.get(path)
    assert answer.status_code == 404
    assert "there is no take" in answer.text


def test_names_are_escaped(studio, client):
    """A name or a technique that would be markup is shown as it is."""
    file_sound(studio, player="<i>Ines", technique="<b>fours")
    page = client.get("/take/1").text
    assert "<i>" not in page
    assert "<b>" not in page
    assert "&lt;i&gt;Ines" in page


# ------------------------------------------------------------------ takes that lack something


def test_a_take_that_was_not_judged(studio, client):
    """A take that was not judged gives the reason, draws the sound and has no break."""
    body = heard_take() | {
        "count_held": None,
        "last_locked_count": None,
        "clean_counts": None,
        "confidence": None,
        "ended": "not judged",
        "evenness": {},
        "tiring": {},
        "quality": heard_take()["quality"] | {"notes": ["The tempo does not fit."]},
        "strokes": [
            stroke | {"count": None, "place": None, "asynchrony_ms": None}
            for stroke in heard_take()["strokes"]
        ],
    }
    file_sound(studio, body=body)
    answer = client.get("/take/1")
    assert answer.status_code == 200
    assert "could not judge this take. The tempo does not fit." in words_of(answer)
    assert 'class="wave"' in answer.text
    assert 'class="break-line"' not in answer.text


def test_a_take_without_a_grid(studio, client):
    """A take in which neither tempo nor counts were found is drawn in seconds."""
    nothing = dict.fromkeys(
        ("tempo_bpm", "first_count_s", "grid_source", "counts_offered", "count_held",
         "last_locked_count", "clean_counts", "confidence", "hand")
    )  # fmt: skip
    quality = {"notes": ["The tempo cannot be told."], "assumed": [], "duration_s": None}
    body = heard_take() | nothing
    body |= {"ended": "not judged", "evenness": {}, "tiring": {}, "strokes": [], "quality": quality}
    file_sound(studio, body=body)
    answer = client.get("/take/1")
    assert answer.status_code == 200
    assert ">seconds<" in answer.text
    assert client.get("/take/1/sound?click=with").status_code == 404


def test_a_take_in_which_nobody_plays(studio, client):
    """A take without a stroke says so."""
    body = heard_take() | {"count_held": 0, "strokes": [], "evenness": {}, "tiring": {}}
    file_sound(studio, body=body | {"ended": "stopped", "clean_counts": 0, "last_locked_count": 0})
    answer = client.get("/take/1")
    assert answer.status_code == 200
    assert "Nobody plays in this take" in words_of(answer)


def test_a_midi_take(studio, client):
    """A MIDI take has its strokes drawn, and no sound to play."""
    file_midi(studio)
    answer = client.get("/take/1")
    assert answer.status_code == 200
    assert "it is MIDI" in words_of(answer)
    assert "<audio" not in answer.text
    assert 'class="stroke-ticks"' in answer.text
    refused = client.get("/take/1/sound")
    assert refused.status_code == 404
    assert "it is MIDI" in refused.text


def test_a_take_whose_sound_was_deleted(studio, take):
    """Where the sound was deleted its numbers and strokes stay, and when it was is said."""
    delete_sound(studio, player="Ines", day=None, order=None, now=NOW)
    answer = take.get("/take/1")
    assert "its sound was deleted on 1 March 2027, 18:30" in words_of(answer)
    assert "<audio" not in answer.text
    assert "/drop-sound" not in answer.text
    assert 'id="plot-asynchrony-all"' in answer.text
    assert take.get("/take/1/sound").status_code == 404


def test_a_take_whose_file_is_damaged(studio, take):
    """A file that cannot be read any more takes away the waveform, not the page."""
    load_take(studio, 1).sound_path.write_bytes(b"no sound")
    answer = take.get("/take/1")
    assert answer.status_code == 200
    assert "cannot be read any more" in words_of(answer)
    assert 'class="wave"' not in answer.text


def test_a_take_without_a_reading(studio, take):
    """A take that was never read says so."""
    with studio.act() as session:
        session.execute(text("delete from readings"))
    answer = take.get("/take/1")
    assert answer.status_code == 200
    assert "has not been read yet" in answer.text
    assert take.get("/take/1/sound?click=with").status_code == 404


def test_a_round_that_was_voided_at_the_stand(studio, take):
    """What voided a round at the stand is said in words, not by its key."""
    with studio.act() as session:
        session.execute(text("update rounds set standing = 'void', why_void = 'device'"))
    said = "void and not on the chart: a sound device was plugged in or taken away."
    assert said in words_of(take.get("/take/1"))


def test_a_void_round(studio, take):
    """A void round says why it is not on the chart."""
    with studio.act() as session:
        session.execute(text("update rounds set standing = 'void', why_void = 'the phone rang'"))
    assert "void and not on the chart: the phone rang." in words_of(take.get("/take/1"))


def test_hands_apart(studio, client, tmp_path):
    """An alternating take shows each hand by itself."""
    body = heard_alternating(tmp_path)
    assert {stroke["hand"] for stroke in body["strokes"]} == {"left", "right"}
    file_sound(studio, body=body, hand="alternating", places_per_count=8)
    answer = client.get("/take/1")
    assert 'id="plot-asynchrony-left"' in answer.text
    assert 'id="plot-asynchrony-right"' in answer.text
    assert "Hands alternating at 120" in words_of(answer)


@pytest.mark.parametrize("leads", ["right", "left"])
def test_the_places_of_each_hand_have_their_names_in_the_count(studio, client, leads):
    """The hand that leads has 1 and &, the other e and a; its late a is drawn as late there."""
    stroke = np.arange(120)
    late_s = np.where(stroke % 4 == 3, 0.02, 0.0)
    heard = heard_of(2.0 + 0.15 * stroke + late_s)
    reading = read_take(
        heard, request(hand="alternating"), leads_with=leads, measurement_sd_s=0.0006
    )
    file_sound(studio, body=reading.to_json(), hand="alternating")
    text = client.get("/take/1").text
    follows = "left" if leads == "right" else "right"
    plots = {
        hand: text.split(f'id="plot-timing-{hand}"')[1].split("</svg>")[0]
        for hand in ("left", "right")
    }
    names = {hand: re.findall(r'place-word middle">([^<]*)<', plots[hand]) for hand in plots}
    assert names == {leads: ["1", "&amp;"], follows: ["e", "a"]}
    assert "e: -10.0 ms; a: +10.0 ms" in plots[follows]


# ------------------------------------------------------------------ the sound


def test_the_sound_as_recorded(take):
    """The sound is the stored FLAC, to the last sample of 24 bits."""
    answer = take.get("/take/1/sound")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "audio/flac")
    samples, _ = soundfile.read(io.BytesIO(answer.content), dtype="float32")
    assert np.max(np.abs(samples - take_samples())) < 2**-22


@pytest.mark.parametrize("click", ["", "?click=with", "?click=without"])
def test_a_range_of_the_sound(take, click):
    """A player may ask for any range, so that it can seek."""
    whole = take.get(f"/take/1/sound{click}")
    assert whole.headers["accept-ranges"] == "bytes"
    part = take.get(f"/take/1/sound{click}", headers={"range": "bytes=1000-2999"})
    assert part.status_code == 206
    assert part.content == whole.content[1000:3000]
    assert part.headers["content-range"] == f"bytes 1000-2999/{len(whole.content)}"
    end = f"bytes={len(whole.content)}-"
    assert take.get(f"/take/1/sound{click}", headers={"range": end}).status_code == 416


def test_the_sound_without_its_click(take):
    """Without its click the take has the same length, and its count-in is all but silent."""
    samples, rate = soundfile.read(io.BytesIO(take.get("/take/1/sound?click=without").content))
    assert samples.size == round(DURATION_S * rate)
    count_in = slice(0, round(2.2 * rate))
    left_over = np.mean(np.square(samples[count_in]))
    assert left_over < np.mean(np.square(take_samples()[count_in])) / 16


def test_no_click_to_take_out(studio, client):
    """Where no click is heard the page offers none to take out, and the address says why."""
    file_sound(studio, click=False)
    page = client.get("/take/1").text
    assert "click=without" not in page
    assert "click=with" in page
    answer = client.get("/take/1/sound?click=without")
    assert answer.status_code == 404
    assert "no click stands out" in answer.text


def test_no_such_click(take):
    """A click that is neither with nor without is refused."""
    answer = take.get("/take/1/sound?click=loud")
    assert answer.status_code == 422
    assert "with, without" in answer.text


# ------------------------------------------------------------------ what a person does


def test_moving_the_break(studio, take):
    """A person's number stands; the machine's is kept and shown, with when and why."""
    answer = move(take, count_held="11", why="I counted along")
    assert (answer.status_code, answer.headers["location"]) == (303, "/take/1")
    assert count_of(studio) == 11
    words = words_of(take.get("/take/1"))
    assert f"A person's number stands: 11 . The machine read {HELD} . Both are kept." in words
    assert "11 stands a person fell behind 1 March 2027, 18:30 I counted along" in words
    assert f"{HELD} the machine, version 7 fell behind 1 March 2027, 18:30" in words
    assert 'class="read-end"' in take.get("/take/1").text


def test_moving_the_break_of_a_void_round(studio, take):
    """A person's number puts a void round on the chart, and the page says so before."""
    with studio.act() as session:
        session.execute(text("update rounds set standing = 'void'"))
    assert "A number of yours puts this round on the chart" in words_of(take.get("/take/1"))
    move(take, count_held="11", why="it was a good round")
    assert load_take(studio, 1).standing == "counts"


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"count_held": str(COUNTS + 1), "why": "so"}, "want a whole number from 0 to 24"),
        ({"count_held": "-1", "why": "so"}, "want a whole number from 0 to 24"),
        ({"count_held": "many", "why": "so"}, "is not a whole number"),
        ({"count_held": "9" * 5000, "why": "so"}, "is not a whole number"),
        ({"count_held": "", "why": "so"}, "is not a whole number"),
        ({"why": "so"}, "is not a whole number"),
        ({"count_held": "11", "why": "  "}, "why is empty"),
        ({"count_held": "11"}, "why is empty"),
        ({"count_held": "11", "why": "x" * 401}, "want at most 400"),
        ({"count_held": "11", "why": "one\ntwo"}, "line break"),
    ],
)
def test_a_number_that_cannot_be(studio, take, form, said):
    """A number or a reason that cannot be is refused in a sentence, and nothing changes."""
    answer = move(take, **form)
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert load_take(studio, 1).corrected == ()


def test_moving_the_break_of_no_take(take):
    """A take that is not there cannot be corrected."""
    answer = take.post("/take/9/break", data={"count_held": "3", "why": "so"})
    assert answer.status_code == 404


def test_deleting_the_sound(studio, take):
    """A sound that is deleted is gone from the disk, and the numbers stay."""
    path = load_take(studio, 1).sound_path
    answer = take.post("/take/1/drop-sound", data={"yes": "yes"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/take/1")
    assert not path.exists()
    assert count_of(studio) == HELD


def test_deleting_only_this_sound(studio, take):
    """Deleting a take's sound leaves that of other rounds of the day alone."""
    file_midi(studio)
    take.post("/take/1/drop-sound", data={"yes": "yes"})
    assert load_take(studio, 1).sound_path is None
    assert load_take(studio, 2).sound_path.is_file()


@pytest.mark.parametrize("form", [{}, {"yes": ""}, {"yes": "no"}])
def test_deleting_asks_first(studio, take, form):
    """Without a yes nothing is deleted."""
    answer = take.post("/take/1/drop-sound", data=form)
    assert answer.status_code == 422
    assert "tick the box" in answer.text
    assert load_take(studio, 1).sound_path.is_file()


def test_deleting_twice(take):
    """A sound that is gone cannot be deleted again."""
    take.post("/take/1/drop-sound", data={"yes": "yes"})
    assert take.post("/take/1/drop-sound", data={"yes": "yes"}).status_code == 404


# ------------------------------------------------------------------ the script

AXIS = TimeAxis(duration_s=60.0, width=1120.0, first_count_s=3.0, count_s=0.5, counts=100)
SCRIPT = """
import * as t from "./take-time.js";
const take = {
  duration_s: 60, left: LEFT, span: SPAN, first_count_s: 3, count_s: 0.5, counts: 100,
};
const bare = { ...take, first_count_s: null, counts: 0 };
console.log(JSON.stringify({
  x: [0, 3, 31.25, 60, 99].map((s) => t.xOfTime(take, s)),
  there_and_back: t.timeOfX(take, t.xOfTime(take, 17.5)),
  count: [2.9, 3, 3.49, 3.5, 52.9, 53].map((s) => t.countAt(take, s)),
  held: [0, 3.2, 23.1, 59].map((s) => t.heldAt(take, s)),
  start: t.timeOfCount(take, 41),
  step: [[10.2, 1], [10.2, -1], [10, 1], [10, -1], [0.1, -8], [59.9, 8]]
    .map(([s, by]) => t.steppedBy(take, s, by)),
  bare_step: t.steppedBy(bare, 10.2, 1),
  words: [0, 3, 59].map((s) => t.placeInWords(take, s)),
  bare_words: t.placeInWords(bare, 61.04),
}));
"""


@pytest.mark.skipif(shutil.which("node") is None, reason="there is no node to run scripts with")
def test_the_script_finds_the_places_that_the_page_draws():
    """Times, counts and pixels are the same in the script as in the picture."""
    script = SCRIPT.replace("LEFT", str(AXIS.left)).replace("SPAN", str(AXIS.span))
    run = subprocess.run(
        ["node", "--input-type=module", "-e", script],
        cwd=TAKE_TIME_JS.parent,
        capture_output=True,
        encoding="utf-8",
        check=True,
        timeout=60,
    )
    found = json.loads(run.stdout)
    assert found["x"] == pytest.approx([AXIS.x_of(s) for s in (0, 3, 31.25, 60, 99)])
    assert found["there_and_back"] == pytest.approx(17.5)
    assert found["count"] == [0, 1, 1, 2, 100, None]
    assert found["held"] == [0, 0, 40, 100]
    assert AXIS.x_of(found["start"]) == pytest.approx(AXIS.x_of_count(41))
    assert found["step"] == pytest.approx([10.5, 10.0, 10.5, 9.5, 0.0, 60.0])
    assert found["bare_step"] == pytest.approx(11.2)
    assert found["words"] == ["0:00.0, before count 1", "0:03.0, count 1 of 100",
                              "0:59.0, after the round"]  # fmt: skip
    assert found["bare_words"] == "1:01.0"


def test_the_axis_is_told_to_the_script(take):
    """The page tells the script where the counts lie, as the picture has them."""
    seek = next(attrs for _, attrs in tags_of(take.get("/take/1")) if attrs.get("id") == "seek")
    assert float(seek["data-count-s"]) == COUNT_S
    assert float(seek["data-duration-s"]) == pytest.approx(DURATION_S)
    assert int(seek["data-counts"]) == COUNTS
