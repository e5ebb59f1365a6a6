"""A take heard against a part: which accents came, in MIDI and in a recording by phone."""

from dataclasses import replace

import numpy as np
import pytest

from loosehand.batch.hear_file import hear_file
from loosehand.hear.heard import ListenRequest
from loosehand.judge.part_fault import ACCENT_FAULT_KINDS, accents_fault
from loosehand.judge.part_heard import hear_part, part_json
from loosehand.judge.part_to_hear import PartToHear, part_to_hear
from loosehand.parts.text import parse_part
from tests.judge.held_scenes import hand
from tests.judge.part_scenes import ACCENTS, HEAD, TEXT, write_accents, write_recording

PART = parse_part(TEXT)
MISSED = (6, 38, 44, 127)
UNASKED = (9, 146)


def a_take(path, accents, **how):
    """Write a MIDI take with accents at some places, and hear it."""
    write_accents(path, accents, **how)
    return hear_file(path, ListenRequest(100.0, 4, "right", None, None))


def accents_of_take(reading, asked):
    """Tell of a take's accents, as the JSON does."""
    body = reading.to_json()
    return part_json(hear_part(body, asked, count_held=body["count_held"]))


@pytest.fixture
def asked():
    """What is asked of the right hand."""
    return part_to_hear(PART, "right hand")


def test_all_accents_come(asked, tmp_path):
    """A take that plays the map hits every one."""
    told = accents_of_take(a_take(tmp_path / "take.mid", set(asked.accents)), asked)
    accents = told["accents"]
    assert (accents["due"], accents["hits"], accents["misses"]) == (30, 30, 0)
    assert accents["false_accents"] == 0
    assert accents["contrast_db"] > 3.0
    assert told["told"].startswith("Accents of the right hand: 30 of 30 came")


def test_missed_and_unasked_accents_are_named(asked, tmp_path):
    """Two that are left out in bar 3, and one too many in bar 4."""
    played = (set(asked.accents) - {32, 38}) | {50}
    told = accents_of_take(a_take(tmp_path / "take.mid", played), asked)
    accents = told["accents"]
    assert accents["missed_places"] == [32, 38]
    assert accents["missed_bars"] == [3, 3]
    assert accents["false_places"] == [50]
    assert "28 of 30 came, 1 came unasked" in told["told"]
    assert told["told"].endswith("above the rest. Missed in bar 3.")


@pytest.mark.parametrize(
    ("missed", "says"),
    [
        ((0, 6), "Missed in bar 1."),
        ((0, 16, 134), "Missed in bars 1, 2 and 9."),
        ((0, 16, 32, 48, 64, 80, 96), "Missed in 7 of 12 bars."),
        ((0, 16, 32, 48, 64, 80, 96, 102), "Missed in 7 of 12 bars, most in bar 7."),
    ],
)
def test_bars_with_missed_accents_are_named(asked, tmp_path, missed, says):
    """A few by their numbers, more by how many there are."""
    played = set(asked.accents) - set(missed)
    told = accents_of_take(a_take(tmp_path / "take.mid", played), asked)["told"]
    assert told.endswith(f" {says}")


def test_a_take_without_accents_misses_them_all(asked, tmp_path):
    """Nothing stands out, and a sentence says so."""
    told = accents_of_take(a_take(tmp_path / "take.mid", set()), asked)
    assert told["accents"]["hits"] == 0
    assert told["accents"]["contrast_db"] is None
    assert "No accents stand" in told["told"]


def test_a_take_that_goes_on_is_heard_to_the_end_of_the_part(asked, tmp_path):
    """Strokes after the part's end are no false accents."""
    accents = set(asked.accents) | set(range(200, 256, 4))
    told = accents_of_take(a_take(tmp_path / "take.mid", accents, places=256), asked)
    assert told["accents"]["false_accents"] == 0


def test_too_short_a_take_tells_nothing(asked, tmp_path):
    """Null, with a sentence."""
    reading = a_take(tmp_path / "take.mid", {0, 6}, places=32)
    short = replace(reading, count_held=2)
    told = accents_of_take(short, asked)
    assert told["accents"] is None
    assert "cannot be told yet" in told["told"]


def test_places_are_told_as_whole_numbers(asked, tmp_path):
    """What is told can be printed as JSON."""
    told = accents_of_take(a_take(tmp_path / "take.mid", {0}), asked)
    assert all(type(each) is int for each in told["accents"]["missed_places"])
    assert not any(isinstance(each, np.generic) for each in told["accents"].values())


