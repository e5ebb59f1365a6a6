"""The reach as JSON agrees with its schema and with what the model says."""

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from importlib import resources

import jsonschema
import numpy as np
import pytest

from loosehand.errors import InputError
from loosehand.reach.fit import expect_of_nobody, fit_hand
from loosehand.reach.report import SCHEMA, Asked, HandReach, improved_of, report_to_json
from loosehand.reach.seen import HandKind, RoundSeen
from tests.project_files import ROOT

SCHEMA_TEXT = (resources.files("loosehand.reach") / "reach.schema.json").read_text("utf-8")
VALIDATOR = jsonschema.Draft202012Validator(json.loads(SCHEMA_TEXT))
DAY = date(2027, 3, 1)
KIND = HandKind("left", "whip fours", "pad", None, 4)
ASKED = Asked(90.0, 240.0, DAY + timedelta(days=200))


def rounds(days, *, held=None):
    """Return ladders of a hand that holds about 100 for a minute, or rounds all as told."""
    rng = np.random.default_rng(20270301)
    found = []
    for back in range(days - 1, -1, -1):
        for order, tempo_bpm in enumerate((90, 95, 100, 105, 110), start=1):
            hold_s = 60.0 * np.exp(rng.normal(0.0, 0.2) + (100 - tempo_bpm) / 4.0)
            counts = int(min(hold_s, 60.0) * tempo_bpm / 60.0)
            count = {None: counts, True: tempo_bpm, False: 0}[held]
            found.append(
                RoundSeen(
                    DAY - timedelta(days=back),
                    order,
                    KIND,
                    float(tempo_bpm),
                    60.0,
                    count,
                    count >= tempo_bpm,
                    None,
                )
            )
    return found


@pytest.fixture(scope="module")
def reach():
    """Fit four weeks of ladders."""
    return fit_hand(rounds(28), kind=KIND, as_of=DAY)


def printed(found, *, asked=None, notes=()):
    """Return the object as read back from its text, which must be plain and finite."""
    body = report_to_json([HandReach("Ines", found)], as_of=DAY, asked=asked, notes=notes)
    body = json.loads(json.dumps(body, allow_nan=False))
    VALIDATOR.validate(body)
    return body


def test_the_object_says_what_the_model_says(reach):
    """Each figure is the model's own, rounded."""
    body = printed(reach, notes=["Otto has no count."])
    (hand,) = body["hands"]
    assert (body["schema"], body["as_of"], body["notes"]) == (
        "loosehand.reach/1",
        "2027-03-01",
        ["Otto has no count."],
    )
    assert [hand[name] for name in ("player", "hand", "technique", "surface", "loudness")] == [
        "Ines",
        "left",
        "whip fours",
        "pad",
        None,
    ]
    assert (hand["rounds"], hand["places_per_count"], hand["law"]) == (140, 4, reach.law)
    held = reach.tempo_held_bpm(240.0)
    assert hand["tempo_held_bpm"]["240"]["median"] == pytest.approx(held.median, abs=0.006)
    assert hand["tempo_held_bpm"]["60"]["median"] == pytest.approx(100.0, abs=1.5)
    assert hand["trend_bpm_per_month"]["high80"] == pytest.approx(
        reach.trend_bpm_per_month().high80, abs=0.006
    )
    since = DAY - timedelta(days=27)
    assert hand["improved"]["since"] == since.isoformat()
    assert hand["improved"]["probability"] == pytest.approx(
        reach.probability_improved(since), abs=1e-4
    )
    assert hand["beyond_seen"] == ["240"]
    assert sum(each["weight"] for each in hand["laws"]) == pytest.approx(1.0, abs=1e-3)
    assert [each["day"] for each in hand["days"]] == [each.day.isoformat() for each in reach.days]
    assert [each["recovery_s"] for each in hand["recovery"]] == [15.0, 30.0, 60.0]
    assert [each["four_minutes_bpm"] for each in hand["recovery"]] == pytest.approx(
        [each.four_minutes_bpm for each in reach.recovery], abs=0.006
    )
    assert hand["recovery_is_told"] is reach.recovery_is_told
    assert "chance" not in hand
    assert "target" not in hand


def test_what_is_asked_is_answered(reach):
    """A tempo, a time and a day give a chance of holding and one of getting there."""
    (hand,) = printed(reach, asked=ASKED)["hands"]
    assert hand["chance"]["probability"] == pytest.approx(
        reach.chance_of_holding(tempo_bpm=90.0, time_s=240.0), abs=1e-4
    )
    assert hand["chance"]["beyond_seen"]
    reaching = reach.date_of_reaching(tempo_bpm=90.0, time_s=240.0, last=ASKED.by)
    assert hand["target"]["probability"] == pytest.approx(reaching.chance, abs=1e-4)
    assert hand["target"]["by"] == ASKED.by.isoformat()
    (hand,) = printed(reach, asked=Asked(90.0, 60.0, None))["hands"]
    assert not hand["chance"]["beyond_seen"]
    assert "target" not in hand


