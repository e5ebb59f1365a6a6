"""The chart's pages: what they show, what they keep, and what they refuse."""

import re
import statistics
import time
from contextlib import closing
from datetime import UTC, date, datetime

import pytest

from loosehand.studio.chart import chart_rounds
from loosehand.studio.chart_csv import ChartRow
from loosehand.studio.filing import RoundPlace, correct_count, import_rows
from loosehand.studio.models import Day, Player, Reading, Round, Take
from loosehand.studio.round_tags import RoundTags
from loosehand.web.pages.chart import asked_of
from tests.blank_studio import new_studio, ten_years_database
from tests.web.conftest import client_of

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
NUMBER = {
    "date": "2027-02-28",
    "hand": "right",
    "tempo_bpm": "95",
    "count_held": "61",
    "technique": "whip fours",
    "surface": "pad",
    "loudness": "medium",
    "grid": "4",
    "round_s": "60",
    "ended": "",
    "feel": "loose",
}


def a_row(day, *, held=40, player="Nerys", **tags):
    """A round to put on the chart."""
    whole = {
        "hand": "left",
        "tempo_bpm": 95.0,
        "places_per_count": 4,
        "round_s": 60.0,
        "technique": "whip fours",
        "surface": "pad",
        "loudness": "medium",
        "feel": None,
    } | tags
    return ChartRow(day, None, player, RoundTags(**whole), held, None)


def rounds_of(studio, player="Nerys"):
    """All rounds of a player."""
    with studio.look() as session:
        return chart_rounds(session, player=player)


def words_of(answer):
    """Text of a page without its markup."""
    return " ".join(re.sub(r"<[^>]+>", " ", answer.text).split())


def test_of_many_players_one_is_chosen(client):
    """Each has a link to the own chart."""
    answer = client.get("/chart")
    assert answer.status_code == 200
    assert '<a class="button" href="/chart/Nerys">Nerys</a>' in answer.text
    assert 'href="/chart/Tobin"' in answer.text