def test_a_part_without_accents_is_heard_for_the_rest(tmp_path):
    """Nothing is compared, and the sentence says why; likewise where each stroke is accented."""
    reading = a_take(tmp_path / "take.mid", {0, 4}, places=64)
    for lines, says in (("xxxx xxxx xxxx xxxx", "no accents"), ("XXXX XXXX XXXX XXXX", "every")):
        asked = part_to_hear(parse_part(f"{HEAD}[a] x4\nRH hat {lines}\n"), "right hand")
        told = accents_of_take(reading, asked)
        assert told["accents"] is None
        assert says in told["told"]


def test_a_bar_of_seven_eighths_before_common_time_is_heard(tmp_path):
    """The click goes on through it, and accents of the bars after it are told in their bars."""
    lines = (
        "[a]\nmeter: 7/8 as 2+2+3\ngrid: 2\nRH hat Xxxx xxxx xxxxxX\n[b] x8\nmeter: 4/4\ngrid: 4\n"
    )
    part = parse_part(f"tempo: 100\n{lines}RH hat Xxxx xxXx xxxx xxxx\n")
    asked = part_to_hear(part, "right hand")
    assert (asked.bar_starts[:3], asked.places) == ((0, 14, 30), 140)
    played = set(asked.accents) - {14, 36}
    told = accents_of_take(a_take(tmp_path / "take.mid", played, places=140), asked)
    assert (told["accents"]["missed_places"], told["accents"]["missed_bars"]) == ([14, 36], [2, 3])
    assert told["accents"]["false_accents"] == 0


def test_a_number_of_a_person_ends_the_hold(asked, tmp_path):
    """Accents are compared up to the break that stands, not the one that was read."""
    body = a_take(tmp_path / "take.mid", set(asked.accents)).to_json()
    heard = hear_part(body, asked, count_held=24)
    assert heard.held_places == 96
    assert (heard.accents.due, heard.played.tolist()) == (15, list(range(96)))
    assert hear_part(body, asked, count_held=None).accents is None


def test_a_break_before_the_first_accent_is_said(tmp_path):
    """None due, none missed."""
    lines = "RH hat xxxx xxxx xxxx xxxx | xxxx xxxx xxxx xxxX\n"
    asked = part_to_hear(parse_part(f"{HEAD}[a] x2\n{lines}"), "right hand")
    body = a_take(tmp_path / "take.mid", set(asked.accents), places=64).to_json()
    heard = hear_part(body, asked, count_held=6)
    assert heard.accents.due == 0
    assert heard.told == "Accents of the right hand: none was due before the break."


@pytest.mark.parametrize(("counts", "says"), [(1, "1 count later"), (-3, "3 counts earlier")])
def test_another_start_is_asked_about(asked, tmp_path, counts, says):
    """Where the accents fit the part only from another count on, a sentence says from which."""
    moved = {place + 4 * counts for place in asked.accents}
    told = accents_of_take(a_take(tmp_path / "take.mid", moved), asked)["told"]
    assert f"if the part began {says} than was heard" in told


@pytest.mark.parametrize(("places", "says"), [(1, "1 place later"), (-2, "2 places earlier")])
def test_accents_beside_their_places_are_asked_about(asked, tmp_path, places, says):
    """Where they fit another place of the count: played there, or the click was heard elsewhere."""
    moved = {place + places for place in asked.accents} - {-2}
    body = a_take(tmp_path / "take.mid", moved).to_json()
    heard = hear_part(body, asked, count_held=48)
    assert (
        f" They would fit {says} than the part has them: they were played there, or" in heard.told
    )
    assert heard.main_fault is None


def test_a_start_that_fits_is_not_asked_about(asked, tmp_path):
    """Neither where accents came, nor where there are none at all."""
    for accents in (set(asked.accents), set()):
        told = accents_of_take(a_take(tmp_path / "take.mid", accents), asked)["told"]
        assert "would fit" not in told


def levels_heard(bars, level_db_of, *, seed, spread_db, held=None):
    """A hand against bars of sixteenths, its levels told by place; a normal spread on them."""
    asked = part_to_hear(parse_part(f"{HEAD}{bars}\n"), "right hand")
    rng = np.random.default_rng(seed)
    strokes = [
        {
            "count": place // 4 + 1,
            "place": place % 4,
            "time_s": 0.15 * place,
            "asynchrony_ms": float(rng.normal(0.0, 5.0)),
            "level_db": float(rng.normal(0.0, spread_db)) + level_db_of(place, asked),
        }
        for place in range(asked.places)
    ]
    body = {"places_per_count": 4, "tempo_bpm": 100.0, "strokes": strokes}
    return hear_part(body, asked, count_held=held or asked.counts)


