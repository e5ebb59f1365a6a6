"""Checks of the reading and of the object printed of it."""

import dataclasses
import json
from importlib import resources
from pathlib import Path
from typing import get_args

import jsonschema
import numpy as np
import pytest

from loosehand.hear.heard import CountGrid, Quality, Strokes
from loosehand.judge.evenness import HeldStrokes, measure_evenness, measure_hands
from loosehand.judge.reading import ENDINGS, SCHEMA, Ending, Reading, StrokePlaces, to_json
from loosehand.judge.technique import HandsTechnique, hear_technique
from loosehand.judge.tiring import find_tiring
from loosehand.judge.variability import SplitRequest

SCHEMA_TEXT = (resources.files("loosehand.judge") / "reading.schema.json").read_text("utf-8")
VALIDATOR = jsonschema.Draft202012Validator(json.loads(SCHEMA_TEXT))
DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "reading-json.md"
PLACE_S = 60.0 / 104 / 4
QUALITY = Quality(
    duration_s=61.0,
    sample_rate_hz=48000,
    noise_floor_db=-62.04,
    stroke_level_db=-18.0,
    click_level_db=None,
    clipped_share=0.0,
    notes=("The click was not heard.",),
    assumed=("--per-count 4",),
    refusal=None,
)


def strokes_of(asynchrony_s, level_db, first_count_s=1.2345):
    """Strokes on sixteenths at 104."""
    time_s = first_count_s + np.arange(asynchrony_s.size) * PLACE_S + asynchrony_s
    return Strokes(time_s, level_db, np.ones(time_s.size), np.zeros((time_s.size, 3)))


def one_hand():
    """Reading of a left hand that held 40 counts, with one extra stroke."""
    rng = np.random.default_rng(1)
    asynchrony_s, level_db = rng.normal(0.0, 0.006, 160), rng.normal(-18.0, 1.0, 160)
    strokes = strokes_of(asynchrony_s, level_db)
    held = HeldStrokes(np.arange(160), strokes.time_s, asynchrony_s, level_db, 4, PLACE_S)
    place = np.arange(160)
    place[77] = -1
    return Reading(
        tempo_bpm=104.0,
        places_per_count=4,
        hand="left",
        grid=CountGrid(1.2345, 4 * PLACE_S, 104, 4, "click", 0.99),
        strokes=strokes,
        places=StrokePlaces(place, asynchrony_s, ("left",) * 160),
        count_held=40,
        last_locked_count=40,
        clean_counts=39,
        ended="lost the click",
        confidence=0.97123,
        evenness=measure_evenness(held, split_request=SplitRequest(4, 4, 0, 0.0002)),
        hands=None,
        technique=hear_technique(held),
        tiring=find_tiring(held),
        quality=QUALITY,
    )


def alternating():
    """Reading of two interlocked hands, one of them too short for a figure."""
    rng = np.random.default_rng(2)
    asynchrony_s, level_db = rng.normal(0.0, 0.004, 160), rng.normal(-18.0, 1.0, 160)
    whole = one_hand()
    left = HeldStrokes(np.arange(80), np.arange(80) * 0.2, asynchrony_s[::2], level_db[::2], 4, 0.2)
    right = HeldStrokes(np.arange(6), np.arange(6) * 0.2, np.zeros(6), np.zeros(6), 4, 0.2)
    return dataclasses.replace(
        whole,
        hand="alternating",
        places_per_count=8,
        places=StrokePlaces(np.arange(160), asynchrony_s, ("left", None) * 80),
        hands=measure_hands(left, right),
        technique=HandsTechnique(hear_technique(left), hear_technique(right)),
    )