def test_the_only_player_is_gone_to_at_once(client, studio):
    """Where there is one player there is nothing to choose."""
    with studio.act() as session:
        for found in session.query(Round).join(Day).join(Player).filter(Player.name == "Tobin"):
            session.delete(found)
        session.flush()
        for found in session.query(Day).join(Player).filter(Player.name == "Tobin"):
            session.delete(found)
        session.flush()
        session.delete(session.query(Player).filter(Player.name == "Tobin").one())
    answer = client.get("/chart", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/chart/Nerys")


def test_a_chart_has_a_picture_then_the_gap_then_the_table(client):
    """A plot stands before the table, and both hold the numbers of the studio."""
    text = client.get("/chart/Nerys").text
    assert text.index("<svg") < text.index("Weak to strong") < text.index("<table")
    assert text.count('<span class="n held">90<span class="sr"> held to the end</span>') == 6
    assert text.count('<span class="n">31</span>') == 6


def test_work_and_rest_are_said(client):
    """Three days of eighteen rounds, and the five days without one up to today."""
    assert "3 days with rounds (18 rounds), 5 rest days." in words_of(client.get("/chart/Nerys"))


def test_the_gap_is_told_from_three_days(client, studio):
    """Both hands hold the same in this studio; a fourth day alone changes nothing."""
    assert "No gap: both hands hold the same tempo (median of 3 days)." in words_of(
        client.get("/chart/Nerys")
    )
    assert "Cannot say yet: no rounds of the right hand here." in words_of(
        client.get("/chart/Tobin")
    )


def test_soft_and_loud_have_charts_of_their_own(client, studio):
    """Kinds are never pooled, and the filter shows one of them."""
    import_rows(studio, [a_row(date(2027, 2, 23), held=7, loudness="soft")], now=NOW)
    both = client.get("/chart/Nerys").text
    assert both.count("<svg") == 2
    soft = client.get("/chart/Nerys?loudness=soft").text
    assert soft.count("<svg") == 1
    assert "Whip fours, pad, soft" in soft
    assert "Whip fours, pad, medium" not in soft


def test_tags_that_were_not_said_can_be_asked_for(client, studio):
    """The sign for 'not said' shows the rounds that say nothing, and only those."""
    import_rows(studio, [a_row(date(2027, 2, 23), held=7, technique=None)], now=NOW)
    text = client.get("/chart/Nerys?technique=~").text
    assert "Technique not said, pad" in text
    assert "Whip fours, pad" not in text


def test_kinds_beyond_the_first_three_are_named(client, studio):
    """A page of many kinds shows the ones with most rounds and links to the others."""
    surfaces = ("hat", "ride", "snare")
    import_rows(studio, [a_row(date(2027, 2, 23), surface=name) for name in surfaces], now=NOW)
    text = client.get("/chart/Nerys").text
    assert text.count("<svg") == 3
    assert re.search(r"surface=snare&amp;loudness=medium&amp;grid=4&amp;period=latest", text)


def test_a_take_a_correction_and_no_number_are_marked(client, studio):
    """The number of a take links to it; a person's and a missing one say so in words."""
    import_rows(studio, [a_row(date(2027, 2, 27), tempo_bpm=t) for t in (80.0, 85.0)], now=NOW)
    with studio.act() as session:
        rounds = session.query(Round).order_by(Round.id.desc()).limit(2).all()
        for found, (count, ended) in zip(
            rounds, ((33, "lost the click"), (None, "not judged")), strict=True
        ):
            take = Take(
                round_id=found.id, kind="sound", content_sha256="0" * 64, told={}, filed_at=NOW
            )
            session.add(take)
            session.flush()
            session.add(
                Reading(
                    take_id=take.id,
                    judge_version="1",
                    made_at=NOW,
                    count_held=count,
                    ended=ended,
                    confidence=0.5,
                    body={},
                )
            )
    place = RoundPlace("Nerys", date(2027, 2, 22), 3)
    correct_count(studio, place, count_held=30, ended=None, why="I counted <along>", now=NOW)
    text = client.get("/chart/Nerys").text
    assert '<a href="/take/1">33</a><span class="sr"> from a take</span>' in text
    assert '<a href="/take/2">?</a><span class="sr"> not judged, from a take</span>' in text
    assert "corrected by a person: I counted &lt;along&gt;" in text


def test_earlier_weeks_are_a_link_away(client, studio):
    """The page of five weeks leads to the five before, and those back to the last."""
    import_rows(studio, [a_row(date(2026, 12, 24), held=17)], now=NOW)
    now = client.get("/chart/Nerys")
    assert '<span class="n">17</span>' not in now.text
    assert 'href="/chart/Nerys?period=2027-01-25"' in now.text
    before = client.get("/chart/Nerys?period=2027-01-25")
    assert '<span class="n">17</span>' in before.text
    assert 'href="/chart/Nerys?period=latest"' in before.text


def test_everything_is_collapsed_to_months(client, studio):
    """Months have the median of their rounds, and days are nowhere."""
    text = client.get("/chart/Nerys?period=all").text
    assert '<span class="n">60<small>×3</small><span class="sr"> median of 3 rounds</span>' in text
    assert "February 2027" in text
    assert "22 Feb" not in text


def test_a_period_without_rounds_leads_to_the_last_ones(client):
    """Nothing is drawn, and the way to where there is something is shown."""
    text = client.get("/chart/Nerys?period=2026-11").text
    assert "<svg" not in text
    assert 'the last ones were on <a href="/chart/Nerys?period=2027-02-26">26 February' in text


def test_rounds_of_days_to_come_are_pointed_at(client, studio):
    """A chart with a mistyped year says that it holds rounds after today."""
    import_rows(studio, [a_row(date(2062, 2, 22))], now=NOW)
    words = words_of(client.get("/chart/Nerys"))
    assert "The chart holds rounds after this: up to 22 February 2062" in words
    assert "5 rest days" in words


@pytest.mark.parametrize(
    ("way", "status", "said"),
    [
        ("/chart/Otto", 404, "there is no player &#39;Otto&#39;"),
        ("/chart/Nerys?period=soon", 422, "period = &#39;soon&#39; names no days"),
        ("/chart/Nerys?period=2026-13", 422, "names no days"),
        ("/chart/Nerys?loudness=pp", 422, "loudness = &#39;pp&#39; is not known"),
        ("/chart/Nerys?grid=many", 422, "grid = &#39;many&#39; is not a whole number"),
    ],
)
def test_what_cannot_be_shown_is_said_in_one_sentence(client, way, status, said):
    """The status says whose fault it is, and the sentence what."""
    answer = client.get(way)
    assert answer.status_code == status
    assert said in answer.text


def test_one_number_is_written(client, studio):
    """It stands on the chart as written by hand, with its tags, and the page says so."""
    answer = client.post("/chart/Nerys/rounds", data=NUMBER)
    assert answer.status_code == 200
    assert "The number is on the chart." in answer.text
    last = rounds_of(studio)[-1]
    assert (last.row.day, last.row.count_held, last.row.tags.feel) == (
        date(2027, 2, 28),
        61,
        "loose",
    )
    assert last.count_written == 61
    assert '<span class="n">61</span>' in answer.text


def test_an_old_number_is_shown_where_it_stands(client):
    """After writing a number of last year the page shows its month."""
    answer = client.post("/chart/Nerys/rounds", data=NUMBER | {"date": "2026-05-04"})
    assert "May 2026" in answer.text
    assert '<span class="n">61</span>' in answer.text


@pytest.mark.parametrize(
    ("field", "word", "said"),
    [
        ("count_held", "96", "count_held = 96 cannot be; want a whole number from 0 to 95"),
        ("date", "2027-03-03", "has not come yet"),
        ("tempo_bpm", "<b>", "is not a tempo"),
    ],
)
def test_a_number_that_cannot_be_is_shown_again(client, studio, field, word, said):
    """Nothing is kept, the sentence says why, and all that was typed is still there."""
    before = len(rounds_of(studio))
    answer = client.post("/chart/Nerys/rounds", data=NUMBER | {field: word, "technique": "flams"})
    assert answer.status_code == 422
    assert said in answer.text
    assert "Nothing was saved." in answer.text
    assert 'name="technique" value="flams"' in answer.text
    assert len(rounds_of(studio)) == before


def test_writing_for_nobody_makes_no_player(client, studio):
    """A chart is not begun by a mistyped name."""
    assert client.post("/chart/Otto/rounds", data=NUMBER).status_code == 404
    assert "Otto" not in client.get("/chart").text


def test_a_name_may_hold_any_letter(client, studio):
    """Slashes and markup in a name break neither addresses nor the page."""
    name = "A/B <i>?#%"
    import_rows(studio, [a_row(date(2027, 2, 23), player=name)], now=NOW)
    way = re.search(r'href="(/chart/A[^"]+)"', client.get("/chart").text).group(1)
    answer = client.get(way)
    assert answer.status_code == 200
    assert "<h1>A/B &lt;i&gt;?#%</h1>" in answer.text
    assert client.get(f"{way}/paper").status_code == 200


def test_a_player_without_rounds_has_an_empty_chart(client, studio):
    """The page opens, says that there is nothing yet, and has its forms."""
    with studio.act() as session:
        session.add(Player(name="Maud", added_at=NOW))
    for way in ("/chart/Maud", "/chart/Maud?period=all", "/chart/Maud/paper"):
        assert client.get(way).status_code == 200
    assert "No rounds here yet" in client.get("/chart/Maud").text


def test_nothing_runs_or_is_styled_inline(client):
    """The pages keep to the content policy: no script, style or handler of their own."""
    for way in ("/chart", "/chart/Nerys", "/chart/Nerys?period=all", "/chart/Nerys/paper"):
        text = client.get(way).text
        assert not re.search(r"<style|<script(?![^>]*\bsrc=)|\sstyle=|\son[a-z]+=", text)


def test_what_is_not_said_is_asked_of_nothing():
    """Empty words of the filter ask for anything."""
    asked = asked_of({"technique": "", "loudness": "", "grid": " ", "period": " latest "})
    assert (asked.technique, asked.loudness, asked.places_per_count) == (None, None, None)
    assert asked.period == "latest"


@pytest.mark.timing
def test_ten_years_of_daily_rounds_open_quickly(tmp_path):
    """Ten rounds a day for ten years: each page takes less than 0.4 s of processor time."""
    full = new_studio(tmp_path / "full", busy_timeout_s=3.0, database=ten_years_database())
    with closing(full) as studio, client_of(studio) as client:
        for way in ("/chart/Nerys", "/chart/Nerys?period=all", "/chart/Nerys?period=2020"):
            spent_s = []
            for _ in range(5):
                began = time.process_time()
                assert client.get(way).status_code == 200
                spent_s.append(time.process_time() - began)
            assert statistics.median(spent_s) < 0.4, way
