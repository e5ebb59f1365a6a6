"""The page of the reach: what it shows, in which order, and what it refuses."""

import html
import re
from datetime import date, timedelta
from urllib.parse import urlencode

import pytest

from loosehand.studio.filing import import_rows
from loosehand.studio.reach_store import fill_record
from loosehand.studio.workouts import add_player
from tests.web.conftest import NOW, chart_row

HEADINGS = [
    "How long a tempo is held",
    "How it moves",
    "Will it hold",
    "When",
    "Weak and strong hand",
    "How its forecasts did",
    "How it is told",
]
LEFT = "left/whip fours/pad/medium/4"
RIGHT = "right/whip fours/pad/medium/4"


def way(player="Nerys", **words):
    """Address of a reach."""
    return f"/reach/{player}?{urlencode(words)}"


def words_of(answer):
    """Text of a page without its markup."""
    return html.unescape(" ".join(re.sub(r"<[^>]+>", " ", answer.text).split()))


def section_of(answer, name):
    """Markup of a section, by the id of its heading."""
    return re.search(
        rf'<section aria-labelledby="{name}">.*?</section>', answer.text, re.DOTALL
    ).group()


def test_of_many_players_one_is_chosen(client):
    """Each has a link to the own reach."""
    answer = client.get("/reach")
    assert '<a class="button" href="/reach/Nerys">Nerys</a>' in answer.text
    assert 'href="/reach/Tobin"' in answer.text


def test_everything_stands_in_its_order(client):
    """One figure first, then the sections; in those with a plot it stands before the table."""
    answer = client.get("/reach/Nerys")
    assert answer.status_code == 200
    assert re.findall(r"<h2[^>]*>(.*?)</h2>", answer.text) == HEADINGS
    assert answer.text.index("for a minute") < answer.text.index("<h2")
    for name in ("curve", "trend"):
        found = section_of(answer, name)
        assert found.index("<svg") < found.index("<table")
    assert "Pain, tingling, numbness or weakness means stop" in words_of(answer)


def test_the_figure_lies_where_the_rounds_say(client):
    """Held to the end at 90 and lost at 95: the minute lies between 85 and 98, with its bounds."""
    text = words_of(client.get("/reach/Nerys"))
    found = re.search(r"pad, medium: (\d+) for a minute \(([\d.]+) to ([\d.]+)\)", text)
    minute, low, high = map(float, found.groups())
    assert 85 <= low <= minute <= high <= 98
    assert "about 9 times in 10" in text


def test_a_kind_is_chosen_and_the_others_are_linked(client):
    """Both hands are linked, the one shown is marked, and each shows its own figures."""
    answer = client.get(way(kind=RIGHT))
    links = re.findall(r'<a href="(/reach/Nerys[^"]*)"( aria-current="page")?>', answer.text)
    assert len(links) == 2
    assert [bool(current) for _, current in links] == [False, True]
    assert "Right hand, whip fours, pad, medium" in words_of(answer)
    for address, _ in links:
        assert client.get(html.unescape(address)).status_code == 200


def test_the_kind_played_last_comes_first(client, studio):
    """Without a word the page shows the kind of the last day, however few its rounds."""
    import_rows(studio, [chart_row(date(2027, 2, 28), surface="hat", held=50)], now=NOW)
    text = client.get("/reach/Nerys").text
    assert '<span class="reach-kind">Left hand, whip fours, hat, medium:</span>' in text


def test_rounds_of_the_hand_alone_are_drawn(client):
    """Three days of three tempos: the table of the picture has the left hand's rounds only."""
    found = section_of(client.get(way(kind=LEFT)), "curve")
    rows = re.findall(r'<tr><th scope="row" class="figure">(\d+)</th>(.*?)</tr>', found)
    cells = {tempo: re.findall(r">([^<>]+)</td>", row) for tempo, row in rows}
    assert cells == {
        "90": ["3", "3", "none lost"],
        "95": ["3", "0", "38 s"],
        "100": ["3", "0", "19 s"],
    }


