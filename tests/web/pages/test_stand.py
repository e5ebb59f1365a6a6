"""Checks of the form that begins a workout, and of the page in front of the drummer."""

import re
from html import unescape

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.datastructures import FormData

from loosehand.errors import InputError
from loosehand.rounds.workout import workout_from_json
from loosehand.studio.care import CARE
from loosehand.studio.chart import player_names
from loosehand.studio.workouts import begin_workout, load_workout
from loosehand.web.pages.stand import workout_of_form
from tests.web.conftest import NOW
from tests.web.pages.page_forms import forms_of

FORM = {
    "player": "Nerys",
    "lowest_bpm": "80",
    "highest_bpm": "90",
    "step_bpm": "5",
    "hands": "both",
    "weak": "left",
    "alternate": "yes",
    "round_s": "60",
    "rest_s": "45",
    "minutes": "",
    "technique": "",
    "surface": "pad",
    "loudness": "",
    "grip": "",
    "timbre": "low wood",
    "level_db": "-3",
    "count_in_counts": "4",
    "counts_per_bar": "4",
}


def workout_of(**changes):
    """The workout of a form."""
    fields = {name: value for name, value in (FORM | changes).items() if value is not None}
    return workout_of_form(FormData(fields))


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
    """What the page Today offers, sent as it stands, leads to the stand of that workout."""
    form = forms_of(bare.get("/").text)["/workouts"]
    key = key_of(bare.post("/workouts", data=form))
    workout = load_workout(studio, key).workout
    assert workout.player == "Nerys"
    assert played(workout)[:4] == [
        ("warm-up", "alternating", 60.0),
        ("round", "left", 80.0),
        ("round", "right", 80.0),
        ("round", "alternating", 80.0),
    ]
    assert len(workout.rounds) == 1 + 4 * 3
    assert (workout.setting.round_s, workout.setting.rest_s) == (60.0, 45.0)
    assert (workout.setting.technique, workout.setting.surface) == ("whip fours", "pad")
    assert bare.get(f"/stand/{key}").status_code == 200


def test_the_stand_shows_what_is_played(bare, studio):
    """The page names the player, every round, how long it takes, and how to take care."""
    key = begin_workout(studio, workout_of(minutes="12"), now=NOW)
    html = bare.get(f"/stand/{key}").text
    assert "<h2>Nerys</h2>" in html
    rounds = re.findall(r"<li>([^<]+)</li>", html)[:7]
    assert rounds == [
        "Warm up 60",
        *("Left 80", "Right 80", "Alternating 80"),
        *("Left 85", "Right 85", "Alternating 85"),
    ]
    assert "7 rounds, about 12 minutes if all are played out." in html
    assert CARE in unescape(html)
    assert f'data-live="/stand/{key}/live"' in html


def test_the_stand_works_with_keys_and_without_sight(bare, studio):
    """Every act of the stand has a button that says what it does, and there is a live region."""
    html = bare.get(f"/stand/{begin_workout(studio, workout_of(), now=NOW)}").text
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


def test_a_new_name_is_added_with_its_workout(bare, studio):
    """Who begins a workout is a player from then on."""
    key = key_of(bare.post("/workouts", data=FORM | {"player": " Otto "}))
    assert load_workout(studio, key).workout.player == "Otto"
    with studio.look() as session:
        assert "Otto" in player_names(session)


def test_a_warm_up_comes_first():
    """Unless the person is warm already, a workout begins with a warm-up, slow and with both."""
    assert played(workout_of())[0] == ("warm-up", "alternating", 60.0)
    assert played(workout_of(lowest_bpm="40", highest_bpm="40"))[0] == (
        *("warm-up", "alternating", 40.0),
    )
    warm = workout_of(warm="already")
    assert played(warm)[0] == ("round", "left", 80.0)
    assert warm.warm_already
    assert workout_from_json(warm.to_json()) == warm


@pytest.mark.parametrize(
    ("changes", "hands"),
    [
        ({}, ["left", "right", "alternating"]),
        ({"weak": "right"}, ["right", "left", "alternating"]),
        ({"alternate": None}, ["left", "right"]),
        ({"hands": "left"}, ["left"]),
        ({"hands": "right", "alternate": None}, ["right"]),
    ],
)
def test_which_hands_play(changes, hands):
    """At each tempo play the hands that were asked for, the weak one first."""
    rounds = played(workout_of(warm="already", **changes))
    assert rounds == [("round", hand, tempo) for tempo in (80.0, 85.0, 90.0) for hand in hands]