SPARSE = "[a] x{}\nRH hat Xxxx xxxx xxxx xxxx"
UNEVENLY = "[a] x{}\nRH hat Xxxx xxxx xxxx xxxx | xxxx xXXx xxxx xxxx"
TRUE_MAP = "[a] x{}\nRH hat Xxxx xxXx xxxx Xxxx"


@pytest.mark.parametrize("lines", [SPARSE, UNEVENLY])
@pytest.mark.parametrize("spread_db", [1.0, 3.0])
@pytest.mark.parametrize(("repeats", "held"), [(2, None), (2, 5), (8, None)])
def test_an_even_hand_fits_no_other_start(lines, spread_db, repeats, held):
    """Ten hands without an accent, of each: among many starts the best one fits by chance."""
    for seed in range(10):
        heard = levels_heard(
            lines.format(repeats), lambda *_: 0.0, seed=seed, spread_db=spread_db, held=held
        )
        assert "would fit" not in heard.told


def test_an_even_hand_keeps_the_fault_of_its_accents():
    """None of 24 came: that is named, and no other start is asked about instead."""
    for seed in range(10):
        heard = levels_heard(UNEVENLY.format(8), lambda *_: 0.0, seed=seed, spread_db=1.0)
        assert heard.main_fault.kind == "accents missed"


@pytest.mark.parametrize("later", [2, 4, -1])
@pytest.mark.parametrize(("repeats", "spread_db"), [(2, 1.0), (4, 2.0), (8, 3.0)])
def test_a_true_shift_is_still_found(later, repeats, spread_db):
    """Accents 8 dB high, played beside their places or from another count on, over 5 hands."""

    def level_db_of(place, asked):
        return 8.0 * (place - later in asked.accents)

    says = {2: "2 places later", 4: "began 1 count later", -1: "1 place earlier"}[later]
    for seed in range(5):
        heard = levels_heard(TRUE_MAP.format(repeats), level_db_of, seed=seed, spread_db=spread_db)
        assert says in heard.told
        assert heard.main_fault is None


def test_a_start_with_one_accent_decides_nothing():
    """One of eight was due before the break: what fits elsewhere has nothing to be better than."""
    lines = "[a]\nRH hat Xxxx xxxx xxxx xxxx xxxx xxxx XXXX XXXx"
    lines = lines.replace(" xxxx xxxx XXXX XXXx", " | xxxx xxxx XXXX XXXx")
    for seed in range(5):
        heard = levels_heard(
            lines, lambda place, _: 8.0 * (place in (4, 5, 6)), seed=seed, spread_db=0.5, held=5
        )
        assert (heard.accents.due, heard.accents.hits) == (1, 0)
        assert "would fit" not in heard.told


@pytest.mark.parametrize(
    "lines", [SPARSE, "[a] x{}\nRH hat Xxxx Xxxx Xxxx Xxxx", "[a] x{}\nRH hat Xxxx Xxxx Xxxx xxxx"]
)
@pytest.mark.parametrize("height_db", [1.8, 2.3])
def test_accents_too_low_to_be_told_are_no_fault_of_a_place(lines, height_db):
    """The 1 is loud by what the part asks there, though no accent is told."""

    def level_db_of(place, asked):
        return height_db * (place in asked.accents)

    for seed in range(5):
        heard = levels_heard(lines.format(12), level_db_of, seed=seed, spread_db=0.8)
        assert heard.accents.contrast_db is None
        assert part_json(heard)["technique"]["faults"] == []


def test_a_soft_place_where_an_accent_is_asked_for_stays_a_fault():
    """Only what is louder there is the part's: a 1 that is softer than the rest is told."""

    def level_db_of(place, asked):
        return -2.0 * (place in asked.accents)

    heard = levels_heard("[a] x12\nRH hat Xxxx Xxxx Xxxx Xxxx", level_db_of, seed=1, spread_db=0.8)
    (fault,) = part_json(heard)["technique"]["faults"]
    assert (fault["kind"], fault["place"]) == ("soft", 0)


@pytest.mark.parametrize(
    ("height_db", "spread_db"), [(4.0, 2.5), (4.0, 3.5), (6.0, 2.5), (6.0, 3.5), (9.0, 3.5)]
)
def test_accents_as_asked_with_a_wide_spread_have_no_fault(height_db, spread_db):
    """The ear takes some of the overlap for the other kind in each of ten hands, and names none."""

    def level_db_of(place, asked):
        return height_db * (place in asked.accents)

    wrong = 0
    for seed in range(10):
        heard = levels_heard(
            "[a] x12\nRH hat Xxxx xxXx xxxx Xxxx", level_db_of, seed=seed, spread_db=spread_db
        )
        wrong += heard.accents.misses + heard.accents.false_accents
        assert heard.main_fault is None or heard.main_fault.kind not in ACCENT_FAULT_KINDS
    assert wrong > 10