def nobody():
    """Reading of a take in which nobody plays."""
    empty = np.zeros(0)
    return Reading(
        tempo_bpm=None,
        places_per_count=4,
        hand=None,
        grid=None,
        strokes=Strokes(empty, empty, empty, np.zeros((0, 3))),
        places=StrokePlaces(np.zeros(0, dtype=np.int64), empty, ()),
        count_held=0,
        last_locked_count=0,
        clean_counts=0,
        ended="stopped",
        confidence=None,
        evenness=None,
        hands=None,
        technique=None,
        tiring=None,
        quality=QUALITY,
    )


def not_judged():
    """Reading of a take that the ear refuses."""
    return dataclasses.replace(
        one_hand(),
        count_held=None,
        last_locked_count=None,
        clean_counts=None,
        ended="not judged",
        confidence=None,
        evenness=None,
        technique=None,
        tiring=None,
        quality=dataclasses.replace(QUALITY, refusal="The take is clipped throughout."),
    )


def hands_only():
    """Reading of an alternating take of which only the hands apart were measured."""
    return dataclasses.replace(alternating(), evenness=None)


@pytest.mark.parametrize("make", [one_hand, alternating, hands_only, nobody, not_judged])
def test_object_agrees_with_the_schema(make):
    """Each kind of reading prints as the schema says, in plain and finite JSON."""
    printed = json.dumps(make().to_json(), allow_nan=False)
    VALIDATOR.validate(json.loads(printed))


@pytest.mark.parametrize(
    ("fault", "valid"),
    [
        ({"place": 3, "kind": "late"}, True),
        ({"place": None, "kind": "taps swell", "unit": "dB", "cure": "Lower the stick."}, True),
        ({"place": None, "kind": "taps swell", "unit": "s"}, False),
        ({"place": None, "kind": "limp"}, False),
    ],
)
def test_main_faults_old_and_new_agree_with_the_schema(fault, valid):
    """A main fault of an older version has no unit and always a place; both kinds are valid."""
    printed = json.loads(json.dumps(one_hand().to_json()))
    size = {"effect": 8.1, "low": 6.4, "high": 9.8, "heard": True}
    printed["technique"]["main_fault"] = fault | size
    printed["technique"].pop("doubtful_fault")
    assert VALIDATOR.is_valid(printed) is valid


def test_schema_is_a_schema():
    """The schema is itself valid in its draft, and names the version printed."""
    jsonschema.Draft202012Validator.check_schema(json.loads(SCHEMA_TEXT))
    assert json.loads(SCHEMA_TEXT)["properties"]["schema"]["const"] == SCHEMA


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("ended",), "gave up"),
        (("count_held",), None),
        (("grid_source",), "guess"),
        (("confidence",), 1.2),
        (("strokes", 0, "place"), -1),
        (("strokes", 0, "count"), 0),
        (("evenness", "split", "model"), "closed loop"),
        (("evenness", "places", 0, "timing_ms"), "late"),
        (("evenness", "hands"), {}),
        (("tiring", "sign"), "pain"),
        (("quality", "notes"), None),
    ],
)
def test_schema_refuses_what_is_wrong(path, wrong):
    """The schema refuses a wrong word or number in any part of the object."""
    printed = one_hand().to_json()
    target = printed
    for step in path[:-1]:
        target = target[step]
    target[path[-1]] = wrong
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(printed)


def test_schema_misses_no_key():
    """The schema refuses an object with any key of the version left out."""
    for key in one_hand().to_json():
        printed = one_hand().to_json()
        del printed[key]
        with pytest.raises(jsonschema.ValidationError, match=key):
            VALIDATOR.validate(printed)


def test_keys_stand_in_the_stated_order():
    """The top of the object has the keys of version 1, in their order, and no others."""
    assert list(one_hand().to_json()) == [
        "schema", "tempo_bpm", "places_per_count", "hand", "first_count_s", "grid_source",
        "counts_offered", "count_held", "last_locked_count", "clean_counts", "ended",
        "confidence", "strokes", "evenness", "technique", "tiring", "quality",
    ]  # fmt: skip