@pytest.mark.parametrize(
    ("low", "high", "step", "tempos"),
    [
        ("80", "80", "5", [80]),
        ("80", "84", "5", [80]),
        ("80", "81", "0.25", [80, 80.25, 80.5, 80.75, 81]),
        (" 60 ", "60.3", "0.1", [60, 60.1, 60.2, 60.3]),
    ],
)
def test_the_tempos_of_a_ladder(low, high, step, tempos):
    """From the first tempo by steps, the last one included where a step meets it."""
    workout = workout_of(
        lowest_bpm=low, highest_bpm=high, step_bpm=step, hands="left", warm="already"
    )
    assert [each.tempo_bpm for each in workout.rounds] == pytest.approx(tempos)


def test_a_workout_is_cut_to_its_time():
    """With few minutes rounds are left out from the end; the warm-up stays."""
    whole, short = workout_of(), workout_of(minutes="6")
    assert short.rounds == whole.rounds[: len(short.rounds)]
    assert short.rounds[0].kind == "warm-up"
    assert short.length_s <= 360.0 < whole.length_s


def test_what_is_ticked_is_done():
    """Ticks and words of the form are those of the rounds."""
    setting = workout_of(
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
    ).setting
    assert (setting.accent, setting.silent_bars, setting.play_out) == (True, True, True)
    assert (setting.timbre, setting.loudness, setting.grip) == ("tick", "soft", "as it comes")
    assert (setting.technique, setting.surface) == ("push-pull", "pad")
    assert (setting.count_in_counts, setting.counts_per_bar, setting.level_db) == (2, 3, -12.5)
    bare = workout_of().setting
    assert (bare.accent, bare.silent_bars, bare.play_out) == (False, False, False)
    assert (bare.technique, bare.loudness, bare.grip) == (None, None, None)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"lowest_bpm": "fast"}, "lowest_bpm = 'fast' is not a number"),
        ({"lowest_bpm": ""}, "lowest_bpm = '' is not a number"),
        ({"highest_bpm": "nan"}, "highest_bpm = 'nan' cannot be"),
        ({"highest_bpm": "inf"}, "highest_bpm = 'inf' cannot be"),
        ({"highest_bpm": "70"}, "tempos from 80 to 70 by 5 are no ladder"),
        ({"step_bpm": "0"}, "tempos from 80 to 90 by 0 are no ladder"),
        ({"step_bpm": "-5"}, "tempos from 80 to 90 by -5 are no ladder"),
        ({"step_bpm": "1e-9"}, "tempos from 80 to 90 by 1e-09 are more than 100"),
        ({"step_bpm": "1e-320"}, "are more than 100: want a larger step"),
        ({"step_bpm": "0.1"}, "are more than 100: want a larger step"),
        ({"lowest_bpm": "10"}, "tempo_bpm = 10 is not a tempo"),
        ({"highest_bpm": "500", "step_bpm": "60"}, "tempo_bpm = 440 is not a tempo"),
        ({"highest_bpm": "500"}, "the workout has 256 rounds; want 1 to 200"),
        ({"round_s": "1"}, "round_s = 1 cannot be"),
        ({"rest_s": "-1"}, "rest_s = -1 cannot be"),
        ({"minutes": "0.5"}, "minutes = 0.5 is too short for one round"),
        ({"minutes": "soon"}, "minutes = 'soon' is not a number"),
        ({"level_db": "3"}, "level_db = 3 cannot be"),
        ({"count_in_counts": "0"}, "count_in_counts = 0"),
        ({"counts_per_bar": "99"}, "counts_per_bar = 99"),
        ({"counts_per_bar": "3.5"}, "counts_per_bar = '3.5' is not a whole number"),
        ({"timbre": "gong"}, "timbre = 'gong' is not known"),
        ({"hands": "feet"}, "hands = 'feet' is not known"),
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
fields = st.sampled_from(sorted([*FORM, "warm", "accent"]))


@settings(max_examples=150, deadline=None)
@given(changes=st.dictionaries(fields, texts, max_size=4))
def test_any_form_is_a_workout_or_refused(changes):
    """Whatever is written into the fields, a workout can be played, or it is one sentence."""
    try:
        workout = workout_of(**changes)
    except InputError as error:
        refusal = str(error)
    else:
        refusal = None
        assert 1 <= len(workout.rounds) <= 200
        assert all(each.counts >= 1 for each in workout.rounds)
    assert refusal is None or (refusal and "\n" not in refusal)
