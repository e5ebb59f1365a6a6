"""Checks of the main fault of a technique: one, heard, beyond chance, and named once."""

from dataclasses import replace

import pytest

from loosehand.judge.drive_length import DriveLength
from loosehand.judge.drive_shape import NO_SHAPE, PushPull
from loosehand.judge.main_fault import (
    MAIN_FAULT_KINDS,
    Findings,
    doubtful_fault,
    main_fault,
)
from loosehand.judge.place_faults import PlaceFault
from loosehand.judge.technique import hear_technique
from loosehand.judge.variability import Figure
from loosehand.parts.techniques import CURES
from tests.judge.held_scenes import hand, shifted

EVEN = PushPull(0.0, 0.1, 0.0, 0.5, level_uneven=False, timing_uneven=False)


def figure(told, error):
    """A figure with a standard error."""
    return Figure(told, told - 1.2816 * error, told + 1.2816 * error)


def drive(strokes=1, phase=0):
    """A drive that is told, at four places a count."""
    chances = tuple(float(period == strokes) for period in (1, 2, 3, 4))
    own = None if strokes == 1 else phase
    return DriveLength(strokes, own, 0.99, chances, ((strokes, phase),), strokes in (2, 4))


def fault(place, kind, effect, error=0.5):
    """A place that is off."""
    return PlaceFault(
        place, kind, effect, effect - 1.2816 * error, effect + 1.2816 * error, heard=True
    )


def found(*faults, strokes=1, held_minutes=1.0, places_per_count=4, push_pull=EVEN, **shape):
    """Findings of a hand with places of 150 ms; what is not told is even."""
    return Findings(
        faults=faults,
        shape=replace(NO_SHAPE, **shape),
        push_pull=push_pull,
        drive=drive(strokes),
        places_per_count=places_per_count,
        place_ms=150.0,
        held_minutes=held_minutes,
    )


def pair(level_db=0.0, timing_ms=0.0, level_error_db=0.2, timing_error_ms=0.5):
    """Push against pull."""
    return PushPull(
        level_db, level_error_db, timing_ms, timing_error_ms, level_uneven=True, timing_uneven=True
    )


def named(findings):
    """Kind and place of the main fault, None where there is none."""
    main = main_fault(findings)
    return None if main is None else (main.kind, main.place)


def trending(held, drive_strokes, *, swell_db=0.0, gap_ms=0.0):
    """Change the taps of a hand over its take: their level, and the gap within the drive."""
    within = held.place_index % drive_strokes
    share = held.place_index / held.place_index[-1]
    late_s = held.asynchrony_s + 1e-3 * gap_ms * share * within
    return replace(
        held,
        level_db=held.level_db + swell_db * share * (within > 0),
        asynchrony_s=late_s,
        time_s=held.place_index * held.place_s + late_s,
    )


def test_nothing_off_is_no_fault():
    """Where all is even no fault is named and none is doubtful."""
    assert main_fault(found()) is None
    assert doubtful_fault(found()) is None


def test_the_one_furthest_above_what_is_heard_is_named():
    """9 ms are 1.5 times what is heard, 3 dB twice, and 10 ms less than that again."""
    assert named(found(fault(1, "late", 9.0), fault(2, "soft", 3.0))) == ("soft", 2)
    assert named(found(fault(1, "late", 13.0), fault(2, "soft", 3.0))) == ("late", 1)
    main = main_fault(found(fault(1, "early", 9.0, error=1.0)))
    assert (main.effect, main.unit) == (9.0, "ms")
    assert (main.low, main.high) == pytest.approx((9.0 - 1.2816, 9.0 + 1.2816))


def test_what_cannot_be_heard_is_not_named():
    """5.9 ms and 1.4 dB are below what is heard however sure they are."""
    faults = (fault(1, "late", 5.9, error=0.1), fault(2, "soft", 1.4, error=0.1))
    assert main_fault(found(*faults)) is None
    assert doubtful_fault(found(*faults)) is None


def test_what_chance_may_make_is_doubtful():
    """A swell of 3 dB with an error of 0.9 is named, of 1.1 is doubtful, of 1.6 is neither."""
    findings = [
        found(strokes=4, tap_trend_db_per_minute=figure(3.0, error)) for error in (0.9, 1.1, 1.6)
    ]
    assert [named(one) for one in findings] == [("taps swell", None), None, None]
    doubts = [doubtful_fault(one) for one in findings]
    assert [one and one.kind for one in doubts] == [None, "taps swell", None]


