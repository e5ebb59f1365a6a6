"""Checks of the form that begins a workout, and of the page in front of the drummer."""

import re
from datetime import date
from html import unescape

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loosehand.errors import InputError
from loosehand.rounds.workout import workout_from_json
from loosehand.studio.care import CARE
from loosehand.studio.chart import player_names
from loosehand.studio.filing import import_rows
from loosehand.studio.workouts import begin_workout, load_workout
from loosehand.web.pages.stand import workout_of_words
from tests.web.conftest import NOW, chart_row
from tests.web.pages.page_forms import forms_of

ROUNDS = """
warm-up alternating 60 60
test left 92 60
left 80 60
Right 80.5, 45
alternating 80
"""
FORM = {
    "player": "Nerys",
    "rounds": ROUNDS,
    "round_s": "60",
    "rest_s": "45",
    "minutes": "",
    "technique": "",
    "surface": "pad",
    "loudness": "",
    "per_count": "4",
    "grip": "",
    "timbre": "low wood",
    "level_db": "-3",
    "count_in_counts": "4",
    "counts_per_bar": "4",
}


@pytest.fixture
def asked(studio):
    """Return a function: the workout of a form, and its plan."""

    def workout_of(**changes):
        words = {name: value for name, value in (FORM | changes).items() if value is not None}
        return workout_of_words(studio, words, hands=(), now=NOW)

    return workout_of


def played(workout):
    """Kind, hand and tempo of each round."""
    return [(each.kind, each.hand, each.tempo_bpm) for each in workout.rounds]


def sentence_of(answer):
    """The sentence of an error page."""
    return unescape(re.search(r'<p class="say" role="alert">(.*?)</p>', answer.text)[1])


def key_of(answer):
    """The key of the workout that an answer leads to."""
    assert answer.status_code == 303
    return re.fullmatch("/stand/([0-9a-f]{32})", answer.headers["location"])[1]


@pytest.fixture
def bare(client):
    """A browser that does not follow to the next page."""
    client.follow_redirects = False
    return client


def test_the_form_of_today_begins_a_workout(bare, studio):
    """What the page Today offers, sent as it stands, leads to the stand of just that plan."""
    form = forms_of(bare.get("/").text)["/workouts"]
    key = key_of(bare.post("/workouts", data=form))
    stored = load_workout(studio, key)
    workout = stored.workout
    assert workout.player == "Nerys"
    assert played(workout)[0] == ("warm-up", "alternating", 60.0)
    assert [each.purpose for each in workout.rounds[1:4]] == ["test", "test", "round"]
    assert stored.plan is not None
    assert stored.plan.rounds == workout.rounds
    assert (workout.setting.round_s, workout.setting.rest_s) == (60.0, 60.0)
    assert (workout.setting.technique, workout.setting.surface) == ("whip fours", "pad")
    html = bare.get(f"/stand/{key}").text
    assert f"{len(workout.rounds)} rounds, about 20 minutes. After each round" in html
    assert re.search(r"<li>Left \d+, test</li>", html)


@pytest.mark.parametrize(
    "asked",
    [
        {"minutes": "10"},
        {"minutes": "", "full": "yes", "hand": "right"},
        {"warm": "already", "round_s": "37.25", "rest_s": "33", "weak": "right"},
        {"technique": "push-pull", "surface": "", "loudness": "", "per_count": "3"},
    ],
)
def test_whatever_is_proposed_is_what_is_played(bare, studio, asked):
    """The plan goes to the stand as it was shown, whatever was asked of it."""
    form = forms_of(bare.get("/", params={"player": "Nerys"} | asked).text)["/workouts"]
    stored = load_workout(studio, key_of(bare.post("/workouts", data=form)))
    assert stored.plan is not None
    assert len(stored.workout.rounds) == len(form["rounds"].splitlines())
    assert stored.workout.setting.technique == asked.get("technique", "whip fours")


def test_an_easy_day_has_the_rests_of_its_plan(bare, studio):
    """Where the plan rests longer than was asked, so does the workout."""
    import_rows(studio, [chart_row(date(2027, 2, 27), held=40, feel="tense")], now=NOW)
    form = forms_of(bare.get("/").text)["/workouts"]
    assert form["rest_s"] == "60"
    stored = load_workout(studio, key_of(bare.post("/workouts", data=form)))
    assert stored.workout.setting.rest_s == 75.0