def test_a_third_left_out_is_named_with_a_wide_spread_too():
    """Nine decibels over a spread of 2.5, in each of ten hands."""

    def level_db_of(place, asked):
        return 9.0 * (place in asked.accents and asked.accents.index(place) % 3 > 0)

    for seed in range(10):
        heard = levels_heard(
            "[a] x12\nRH hat Xxxx xxXx xxxx Xxxx", level_db_of, seed=seed, spread_db=2.5
        )
        assert heard.main_fault.kind == "accents missed"


def test_accents_before_the_first_stroke_and_after_the_last_are_missed(asked, tmp_path):
    """The first and the last accent of the part, silent, are due all the same."""
    body = a_take(tmp_path / "take.mid", set(asked.accents)).to_json()
    silent = [
        stroke
        for stroke in body["strokes"]
        if (stroke["count"] - 1) * 4 + stroke["place"] not in (0, 191)
    ]
    accents = hear_part(body | {"strokes": silent}, asked, count_held=48).accents
    assert (accents.due, accents.missed_places.tolist()) == (30, [0, 191])


def take_of(lines, level_db_of, *, seed=1, repeats=8):
    """A take of some lines, its levels made from instrument, ghost, dynamic and accent."""
    text = f"{HEAD}{lines}" if "[" in lines else f"{HEAD}[a] x{repeats}\n{lines}"
    asked = part_to_hear(parse_part(f"{text}\n"), "right hand")
    held = hand(seed, strokes=asked.places)
    of_place = [asked.classes[each] for each in asked.class_of_place]
    level_db = held.level_db + [level_db_of(each) for each in of_place]
    level_db[list(asked.accents)] += 7.0
    strokes = [
        {
            "count": place // 4 + 1,
            "place": place % 4,
            "time_s": float(held.time_s[place]),
            "asynchrony_ms": 1e3 * float(held.asynchrony_s[place]),
            "level_db": float(level_db[place]),
        }
        for place in range(asked.places)
    ]
    body = {"places_per_count": 4, "tempo_bpm": 100.0, "strokes": strokes}
    return asked, body, hear_part(body, asked, count_held=asked.counts)


SECTIONS = "".join(
    f"[{name}] x4 {dynamic}\nRH hat Xxxx xxxx xxXx xxxx\n"
    for name, dynamic in (("a", "p"), ("b", "f"), ("c", "p"), ("d", "f"))
)
OTHER_LEVELS = [
    ("RH snare Xggg xggg Xggg xggg", lambda each: -12.0 * each.ghost),
    (
        "RH hat Xxxx .xXx Xxxx .xxx\nRH snare .... x... .... x...",
        lambda each: 10.0 * (each.instrument == "snare"),
    ),
    (SECTIONS, lambda each: 12.0 * (each.dynamic == "f")),
]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("lines", "level_db_of"), OTHER_LEVELS)
def test_levels_that_the_part_asks_for_are_neither_unasked_nor_a_fault(lines, level_db_of, seed):
    """Ghost notes, a louder drum, a louder section: all accents come, and nothing is off."""
    asked, _, heard = take_of(lines, level_db_of, seed=seed)
    assert (heard.accents.hits, heard.accents.due) == (len(asked.accents),) * 2
    assert heard.accents.false_accents == 0
    assert heard.main_fault is None
    assert heard.technique.main_fault is None
    assert heard.cure is None


EMPTY = "... .... .... .... | .... .... .... .... | .... .... .... ...."


def test_a_crash_on_the_first_place_of_a_section_is_not_unasked():
    """Four strokes of a crash cannot be told of: with an accent neither due, nor else unasked."""
    bars = "RH hat .xxx xxXx xxxx Xxxx | Xxxx xxxx xxxx xxxx | Xxxx xxXx xxxx Xxxx\nRH crash "
    loud = [
        take_of(
            "".join(f"[{name}]\n{bars}{sign}{EMPTY}\n" for name in "abcd"),
            lambda each: 14.0 * (each.instrument == "crash"),
        )
        for sign in "xX"
    ]
    for (asked, _, heard), untold in zip(loud, (0, 4), strict=True):
        assert heard.accents.untold_places.size == untold
        assert heard.accents.due == heard.accents.hits == len(asked.accents) - untold
        assert heard.accents.false_accents == 0
        assert heard.main_fault is None
    told = loud[1][2].told
    assert told.endswith(
        " 4 more, on crash, cannot be told: fewer than 8 plain strokes alike were heard."
    )
    assert part_json(loud[1][2])["accents"]["untold"] == 4