@pytest.mark.parametrize(
    ("key", "slope", "kind", "effect", "unit"),
    [
        ("tap_trend_db_per_minute", 4.0, "taps swell", 2.0, "dB"),
        ("tap_trend_db_per_minute", -4.0, "taps fade", 2.0, "dB"),
        ("tap_gap_trend_ms_per_minute", -8.0, "taps crushed", 12.0, "ms"),
        ("tap_gap_trend_ms_per_minute", 8.0, "taps spread", 12.0, "ms"),
    ],
)
def test_a_trend_counts_as_the_change_over_the_take(key, slope, kind, effect, unit):
    """Half a minute halves the slope; of a gap in fours the last stroke moves three times it."""
    main = main_fault(found(strokes=4, held_minutes=0.5, **{key: figure(slope, 0.5)}))
    assert (main.kind, main.effect, main.unit) == (kind, pytest.approx(effect), unit)
    short = found(strokes=4, held_minutes=0.1, **{key: figure(slope, 0.5)})
    assert main_fault(short) is None


def test_taps_fade_as_taps_do():
    """A decay of 2.7 dB a tap is common enough in fours, one of 3 dB is too steep by 2 dB."""
    assert main_fault(found(strokes=4, decay_db=figure(2.7, 0.1))) is None
    main = main_fault(found(strokes=4, decay_db=figure(3.0, 0.1)))
    assert (main.kind, main.effect) == ("decay too steep", pytest.approx(2.0))
    assert main_fault(found(strokes=3, decay_db=figure(3.0, 0.1))) is None


def test_accents_must_stand_out_of_threes_and_fours():
    """An accent of 3 dB is weak in threes and fours, not in twos, which are to be even."""
    weak = {"contrast_db": figure(3.0, 0.1)}
    names = [named(found(strokes=strokes, **weak)) for strokes in (2, 3, 4)]
    assert names == [None, ("accents weak", None), ("accents weak", None)]
    for contrast_db in (3.6, 1.9, 0.0):
        assert main_fault(found(strokes=4, contrast_db=figure(contrast_db, 0.1))) is None


def test_push_and_pull_are_named():
    """Single strokes of which every second is off by 9 ms or 2 dB are uneven."""
    assert named(found(push_pull=pair(timing_ms=9.0))) == ("push and pull uneven", None)
    assert main_fault(found(push_pull=pair(level_db=-2.0))).unit == "dB"


@pytest.mark.parametrize("strokes", [2, 4])
def test_the_accent_of_a_drive_is_not_push_against_pull(strokes):
    """With an accent on every second or fourth stroke odd strokes may be softer."""
    assert main_fault(found(strokes=strokes, push_pull=pair(level_db=-4.0))) is None
    open_drive = replace(
        found(push_pull=pair(level_db=-2.0)),
        drive=replace(drive(), strokes=None, plausible=((1, 0), (strokes, 0))),
    )
    assert main_fault(open_drive) is None


def test_the_stroke_after_the_accent_is_late_in_people():
    """5 ms after the accents of twos are no fault, 9 ms are; of fours it is no pair at all."""
    assert main_fault(found(strokes=2, push_pull=pair(timing_ms=5.0))) is None
    assert main_fault(found(strokes=2, push_pull=pair(timing_ms=9.0))) is not None
    assert main_fault(found(strokes=4, push_pull=pair(timing_ms=9.0))) is None


@pytest.mark.parametrize(
    ("late_ms", "expected"),
    [
        ((0.0, 16.0, 0.0, 0.0), ("late", 1)),
        ((0.0, 16.0, 0.0, 5.0), ("late", 1)),
        ((0.0, 16.0, 0.0, 13.0), ("push and pull uneven", None)),
        ((0.0, 10.0, 0.0, 10.0), ("push and pull uneven", None)),
    ],
)
def test_a_place_or_the_pair_whichever_fits_better(late_ms, expected):
    """One late place is a place; two alike are every second stroke."""
    faults = [fault(place, "late", late) for place, late in enumerate(late_ms) if late]
    difference = 0.5 * (late_ms[1] + late_ms[3] - late_ms[0] - late_ms[2])
    assert named(found(*faults, push_pull=pair(timing_ms=difference))) == expected


@pytest.mark.parametrize("late_ms", [(0, 7, 0, 4.8), (0, 8, 0, 3.9), (0, 7.5, 0, 4.2)])
def test_a_pair_too_small_to_be_heard_takes_no_place_from_a_place(late_ms):
    """Where the pair fits better but is below what is heard, the place that is heard is named."""
    faults = [fault(place, "late", late) for place, late in enumerate(late_ms) if late]
    difference = 0.5 * (late_ms[1] + late_ms[3])
    assert difference < 6.0
    assert named(found(*faults, push_pull=pair(timing_ms=difference))) == ("late", 1)