def test_strokes_are_numbered_as_musicians_count():
    """Counts begin at 1 and places at 0, and an extra stroke has neither nor an asynchrony."""
    reading = one_hand()
    printed = reading.to_json()["strokes"]
    assert (printed[0]["count"], printed[0]["place"]) == (1, 0)
    assert (printed[5]["count"], printed[5]["place"]) == (2, 1)
    assert printed[77]["count"] is None
    assert printed[77]["place"] is None
    assert printed[77]["asynchrony_ms"] is None
    assert printed[5]["asynchrony_ms"] == pytest.approx(
        1e3 * reading.places.asynchrony_s[5], abs=5e-4
    )
    assert printed[5]["time_s"] == pytest.approx(reading.strokes.time_s[5], abs=5e-7)


def test_hands_are_named_where_they_can_be():
    """In an alternating reading each stroke names its hand or says null."""
    printed = alternating().to_json()
    assert [stroke["hand"] for stroke in printed["strokes"][:3]] == ["left", None, "left"]
    assert printed["evenness"]["hands"]["left"]["strokes"] == 80
    assert printed["evenness"]["hands"]["gap"] is None
    assert any(note.startswith("Right hand: ") for note in printed["quality"]["notes"])


def test_every_null_figure_has_its_sentence():
    """Notes of the ear, evenness, split and tiring all stand in quality, each once."""
    reading = one_hand()
    notes = reading.to_json()["quality"]["notes"]
    wanted = [*QUALITY.notes, *reading.evenness.notes, *reading.evenness.split.notes]
    assert notes == list(dict.fromkeys([*wanted, *reading.tiring.notes]))
    assert "clipped throughout" in " ".join(not_judged().to_json()["quality"]["notes"])


def test_numbers_that_are_not_finite_are_null():
    """A level of minus infinity or a figure that is not a number prints as null."""
    reading = one_hand()
    level_db = reading.strokes.level_db.copy()
    level_db[3] = -np.inf
    reading = dataclasses.replace(
        reading,
        strokes=dataclasses.replace(reading.strokes, level_db=level_db),
        evenness=dataclasses.replace(reading.evenness, interval_cv=float("nan")),
    )
    printed = to_json(reading)
    assert printed["strokes"][3]["level_db"] is None
    assert printed["evenness"]["interval_cv"] is None
    json.dumps(printed, allow_nan=False)


def test_endings_are_the_nine_words():
    """The list of endings is that of the type, and of the schema."""
    assert get_args(Ending) == ENDINGS
    assert tuple(json.loads(SCHEMA_TEXT)["properties"]["ended"]["enum"]) == ENDINGS
    assert len(ENDINGS) == 9


@pytest.mark.parametrize(
    "change",
    [{"ended": "gave up"}, {"count_held": None}, {"ended": "not judged"}],
)
def test_a_reading_that_contradicts_itself_cannot_be_made(change):
    """An unknown ending, or a count held of a take not judged, stops at once."""
    with pytest.raises(AssertionError):
        dataclasses.replace(one_hand(), **change)


def test_documentation_shows_the_schema():
    """The schema in the documentation is the one in the package."""
    block = DOCUMENT.read_text("utf-8").split("```json\n")[-1].split("```")[0]
    assert json.loads(block) == json.loads(SCHEMA_TEXT)


def test_documentation_shows_a_valid_object():
    """The example in the documentation is an object of this version."""
    block = DOCUMENT.read_text("utf-8").split("```json\n")[1].split("```")[0]
    VALIDATOR.validate(json.loads(block))


def test_documentation_names_every_key():
    """Every key that the schema describes is explained in the documentation's tables."""
    text = DOCUMENT.read_text("utf-8").split("## The schema")[0]
    schema = json.loads(SCHEMA_TEXT)
    parts = [schema, *schema["$defs"].values(), *schema["properties"].values()]
    keys = {key for part in parts for key in part.get("properties", {})}
    assert [key for key in sorted(keys) if f"`{key}`" not in text] == []