def test_accents_on_a_drum_that_has_nothing_else_cannot_be_told():
    """A backbeat that is always accented: the accent or the drum, nobody can say."""
    lines = "RH hat xxxx .xxx xxxx .xxx\nRH snare .... X... .... X..."
    _, _, heard = take_of(lines, lambda each: 8.0 * (each.instrument == "snare"))
    assert heard.accents is None
    assert "cannot be told: each is asked for where the part has fewer than 8" in heard.told
    assert heard.main_fault is None


def test_what_was_stored_without_classes_is_heard_as_one():
    """As before: a louder drum counts as an accent there."""
    asked, body, _ = take_of(*OTHER_LEVELS[1])
    stored = asked.to_json() | {"classes": [], "class_of_place": [], "last_bar_places": 0}
    heard = hear_part(body, PartToHear.from_json(stored), count_held=asked.counts)
    assert heard.accents.false_accents == 16


def test_accents_missed_may_be_the_main_fault(asked, tmp_path):
    """A third left out is named with its one cure, and the technique names no other."""
    left_out = set(asked.accents[::3])
    body = a_take(tmp_path / "take.mid", set(asked.accents) - left_out).to_json()
    heard = hear_part(body, asked, count_held=48)
    assert (heard.main_fault.kind, heard.technique.main_fault) == ("accents missed", None)
    assert heard.cure == "Lower everything else; do not raise the accents."
    told = part_json(heard)
    assert (told["main_fault"]["kind"], told["main_fault"]["cure"]) == (
        "accents missed",
        heard.cure,
    )
    assert told["technique"]["main_fault"] is None


def test_a_few_missed_are_no_fault(asked, tmp_path):
    """Three of thirty are told, and no cure is."""
    body = a_take(tmp_path / "take.mid", set(asked.accents) - {6, 38, 70}).to_json()
    heard = hear_part(body, asked, count_held=48)
    assert heard.accents.misses == 3
    assert (heard.main_fault, heard.cure) == (None, None)


def test_another_start_is_no_fault_of_the_accents(asked, tmp_path):
    """Where the sentence asks about the start, no cure is told."""
    body = a_take(tmp_path / "take.mid", {place + 4 for place in asked.accents}).to_json()
    heard = hear_part(body, asked, count_held=48)
    assert "if the part began 1 count later" in heard.told
    assert heard.main_fault is None


def test_a_fault_of_the_technique_that_is_larger_stays_the_main_one():
    """A place that is 40 ms late stands above a few accents missed; only one is named."""
    asked, body, _ = take_of("RH hat Xxxx xxXx Xxxx xxXx", lambda _: 0.0, repeats=12)
    for stroke in body["strokes"]:
        stroke["asynchrony_ms"] += 40.0 * (stroke["place"] == 3)
        stroke["level_db"] -= 7.0 * (stroke["count"] % 4 == 1 and stroke["place"] == 0)
    heard = hear_part(body, asked, count_held=48)
    assert accents_fault(heard.accents, spread_db=1.0).kind == "accents missed"
    assert (heard.main_fault.kind, heard.main_fault.place) == ("late", 3)
    assert heard.technique.main_fault == heard.main_fault
    assert heard.cure is None


def test_a_take_that_was_not_judged_has_no_technique(asked, tmp_path):
    """Nor a main fault."""
    body = a_take(tmp_path / "take.mid", set(asked.accents)).to_json()
    told = part_json(hear_part(body, asked, count_held=None))
    assert (told["technique"], told["main_fault"]) == (None, None)


@pytest.mark.parametrize("tempo_bpm", [100.0, 80.0])
def test_a_phone_recording_tells_the_bars(asked, tmp_path, tempo_bpm):
    """In AAC, over a click and a room, at the part's tempo and slower: planted ones are found."""
    loud = (set(ACCENTS) - set(MISSED)) | set(UNASKED)
    write_recording(tmp_path / "take.m4a", loud, tempo_bpm=tempo_bpm, seed=1)
    request = ListenRequest(tempo_bpm, 4, "right", asked.counts, None)
    reading = hear_file(tmp_path / "take.m4a", request)
    assert (reading.count_held, reading.to_json()["counts_offered"]) == (48, 48)
    told = accents_of_take(reading, asked)
    accents = told["accents"]
    assert (told["main_fault"] or {}).get("kind") not in ("loud", *ACCENT_FAULT_KINDS)
    assert accents["missed_places"] == list(MISSED)
    assert accents["missed_bars"] == [1, 3, 3, 8]
    assert accents["false_places"] == list(UNASKED)