def test_rounds_that_were_changed_are_played_as_written(bare, studio):
    """A plan of which one round was changed by hand has no plan any more, and stays as it is."""
    form = forms_of(bare.get("/").text)["/workouts"]
    lines = form["rounds"].splitlines()
    form["rounds"] = "\n".join([*lines[:2], "left 71 30", *lines[3:]])
    key = key_of(bare.post("/workouts", data=form))
    stored = load_workout(studio, key)
    assert stored.plan is None
    assert played(stored.workout)[2] == ("round", "left", 71.0)
    assert stored.workout.rounds[2].round_s == 30.0
    assert "if all are played out." in bare.get(f"/stand/{key}").text


def test_the_stand_shows_what_is_played(bare, studio, asked):
    """The page names the player, every round, how long it takes, and how to take care."""
    workout, plan = asked()
    key = begin_workout(studio, workout, now=NOW, plan=plan)
    html = bare.get(f"/stand/{key}").text
    assert "<h2>Nerys</h2>" in html
    rounds = re.findall(r"<li>([^<]+)</li>", html)[:5]
    assert rounds == ["Warm up 60", "Left 92, test", "Left 80", "Right 80.5", "Alternating 80"]
    assert "5 rounds, about 9 minutes if all are played out." in html
    assert CARE in unescape(html)
    assert f'data-live="/stand/{key}/live"' in html


def test_the_stand_works_with_keys_and_without_sight(bare, studio, asked):
    """Every act of the stand has a button that says what it does, and there is a live region."""
    html = bare.get(f"/stand/{begin_workout(studio, asked()[0], now=NOW)}").text
    keys = {key for key, _ in re.findall(r'data-key="(\w+)"[^>]*>([^<]+)</button>', html)}
    assert keys == {"go", "wait", "skip", "loose", "working", "tense", "pain", "finish"}
    assert 'role="status"' in html
    assert 'role="alert"' in html
    assert "style=" not in html
    assert not re.search(r"<script(?![^>]*\bsrc=)", html)


@pytest.mark.parametrize("key", ["0" * 32, "nothing", "..%2F..%2Fetc"])
def test_a_workout_that_is_not_there(client, key):
    """An unknown workout is one sentence, and where to begin one."""
    answer = client.get(f"/stand/{key}")
    assert answer.status_code == 404
    assert ("begin one" in sentence_of(answer)) or ("no such page" in sentence_of(answer))


def test_a_workout_of_nobody_is_not_begun(client, studio):
    """A workout needs a player who is there; nobody is added by beginning one."""
    answer = client.post("/workouts", data=FORM | {"player": "Otto"})
    assert answer.status_code == 404
    assert "there is no player 'Otto'" in sentence_of(answer)
    with studio.look() as session:
        assert "Otto" not in player_names(session)


def test_rounds_are_those_that_were_typed(asked):
    """Each line is a round; where it does not say how long, the usual length holds."""
    workout, plan = asked()
    assert plan is None
    assert [(each.hand, each.tempo_bpm, each.round_s, each.purpose) for each in workout.rounds] == [
        ("alternating", 60.0, 60.0, "warm-up"),
        ("left", 92.0, 60.0, "test"),
        ("left", 80.0, 60.0, "round"),
        ("right", 80.5, 45.0, "round"),
        ("alternating", 80.0, 60.0, "round"),
    ]
    assert not workout.warm_already
    assert asked(rounds="left 80")[0].warm_already
    assert workout_from_json(workout.to_json()) == workout