def test_a_pair_that_chance_may_make_takes_no_place_from_a_place():
    """Nor one that is large but not sure; where it is sure it is named."""
    faults = (fault(1, "late", 9.0), fault(3, "late", 8.0))
    for error, expected in ((3.0, ("late", 1)), (1.0, ("push and pull uneven", None))):
        push_pull = pair(timing_ms=8.5, timing_error_ms=error)
        assert named(found(*faults, push_pull=push_pull)) == expected


def test_a_place_that_chance_may_make_leaves_the_pair():
    """Nor does an unsure place keep a sure pair from being named, or a small one."""
    push_pull = pair(timing_ms=7.5)
    for fault_of_place in (fault(1, "late", 15.0, error=6.0), fault(1, "late", 5.0)):
        found_main = named(found(fault_of_place, push_pull=push_pull))
        assert found_main == ("push and pull uneven", None)


def test_a_heard_place_is_named_in_hands_that_are_a_little_uneven_as_pairs():
    """Of 40 hands with one place 8 ms late and another 4.5 ms none loses the fault it has."""
    lost = 0
    for seed in range(40):
        held = shifted(shifted(hand(seed, spread_ms=5.0), 1, late_ms=8.0), 3, late_ms=4.5)
        heard = hear_technique(held)
        lost += any(one.heard for one in heard.faults) and heard.main_fault is None
    assert lost == 0


def test_two_places_a_count_are_places():
    """With two places a count every second stroke is a place, and that is named."""
    findings = found(
        fault(1, "late", 9.0), places_per_count=2, push_pull=pair(timing_ms=9.0, level_db=0.0)
    )
    assert named(findings) == ("late", 1)


def test_with_three_places_a_place_and_the_pair_have_nothing_in_common():
    """A late place of three leaves odd and even alike, so the larger of the two is named."""
    late = fault(1, "late", 9.0)
    both = found(late, places_per_count=3, push_pull=pair(timing_ms=12.0))
    assert named(both) == ("push and pull uneven", None)
    assert named(found(late, places_per_count=3)) == ("late", 1)


def test_what_is_being_crushed_is_said_as_such():
    """Twos and fours that close up are early in the mean by half of it; the change is named."""
    fours = trending(hand(drive=4, spread_ms=6.0), 4, gap_ms=-8.0)
    assert any(fault.kind in ("early", "late") for fault in hear_technique(fours).faults)
    assert hear_technique(fours).main_fault.kind == "taps crushed"
    twos = hear_technique(trending(hand(drive=2, spread_ms=6.0), 2, gap_ms=-16.0))
    assert twos.push_pull.timing_uneven
    assert twos.main_fault.kind == "taps crushed"


@pytest.mark.parametrize(("strokes", "contrast_db"), [(4, 8.0), (3, 8.0), (2, 8.0)])
@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"swell_db": 4.0}, "taps swell"),
        ({"swell_db": -4.0}, "taps fade"),
        ({"gap_ms": -12.0}, "taps crushed"),
        ({"gap_ms": 12.0}, "taps spread"),
    ],
)
def test_a_planted_change_of_the_taps_is_the_main_fault(strokes, contrast_db, change, kind):
    """What changes in the course of a minute's strokes is named, whatever the drive."""
    held = hand(drive=strokes, contrast_db=contrast_db, spread_ms=6.0)
    assert hear_technique(held).main_fault is None
    assert hear_technique(trending(held, strokes, **change)).main_fault.kind == kind


def test_steep_and_weak_drives_are_named():
    """Taps that fall by 3.5 dB each are too steep, accents of 2.8 dB weak."""
    steep = hear_technique(hand(drive=4, decay_db=3.5))
    assert steep.main_fault.kind == "decay too steep"
    assert steep.main_fault.effect == pytest.approx(3.0, abs=0.8)
    weak = hear_technique(hand(drive=3, contrast_db=2.8, spread_db=0.6))
    assert weak.main_fault.kind == "accents weak"


def test_an_uneven_pair_is_named():
    """Single strokes of which places 1 and 3 are late alike are named as a pair, one as a place."""
    one = shifted(hand(spread_ms=5.0), 1, late_ms=12.0)
    assert hear_technique(one).main_fault.kind == "late"
    both = shifted(one, 3, late_ms=12.0)
    assert hear_technique(both).main_fault.kind == "push and pull uneven"


@pytest.mark.parametrize("strokes", [1, 2, 3, 4])
def test_even_hands_have_no_main_fault(strokes):
    """Of 100 even hands with a drive at most 3 have a main fault."""
    hands = (hand(seed, drive=strokes, decay_db=1.0, strokes=240) for seed in range(100))
    assert sum(hear_technique(held).main_fault is not None for held in hands) <= 3


def test_every_kind_has_a_cure():
    """The data of techniques says what to try for each kind."""
    assert len(set(MAIN_FAULT_KINDS)) == 11
    assert all(CURES[kind] for kind in MAIN_FAULT_KINDS)
