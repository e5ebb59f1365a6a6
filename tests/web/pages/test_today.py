"""Checks of the page Today: whose day it is, what is proposed, or rest."""

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


def rounds_of(html):
    """Lines of the rounds that a page would send to the stand."""
    return forms_of(html)["/workouts"]["rounds"].splitlines()


def feel_of(studio, feel, *, day):
    """Nerys says how a round of a day felt."""
    rows = [chart_row(day, hand="right", tempo_bpm=70, held=70, feel=feel)]
    import_rows(studio, rows, now=NOW)


def test_a_plan_is_proposed(client):
    """A warm-up, tests, what is known of each hand, and why; for what was played last."""
    html = client.get("/").text
    rounds = rounds_of(html)
    assert rounds[0] == "warm-up alternating 60 60"
    assert [line.rsplit(" ", 2)[0] for line in rounds[1:3]] == ["test left", "test right"]
    assert "test" in re.search(r'<p class="why">([^<]+)</p>', html)[1]
    assert "Left: the week&#39;s test, fresh and kept apart" in html
    form = forms_of(html)["/workouts"]
    assert (form["technique"], form["surface"], form["loudness"]) == ("whip fours", "pad", "medium")
    assert (form["minutes"], form["per_count"]) == ("20", "4")
    assert form["hand"] == ["left", "right", "alternating"]
    assert "About 20 minutes" in html


def test_every_proposed_round_is_shown(client):
    """The rounds in the text are those that the blocks show, with how likely each is held."""
    html = client.get("/").text
    shown = re.findall(r'<li><span class="figure">(\w+) ([\d.]+)</span>', html)
    lines = [line.split()[-3:-1] for line in rounds_of(html)]
    assert sorted((hand.lower(), tempo) for hand, tempo in shown) == sorted(map(tuple, lines))
    assert re.search(r'<span class="small">60 s, [<>&gtl;]*\d+ %</span>', html)


@pytest.mark.parametrize("minutes", [10, 20, 45])
def test_another_time_is_proposed_anew(client, minutes):
    """The form of what is asked, sent with another time, brings a plan of that length."""
    asked = forms_of(client.get("/").text)["/"]
    html = client.get("/", params=asked | {"minutes": str(minutes)}).text
    assert f"About {minutes} minutes" in html
    assert forms_of(html)["/"]["minutes"] == str(minutes)
    assert forms_of(html)["/workouts"]["minutes"] == str(minutes)


def test_the_form_of_what_is_asked_changes_nothing_by_itself(client):
    """Sent as it stands, the same plan is proposed."""
    before = client.get("/").text
    after = client.get("/", params=forms_of(before)["/"]).text
    assert rounds_of(after) == rounds_of(before)
    assert forms_of(after) == forms_of(before)


def test_all_that_is_asked_is_obeyed(client):
    """Hands, warm already, the full ladder, other lengths: the plan has them, the form keeps it."""
    asked = {"hand": "left", "warm": "already", "full": "yes", "minutes": "", "round_s": "30"}
    html = client.get("/", params=asked | {"player": "Nerys"}).text
    assert rounds_of(html) == [f"left {tempo} 30" for tempo in range(60, 145, 5)]
    form = forms_of(html)["/"]
    assert {name: form[name] for name in asked} == asked


def test_another_technique_is_searched_for(client):
    """A kind that was never played begins with a short search, and says why that technique."""
    words = {"technique": "push-pull", "surface": "hat", "loudness": "soft", "per_count": "4"}
    html = client.get("/", params={"player": "Nerys"} | words).text
    assert "push-pull, as you chose." in html
    assert "left 70 20" in rounds_of(html)
    assert '<a class="other" href="/?player=Nerys&amp;technique=whip+fours' in html


def test_the_weaker_hand_is_what_the_person_says(client):
    """The chart tells the weaker hand and why; a person's word is above it."""
    assert "Weaker hand: left, by the minute it holds" in client.get("/").text
    html = client.get("/", params={"player": "Nerys", "weak": "right"}).text
    assert "Weaker hand: right, as you said." in html
    assert rounds_of(html)[1].startswith("test right")


