"""Ways of playing as JSON: as the schema says, for any part."""

import json
from dataclasses import replace
from importlib import resources

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings

from loosehand.parts.demand import demand_of
from loosehand.parts.swing import swing_line
from loosehand.parts.techniques import TECHNIQUES
from loosehand.rounds.ways import ways_of_playing
from loosehand.studio.part_report import part_report_to_json
from tests.parts.random_parts import parts
from tests.rounds.tunes import ON_THE_COUNT, SIXTEENTHS, a_right_hand, a_tune, verses

SCHEMA_TEXT = (resources.files("loosehand.studio") / "part.schema.json").read_text("utf-8")
VALIDATOR = jsonschema.Draft202012Validator(json.loads(SCHEMA_TEXT))
REACHES = {"whip fours": a_right_hand(98.0), "push-pull": a_right_hand(97.0, 600.0)}


def report(part, reaches=REACHES, player="Ines"):
    """The report of a part, as it comes back from its text."""
    demand = demand_of(part)
    ways = ways_of_playing(part, demand, reaches, other=reaches)
    return json.loads(
        json.dumps(part_report_to_json(part, demand, ways, player=player), allow_nan=False)
    )


@pytest.mark.parametrize(
    "part",
    [
        verses(60),
        verses(1),
        a_tune(("slow", " x4 tempo 40", SIXTEENTHS)),
        a_tune(("fast", " x4 tempo 240", SIXTEENTHS)),
        a_tune(("feet", "", "RF kick x... x... x... x...\n")),
        a_tune(("stop", "", "rest 4\n")),
        a_tune(("one", "", "RH crash X... .... .... ....\n")),
    ],
    ids=["long", "short", "slow", "fast", "feet", "nothing", "one stroke"],
)
def test_the_report_is_as_its_schema_says(part):
    """For long, slow, fast and empty parts, with and without a player; no figure is infinite."""
    VALIDATOR.validate(report(part))
    VALIDATOR.validate(report(part, {}, None))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(parts)
def test_any_part_has_a_report(part):
    """Whatever four limbs can play, in at most four hours, is told of as the schema says."""
    VALIDATOR.validate(report(part))


def test_the_schema_knows_every_field():
    """Nothing is printed that the schema does not name."""

    def strict(schema):
        if isinstance(schema, dict):
            inner = {key: strict(value) for key, value in schema.items()}
            return {**inner, "additionalProperties": False} if "properties" in schema else inner
        return [strict(each) for each in schema] if isinstance(schema, list) else schema

    found = report(replace(verses(60), swing_percent=71))
    assert found["mixed"]
    assert found["demand"]["swing"]
    jsonschema.Draft202012Validator(strict(json.loads(SCHEMA_TEXT))).validate(found)


def test_the_figures_are_those_of_the_ways():
    """Chance, end and sections come through as they were found."""
    part = verses(40, ON_THE_COUNT)
    ways = ways_of_playing(part, demand_of(part), REACHES)
    found = report(part)
    assert [each["technique"] for each in found["ways"]] == [each.technique for each in ways.ways]
    for told, way in zip(found["ways"], ways.ways, strict=True):
        assert told["chance"] == pytest.approx(way.lasting.chance, abs=1e-4)
        assert told["likely_end"]["bar"] == way.lasting.likely_end.bar
        assert told["sections"][0]["left"]["median"] == pytest.approx(
            way.lasting.sections[0].left.median, abs=1e-4
        )
    assert {each["technique"] for each in found["ways"]} == set(TECHNIQUES)
    assert found["demand"]["accents"] == 160


def test_swing_is_told_section_by_section():
    """Ratio and both notes, and what drummers kept where the short one is clearly short."""
    swung = a_tune(("slow", " tempo 60", SIXTEENTHS), ("fast", " tempo 126", SIXTEENTHS))
    swung = replace(swung, swing_percent=71)
    demand = report(swung)["demand"]
    slow, fast = demand["swing"]
    assert (slow["section"], slow["is_clearly_short"], slow["kept_swing_percent"]) == (
        "slow",
        False,
        None,
    )
    assert fast["short_ms"] == pytest.approx(69.0, abs=0.05)
    assert (fast["ratio"], fast["kept_swing_percent"]) == (2.4483, 58)
    assert demand["swing_line"] == swing_line(demand_of(swung).swing)
    straight = report(verses(1))["demand"]
    assert (straight["swing"], straight["swing_line"]) == ([], None)


TURN = """\
RH hat      Xxxx XxXx xxxx x.xx
RH high tom .... .... .... ....
LH snare    .... x... .... x..g
RF kick     x... ..x. ..x. ....
"""


def test_each_section_is_told():
    """The longest run, every rest and every re-entry, by bar, count and place from 1."""
    part = a_tune(("verse", " x2 p", TURN), ("stop", "", "rest 1\n"), ("end", " f", TURN))
    first, second, third = report(part)["demand"]["sections"]
    assert (first["name"], first["strokes"]) == ("verse", 30)
    assert first["longest_run"] == {
        "bar": 1, "count": 4, "place": 3, "strokes": 15, "duration_s": 2.019,
    }  # fmt: skip
    assert first["rests"] == [
        {"bar": 1, "count": 4, "place": 1, "gap_s": 0.288, "times": 2},
        {"bar": 1, "count": 4, "place": 4, "gap_s": 2.452, "times": 1},
    ]
    assert (second["longest_run"], second["rests"], second["re_entries"]) == (None, [], [])
    assert third["re_entries"] == [
        {"bar": 1, "count": 1, "place": 1, "surface": "hat", "after": "rest", "strokes": 13,
         "times": 1},
    ]  # fmt: skip


def test_levels_are_told():
    """Of each limb, of the hand, of the kit: steps, and decibels as they are assumed."""
    demand = report(a_tune(("verse", " p", TURN)))["demand"]
    assert demand["level_of_hand"] == {"lowest": 1, "highest": 3, "range_db": 8.0}
    assert demand["level_of_kit"] == {"lowest": -1, "highest": 3, "range_db": 16.0}
    assert [each["level"]["range_db"] for each in demand["limbs"]] == [8.0, 8.0, 0.0]


def test_each_stroke_of_the_drive_is_told():
    """Of fours two accents come on the drive, the third on the second tap, where a kick is too."""
    found = report(a_tune(("verse", "", TURN)))
    fours = next(each for each in found["ways"] if each["technique"] == "whip fours")
    assert (fours["cycle_starts_with"], fours["cycle_first_stroke"]) == ("bar", 1)
    assert (fours["accents_given"], fours["accents_fought"], fours["held_back"]) == (2, 1, 2)
    down, _, tap, up = fours["cycle"]
    assert (down["stroke"], down["kind"], down["accents_given"], down["held_back"]) == (
        1, "down", 2, 2,
    )  # fmt: skip
    assert (tap["kind"], tap["accents_fought"], tap["is_weak"], tap["on_kick"]) == (
        "tap", 1, True, 2,
    )  # fmt: skip
    assert tap["accents_at"] == [{"bar": 1, "count": 2, "place": 3, "times": 1}]
    assert (up["accents_given"], up["accents_fought"], fours["weak_on_kick"]) == (0, 0, 2)
    for way in found["ways"]:
        for name in ("accents_given", "accents_fought", "held_back"):
            assert sum(each[name] for each in way["cycle"]) == way[name]