def test_what_is_ticked_is_done(asked):
    """Ticks and words of the form are those of the rounds."""
    setting = asked(
        accent="yes",
        silent_bars="yes",
        play_out="yes",
        timbre="tick",
        loudness="soft",
        grip=" as it comes ",
        technique="push-pull",
        count_in_counts="2",
        counts_per_bar="3",
        level_db="-12.5",
    )[0].setting
    assert (setting.accent, setting.silent_bars, setting.play_out) == (True, True, True)
    assert (setting.timbre, setting.loudness, setting.grip) == ("tick", "soft", "as it comes")
    assert (setting.technique, setting.surface) == ("push-pull", "pad")
    assert (setting.count_in_counts, setting.counts_per_bar, setting.level_db) == (2, 3, -12.5)
    bare = asked()[0].setting
    assert (bare.accent, bare.silent_bars, bare.play_out) == (False, False, False)
    assert (bare.technique, bare.loudness, bare.grip) == (None, None, None)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"rounds": ""}, "rounds is empty; want a hand, a tempo and seconds"),
        ({"rounds": "left fast"}, "line 1 of the rounds, 'left fast', is none; want a hand"),
        ({"rounds": "left 80\n\nfoot 90 60"}, "line 3 of the rounds, 'foot 90 60', is none"),
        ({"rounds": "left 80 60 60"}, "line 1 of the rounds"),
        ({"rounds": "left nan"}, "line 1 of the rounds"),
        ({"rounds": "left"}, "line 1 of the rounds"),
        ({"rounds": "warm-up"}, "line 1 of the rounds"),
        ({"rounds": "left 10"}, "tempo_bpm = 10 is not a tempo"),
        ({"rounds": "left 440"}, "tempo_bpm = 440 is not a tempo"),
        ({"rounds": "left 80 1"}, "round_s = 1 cannot be"),
        ({"rounds": "left 20 2"}, "too short for one count"),
        ({"rounds": "left 80\n" * 201}, "the workout has 201 rounds; want 1 to 200"),
        ({"rounds": "x" * 20_001}, "rounds has 20001 characters"),
        ({"round_s": "1"}, "round_s = 1 cannot be"),
        ({"rest_s": "-1"}, "rest_s = -1 cannot be"),
        ({"minutes": "0.5"}, "minutes = 0.5 cannot be"),
        ({"minutes": "soon"}, "minutes = 'soon' is not a number"),
        ({"level_db": "3"}, "level_db = 3 cannot be"),
        ({"count_in_counts": "0"}, "count_in_counts = 0"),
        ({"counts_per_bar": "99"}, "counts_per_bar = 99"),
        ({"counts_per_bar": "3.5"}, "counts_per_bar = '3.5' is not a whole number"),
        ({"timbre": "gong"}, "timbre = 'gong' is not known"),
        ({"hand": "feet"}, "hand = 'feet' is not known"),
        ({"weak": "neither"}, "weak = 'neither' is not known"),
        ({"loudness": "deafening"}, "loudness = 'deafening' is not known"),
        ({"technique": "x" * 61}, "technique has 61 characters"),
        ({"player": ""}, "player is empty"),
    ],
)
def test_what_cannot_be_is_one_sentence(client, studio, changes, says):
    """A field that cannot be is named on a page of its own, and no workout is begun."""
    answer = client.post("/workouts", data=FORM | changes)
    assert answer.status_code == 422
    assert says in sentence_of(answer)
    with studio.look() as session:
        assert session.connection().exec_driver_sql("SELECT count(*) FROM workouts").scalar() == 0


@pytest.mark.parametrize("rounds", ["left 60", "alternating 61", "warm-up right 50", ROUNDS])
def test_after_pain_nothing_else_than_light_rounds_begins(client, studio, rounds):
    """Where a round hurt yesterday, only slow alternation goes to the stand; one sentence why."""
    import_rows(studio, [chart_row(date(2027, 2, 28), held=40, feel="pain")], now=NOW)
    answer = client.post("/workouts", data=FORM | {"rounds": rounds})
    assert answer.status_code == 422
    assert "a round hurt today or yesterday" in sentence_of(answer)
    client.follow_redirects = False
    light = client.post("/workouts", data=FORM | {"rounds": "warm-up 50\nalternating 60 60"})
    assert key_of(light)


def test_a_form_with_nothing_in_it_is_refused(client):
    """An empty form, and one with a file in place of a field, are refused."""
    assert client.post("/workouts", data={}).status_code == 422
    answer = client.post("/workouts", data=FORM, files={"technique": ("a.txt", b"x")})
    assert answer.status_code in {400, 422}


texts = st.one_of(
    st.sampled_from(["", "0", "-1", "1e400", "1e-320", "nan", "60", "120.5", "yes", "left"]),
    st.floats().map(str),
    st.text(max_size=12),
)
lines = st.lists(
    st.tuples(st.sampled_from(["left", "right", "test left", "warm-up", ""]), texts, texts).map(
        " ".join
    ),
    max_size=4,
).map("\n".join)
fields = st.sampled_from(sorted({*FORM, "warm", "accent", "full", "light"} - {"rounds", "player"}))


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(changes=st.dictionaries(fields, texts, max_size=3), rounds=lines)
def test_any_form_is_a_workout_or_refused(asked, changes, rounds):
    """Whatever is written into the fields, a workout can be played, or it is one sentence."""
    try:
        workout, _ = asked(rounds=rounds, **changes)
    except InputError as error:
        refusal = str(error)
    else:
        refusal = None
        assert 1 <= len(workout.rounds) <= 200
        assert all(each.counts >= 1 for each in workout.rounds)
    assert refusal is None or (refusal and "\n" not in refusal)