def test_what_each_hand_holds_stands_above(client):
    """A line a hand leads to its reach."""
    html = client.get("/").text
    assert html.index('class="reach-strip"') < html.index('class="day"')
    assert 'href="/reach/Nerys?kind=left' in html


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"minutes": "soon"}, "minutes = &#39;soon&#39; is not a number"),
        ({"minutes": "1"}, "minutes = 1 cannot be"),
        ({"minutes": "nan"}, "minutes = &#39;nan&#39; cannot be"),
        ({"round_s": "0"}, "round_s = 0 cannot be"),
        ({"rest_s": "-3"}, "rest_s = -3 cannot be"),
        ({"hand": "foot"}, "hand = &#39;foot&#39; is not known"),
        ({"weak": "both"}, "weak = &#39;both&#39; is not known"),
        ({"loudness": "deafening"}, "loudness = &#39;deafening&#39; is not known"),
        ({"per_count": "99"}, "per_count = 99 cannot be"),
        ({"technique": "x" * 61}, "technique has 61 characters"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(client, words, says):
    """A word that cannot be is named."""
    answer = client.get("/", params={"player": "Nerys"} | words)
    assert answer.status_code == 422
    assert says in sentence_of(answer)


def test_after_pain_rest_comes_first(client, studio):
    """A round that hurt: rest, in a sentence, and no rounds; on request light and slow ones."""
    feel_of(studio, "pain", day=TODAY - timedelta(days=1))
    html = client.get("/").text
    assert "A round hurt today or yesterday: rest" in html
    assert '<button class="first">Rest today</button>' in html
    assert "/workouts" not in forms_of(html)
    assert html.count("hurt") == 1
    light = client.get("/", params={"player": "Nerys", "light": "yes", "full": "yes"}).text
    lines = [line.split() for line in rounds_of(light)]
    assert {line[-3] for line in lines} == {"alternating"}
    assert max(float(line[-2]) for line in lines) <= 60.0
    assert '<button class="first">Rest today</button>' in light


def test_after_a_week_in_a_row_rest_comes_first(client, studio):
    """After a week without a day off rest is the first button; easy rounds stand behind it."""
    days = [TODAY - timedelta(days=ago) for ago in range(1, 7)]
    import_rows(studio, [chart_row(day, tempo_bpm=80, held=80) for day in days], now=NOW)
    html = client.get("/").text
    assert "7 days in a row were played" in html
    before, anyway = html.split("<summary>Play anyway</summary>")
    assert '<button class="first">Rest today</button>' in before
    assert 'action="/workouts"' in anyway


def test_a_tense_round_makes_the_day_light(client, studio):
    """Tension lately: fewer and slower rounds, in one sentence."""
    feel_of(studio, "tense", day=TODAY - timedelta(days=3))
    html = client.get("/").text
    assert "A round felt tense (2027-02-26)" in html
    assert not any(line.startswith("test") for line in rounds_of(html))
    assert "about 12 minutes instead of 20" in html


def test_the_click_is_as_it_was_last(client, studio):
    """Click and grip of the last workout are offered again."""
    form = forms_of(client.get("/").text)["/workouts"]
    changed = {"timbre": "tick", "level_db": "-12", "accent": "yes", "grip": "as it comes"}
    client.post("/workouts", data=form | changed)
    after = forms_of(client.get("/").text)["/workouts"]
    assert {name: after[name] for name in changed} == changed


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
    """A new player has a page at once, and a short search for what the hands hold."""
    answer = bare.post("/players", data={"name": " Inés & co "})
    assert answer.status_code == 303
    page = bare.get(answer.headers["location"])
    assert "<h1>Today: Inés &amp; co</h1>" in page.text
    assert forms_of(page.text)["/workouts"]["player"] == "Inés & co"
    assert "left 70 20" in rounds_of(page.text)
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