def test_holding_is_told_for_a_tempo_and_a_length(client):
    """The form answers in a sentence, a row and a column, and says what lies beyond."""
    answer = client.get(way(kind=LEFT, tempo="92", minutes="3"))
    text = words_of(answer)
    assert re.search(r"92 for 3 minutes: (under 1|over 99|\d+) %", text)
    assert "No hold of 3 minutes was seen yet" in text
    found = section_of(answer, "will")
    assert '<tr class="asked"><th scope="row" class="figure">92' in found
    assert '<th scope="col">3 min</th>' in found
    assert "†" in found
    assert 'name="tempo" value="92"' in found


def test_beyond_what_was_seen_is_marked_in_words(client):
    """Chances of two and four minutes are marked, those of a minute are not."""
    found = section_of(client.get(way(kind=LEFT)), "will")
    rows = re.findall(r"<tr><th.*?</tr>", found.split("<tbody>")[1])
    assert len(rows) >= 8
    for row in rows:
        one, two, four = re.findall(r"<td.*?</td>", row)
        assert "beyond what was seen" not in one
        assert "beyond what was seen" in two
        assert "beyond what was seen" in four


def test_when_a_target_comes_is_told_or_said_not_to(client):
    """A tempo held already is so told; one far off is not within a year."""
    now = words_of(client.get(way(kind=LEFT, goal_tempo="70", goal_minutes="1")))
    assert "70 for a minute is held with even chance already" in now
    far = client.get(way(kind=LEFT, goal_tempo="300", goal_minutes="1"))
    assert "300 for a minute: not within a year, if the trend goes on" in words_of(far)
    trend, curves = section_of(far, "when").split('<table class="reach-practice"')
    assert trend.count("not within a year") == 4
    assert curves.count("not within a year") == curves.count('<th scope="row">') == 3
    assert "in a straight line" in curves


def test_one_form_keeps_what_another_asked(client):
    """The form for the day carries kind, tempo and target along, and not its own old day."""
    asked = {"tempo": "92", "minutes": "2", "goal_tempo": "99", "goal_minutes": "1"}
    answer = client.get(way(kind=LEFT, since="2027-02-24", **asked))
    form = re.search(r"<form.*?</form>", section_of(answer, "trend"), re.DOTALL).group()
    kept = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
    assert kept == {"kind": LEFT, **asked}
    assert 'value="2027-02-24"' in form
    assert "better than on 24 February 2027" in words_of(answer)


def test_even_hands_have_no_gap_to_speak_of(client):
    """Both hands of this studio played the same: the gap's interval holds nought."""
    text = words_of(client.get(way(kind=LEFT)))
    found = re.search(r"hand holds ([\d.]+) more for a minute than the \w+ \((−?[\d.]+) to", text)
    assert float(found.group(1)) < 2.0
    assert found.group(2).startswith("−")


def test_a_hand_alone_says_so(client):
    """Without rounds of the other hand there is no gap, and without a second technique none."""
    text = words_of(client.get("/reach/Tobin"))
    assert "Cannot say yet: no rounds of the right hand of this kind." in text
    assert "None is on the chart for the same surface and loudness." in text
    assert "One day alone shows no trend." in text


def test_two_techniques_are_compared(client, studio):
    """A second technique of the same hand, surface and loudness is told of by its name."""
    rows = [
        chart_row(date(2027, 2, 22) + timedelta(days=day), tempo_bpm=tempo, held=held)
        for day in (1, 3, 5)
        for tempo, held in ((70, 70), (75, 40), (80, 20))
    ]
    singles = [
        chart_row(
            row.day,
            tempo_bpm=row.tags.tempo_bpm,
            held=row.count_held,
            technique="wrist singles",
        )
        for row in rows
    ]
    import_rows(studio, singles, now=NOW)
    text = words_of(client.get(way(kind=LEFT)))
    assert "Whip fours and wrist singles more likely do not cross" in text
    assert re.search(r"whip fours is held longer at every tempo with (over 99|[89]\d) %", text)


