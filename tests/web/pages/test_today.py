"""Checks of the page Today: whose day it is, what comes next, or rest."""

import re
from datetime import date, timedelta

import pytest

from loosehand.studio.chart import player_names
from loosehand.studio.filing import import_rows
from loosehand.studio.practice_days import practice_days, rest_on
from loosehand.studio.workouts import add_player
from tests.web.conftest import NOW, chart_row
from tests.web.pages.page_forms import fields_without_label, forms_of

TODAY = date(2027, 3, 1)


def days_shown(html):
    """What is said of each day of the four weeks."""
    return re.findall(r'<li class="(\w+)"><span class="unseen-words">([^<]+)</span>', html)


def sentence_of(answer):
    """The sentence of an error page."""
    return re.search(r'<p class="say" role="alert">(.*?)</p>', answer.text)[1]


@pytest.fixture
def bare(client, studio):
    """A browser that does not follow to the next page."""
    client.follow_redirects = False
    return client


def test_the_page_shows_the_first_player(client):
    """Today opens with the first player, the others a step away, and how to take care."""
    answer = client.get("/")
    assert answer.status_code == 200
    assert "<h1>Today: Nerys</h1>" in answer.text
    assert re.findall(r'<a href="/\?player=(\w+)" ?(aria-current="page")?', answer.text) == [
        ("Nerys", 'aria-current="page"'),
        ("Tobin", ""),
    ]
    assert 'class="care"' in answer.text


def test_the_page_of_a_player(client):
    """A player's own page is asked for by name."""
    answer = client.get("/", params={"player": "Tobin"})
    assert "<h1>Today: Tobin</h1>" in answer.text
    assert forms_of(answer.text)["/workouts"]["player"] == "Tobin"


def test_a_player_who_is_not_there(client):
    """An unknown name is one sentence."""
    answer = client.get("/", params={"player": "<b>Otto</b>"})
    assert answer.status_code == 404
    assert "there is no player" in sentence_of(answer)
    assert "<b>Otto" not in answer.text


def test_the_last_four_weeks(client, studio):
    """Each of 28 days says what it was: rounds, a day of rest, or nothing."""
    rest_on(studio, "Nerys", date(2027, 2, 23))
    days = days_shown(client.get("/").text)
    assert len(days) == 28
    said = {words.split(":")[0]: (kind, words.split(": ")[1]) for kind, words in days}
    assert said["Monday 22 February"] == ("worked", "6 rounds")
    assert said["Tuesday 23 February"] == ("rested", "a day of rest")
    assert said["Wednesday 24 February"] == ("worked", "6 rounds")
    assert said["Thursday 25 February"] == ("free", "nothing")
    assert list(said)[-1] == "Monday 01 March"


def test_the_form_begins_where_the_chart_says(client):
    """The ladder offered follows from what was held, with the tags played last."""
    form = forms_of(client.get("/").text)["/workouts"]
    assert (form["lowest_bpm"], form["highest_bpm"], form["step_bpm"]) == ("80", "95", "5")
    assert (form["technique"], form["surface"], form["loudness"]) == ("whip fours", "pad", "medium")
    assert (form["weak"], form["hands"], form["alternate"]) == ("left", "both", "yes")
    assert not {"warm", "play_out", "accent", "silent_bars"} & set(form)


def test_the_weaker_hand_is_chosen_beforehand(client, studio):
    """Where the chart tells the weaker hand, the form says so."""
    import_rows(studio, [chart_row(TODAY, hand="left", tempo_bpm=95, held=95)], now=NOW)
    form = forms_of(client.get("/").text)["/workouts"]
    assert form["weak"] == "right"


def test_every_field_has_its_label(client):
    """Whoever cannot see the page hears what each field is."""
    assert fields_without_label(client.get("/").text) == []


def test_an_empty_studio_asks_for_a_player(client, studio):
    """Where nobody is, there is nothing but adding somebody."""
    with studio.act() as session:
        for table in ("rounds", "days", "players"):
            session.connection().exec_driver_sql(f"DELETE FROM {table}")
    answer = client.get("/")
    assert answer.status_code == 200
    assert "Nobody is in this studio yet." in answer.text
    assert set(forms_of(answer.text)) == {"/players"}


def test_a_player_is_added(bare, studio):
    """A new player has a page at once, and a ladder from its foot."""
    answer = bare.post("/players", data={"name": " Inés & co "})
    assert answer.status_code == 303
    page = bare.get(answer.headers["location"])
    assert "<h1>Today: Inés &amp; co</h1>" in page.text
    assert forms_of(page.text)["/workouts"]["player"] == "Inés & co"
    assert forms_of(page.text)["/workouts"]["lowest_bpm"] == "60"
    with studio.look() as session:
        assert "Inés & co" in player_names(session)


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\nb", "a\x00b"])
def test_what_is_no_name_is_refused(client, studio, name):
    """A name that cannot be is one sentence, and nobody is added."""
    answer = client.post("/players", data={"name": name})
    assert answer.status_code == 422
    assert sentence_of(answer).startswith("player ")
    with studio.look() as session:
        assert player_names(session) == ["Nerys", "Tobin"]


def test_rest_today(bare, studio):
    """A day of rest is written down, and the page goes back to its player."""
    answer = bare.post("/rest", data={"player": "Tobin"})
    assert answer.status_code == 303
    days = days_shown(bare.get(answer.headers["location"]).text)
    assert days[-1] == ("rested", "Monday 01 March: a day of rest")
    last = NOW.astimezone().date()
    assert practice_days(studio, "Tobin", last=last, days=1)[0].said_rest


@pytest.mark.parametrize(
    ("data", "status", "says"),
    [({}, 422, "player is empty"), ({"player": "Otto"}, 404, "there is no player")],
)
def test_rest_of_nobody_is_refused(client, data, status, says):
    """Rest needs somebody who rests."""
    answer = client.post("/rest", data=data)
    assert answer.status_code == status
    assert says in sentence_of(answer)


@pytest.mark.parametrize("path", ["/players", "/rest", "/workouts"])
def test_only_pages_of_this_server_change_anything(client, path):
    """What another site sends is refused."""
    answer = client.post(path, data={"name": "Otto"}, headers={"origin": "http://elsewhere"})
    assert answer.status_code == 403


def test_a_name_is_text_and_never_more(client, studio):
    """Whatever a player is called, the page shows it as written."""
    add_player(studio, "<script>\"&'", now=NOW - timedelta(days=1))
    answer = client.get("/", params={"player": "<script>\"&'"})
    assert answer.status_code == 200
    assert "<script>&#34;" not in answer.text
    assert "&lt;script&gt;" in answer.text
    assert forms_of(answer.text)["/workouts"]["player"] == "<script>\"&'"