@pytest.mark.parametrize("held", [None, True, False])
def test_a_single_day_is_answered(held):
    """One day gives an answer, and says that it cannot tell whether the hand got better."""
    (hand,) = printed(fit_hand(rounds(1, held=held), kind=KIND, as_of=DAY), asked=ASKED)["hands"]
    assert hand["improved"] == {"since": "2027-03-01", "probability": 0.5}
    assert any("of one day" in note for note in hand["notes"])


@pytest.mark.parametrize("held", [True, False])
def test_rounds_all_alike_are_answered(held):
    """Where all was held, or nothing was, the answer says what cannot be told."""
    (hand,) = printed(fit_hand(rounds(12, held=held), kind=KIND, as_of=DAY))["hands"]
    assert any("is a guess" in note for note in hand["notes"])
    assert ("60" in hand["beyond_seen"]) is not held


def test_a_hand_of_long_ago_is_told_of_its_own_time():
    """Last played years ago: a note says of which day is told, and no target is named after it."""
    long_ago = [replace(each, day=each.day - timedelta(days=1000)) for each in rounds(12)]
    reach = fit_hand(long_ago, kind=KIND, as_of=DAY)
    (hand,) = printed(reach, asked=ASKED)["hands"]
    assert any(note.startswith("Nothing was played since") for note in hand["notes"])
    assert any(note.startswith(f"Of {ASKED.by} nothing can be told") for note in hand["notes"])
    assert "target" not in hand
    assert hand["chance"]["probability"] > 0.0


def test_a_hand_of_another_day_says_so(reach):
    """Where the others are told of a later day, a note names the day of this one; else none."""
    body = report_to_json(
        [HandReach("Ines", reach)], as_of=DAY + timedelta(days=90), asked=None, notes=[]
    )
    assert any("it is told of 2027-03-01." in note for note in body["hands"][0]["notes"])
    assert not any("told of" in note for note in printed(reach)["hands"][0]["notes"])


def test_no_tempo_lies_under_nought(reach):
    """However wide the draws, a tempo is never told as less than none."""
    draws = replace(reach.draws, level_bpm=reach.draws.level_bpm - 100.0)
    (hand,) = printed(replace(reach, draws=draws))["hands"]
    assert hand["tempo_held_bpm"]["60"]["low80"] == 0.0


def test_a_law_without_a_sustainable_tempo_is_told(reach):
    """Null stands where no sustainable tempo can be named, and the notes say why."""
    draws = reach.draws.__class__(
        **{**reach.draws.__dict__, "law": np.full_like(reach.draws.law, 2)}
    )
    (hand,) = printed(reach.__class__(**{**reach.__dict__, "draws": draws}))["hands"]
    assert hand["sustainable_tempo_bpm"] is None
    assert any("sustainable" in note for note in hand["notes"])


def test_nothing_heard_is_no_hand_of_a_chart():
    """A hand of which nothing was heard has no first day to compare with."""
    with pytest.raises(InputError, match="first_day"):
        improved_of(expect_of_nobody(KIND, as_of=DAY))


def test_schema_is_a_schema():
    """The schema is itself valid in its draft, and names the version printed."""
    jsonschema.Draft202012Validator.check_schema(json.loads(SCHEMA_TEXT))
    assert json.loads(SCHEMA_TEXT)["properties"]["schema"]["const"] == SCHEMA


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("schema",), "loosehand.reach/2"),
        (("as_of",), "1 March 2027"),
        (("hands", 0, "hand"), "both"),
        (("hands", 0, "rounds"), 0),
        (("hands", 0, "law"), "guess"),
        (("hands", 0, "tempo_held_bpm"), {"60": {"median": 1, "low80": 0, "high80": 2}}),
        (("hands", 0, "tempo_held_bpm", "60", "median"), "fast"),
        (("hands", 0, "improved", "probability"), 1.2),
        (("hands", 0, "beyond_seen"), ["240", "240"]),
        (("hands", 0, "notes"), None),
    ],
)
def test_schema_refuses_what_is_wrong(reach, path, wrong):
    """The schema refuses a wrong word or number in any part of the object."""
    body = printed(reach)
    target = body
    for step in path[:-1]:
        target = target[step]
    target[path[-1]] = wrong
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(body)


def test_the_document_holds_the_schema_and_every_key(reach):
    """The page of the JSON ends in the schema, its example is valid, and it names each key."""
    page = (ROOT / "docs" / "reach-json.md").read_text(encoding="utf-8")
    blocks = [json.loads(block) for block in re.findall(r"```json\n(.*?)```", page, re.DOTALL)]
    assert blocks[-1] == json.loads(SCHEMA_TEXT)
    VALIDATOR.validate(blocks[0])
    (hand,) = printed(reach, asked=ASKED)["hands"]
    prose = page[: page.index("## The schema")]
    assert [key for key in hand if f"`{key}`" not in prose] == []