def test_the_hypothesis_is_said(client):
    """A critical stroke rate is called our own hypothesis, and all laws have their scores."""
    answer = client.get("/reach/Nerys")
    assert "is our own hypothesis" in words_of(answer)
    assert "not a published finding" in words_of(answer)
    assert len(re.findall(r"<tr>", section_of(answer, "told").split("<tbody>")[1])) >= 3


def test_forecasts_that_were_scored_are_shown(client, studio):
    """Once past weeks are scored, the page shows how the forecasts did; before, how to do it."""
    rows = [
        chart_row(date(2027, 1, 25) + timedelta(days=day), tempo_bpm=tempo, held=held)
        for day in range(0, 28, 3)
        for tempo, held in ((90, 90), (95, 95 if day % 2 else 60), (100, 31))
    ]
    import_rows(studio, rows, now=NOW)
    assert "or by the command 'loosehand refit'" in words_of(client.get(way(kind=LEFT)))
    assert fill_record(studio, "Nerys", today=NOW.date()) >= 3
    answer = client.get(way(kind=LEFT))
    found = section_of(answer, "record")
    assert found.index("<svg") < found.index("<table") < found.index("past weeks each round")
    assert "Mean log score a round" in found


def test_nothing_on_the_chart_is_said_kindly(client, studio):
    """A player without a round is led to the stand."""
    add_player(studio, "Ines", now=NOW)
    answer = client.get("/reach/Ines")
    assert answer.status_code == 200
    assert "Nothing can be told yet" in words_of(answer)
    assert 'href="/?player=Ines"' in answer.text


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        ({"tempo": "abc", "minutes": "2"}, 422, "tempo_bpm = 'abc' is not a tempo"),
        ({"tempo": "100", "minutes": "999"}, 422, "minutes = 999 cannot be"),
        ({"goal_tempo": "-3", "goal_minutes": "1"}, 422, "tempo_bpm = -3 is not a tempo"),
        ({"since": "2027-12-01"}, 422, "since = 2027-12-01 lies after"),
        ({"since": "1999-01-01"}, 422, "since = 1999-01-01 lies before"),
        ({"since": "soon"}, 422, "'soon' is not a day"),
        ({"kind": "left/whip fives/pad/medium/4"}, 404, "has no rounds with a count here"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(client, words, status, sentence):
    """Bad words in the address are refused, with the one that is wrong."""
    answer = client.get(way(**words))
    assert answer.status_code == status
    assert sentence in words_of(answer)


def test_an_unknown_player_is_not_found(client):
    """A name that the studio does not know is a page that is not there."""
    answer = client.get("/reach/Nobody")
    assert answer.status_code == 404
    assert "there is no player 'Nobody'" in words_of(answer)


def test_names_are_written_safely(client, studio):
    """A technique that looks like markup is shown as it was written."""
    nasty = '<i>"fours"</i>'
    import_rows(studio, [chart_row(date(2027, 2, 28), technique=nasty, held=50)], now=NOW)
    answer = client.get("/reach/Nerys")
    assert "<i>" not in answer.text
    assert nasty in words_of(answer)


def test_the_page_is_light_and_without_inline_style(client):
    """Markup stays under 150 kB, with no style or script of its own in it."""
    answer = client.get("/reach/Nerys")
    assert len(answer.content) < 150_000
    assert not re.search(r"<style| style=|<script(?![^>]* src=)| on\w+=", answer.text)


def test_the_chart_and_every_page_lead_here(client):
    """The navigation has a link to the reach, and a chart to that of its player."""
    assert '<a href="/reach" aria-current="page">Reach</a>' in client.get("/reach/Nerys").text
    text = client.get("/chart/Nerys").text
    assert '<a href="/reach" >Reach</a>' in text
    assert 'href="/reach/Nerys"' in text
