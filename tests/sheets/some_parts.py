"""Random parts, and a few written by hand, for the tests of everything that writes parts."""

from fractions import Fraction

from hypothesis import strategies as st

from loosehand.parts import (
    BEATS,
    DYNAMICS,
    INSTRUMENTS,
    Bar,
    Meter,
    Part,
    Section,
    Stroke,
    check_part,
)

HAND_INSTRUMENTS = [name for name, each in INSTRUMENTS.items() if not each.by_foot]
FOOT_INSTRUMENTS = [name for name, each in INSTRUMENTS.items() if each.by_foot]
METERS = [
    Meter((1, 1, 1, 1), 4),
    Meter((2, 2), 4),
    Meter((1, 1, 1), 4),
    Meter((2, 2, 3), 8),
    Meter((3, 2, 2), 8),
    Meter((7,), 8),
    Meter((3, 3), 8),
    Meter((5,), 16),
    Meter((1, 1), 2),
]
WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=("C", "Z"), exclude_characters=","),
    min_size=1,
    max_size=12,
)
TEMPOS = st.fractions(min_value=20, max_value=400, max_denominator=1_000_000)


@st.composite
def bars(draw):
    """Return a bar that four limbs can play."""
    meter = draw(st.sampled_from(METERS))
    places_per_unit = draw(st.sampled_from([1, 2, 3, 4, 5, 6, 7, 8]))
    places = sum(meter.grouping) * places_per_unit
    strokes = []
    for place in sorted(draw(st.sets(st.integers(0, places - 1), max_size=12))):
        hands = draw(st.sets(st.sampled_from(["right hand", "left hand"]), max_size=2))
        for limb in sorted(hands):
            marks = [draw(st.sampled_from([None, None, "accent", "ghost"]))]
            if len(hands) == 1:
                marks.append(draw(st.sampled_from([None, None, "flam"])))
            instrument = draw(st.sampled_from(HAND_INSTRUMENTS))
            strokes.append(Stroke(place, limb, instrument, tuple(m for m in marks if m)))
        for limb in sorted(draw(st.sets(st.sampled_from(["right foot", "left foot"]), max_size=2))):
            marks = draw(st.sampled_from([(), (), ("accent",), ("ghost",)]))
            strokes.append(Stroke(place, limb, draw(st.sampled_from(FOOT_INSTRUMENTS)), marks))
    return Bar(meter, places_per_unit, tuple(strokes))


@st.composite
def sections(draw):
    """Return a section of a few bars."""
    return Section(
        name=draw(WORDS),
        bars=tuple(draw(st.lists(bars(), min_size=1, max_size=3))),
        times=draw(st.integers(1, 4)),
        dynamic=draw(st.sampled_from([None, *DYNAMICS])),
        tempo_bpm=draw(st.none() | TEMPOS),
    )


@st.composite
def parts(draw):
    """Return a part that can be played."""
    return check_part(
        Part(
            title=draw(st.just("") | WORDS),
            tempo_bpm=draw(TEMPOS),
            beat=draw(st.sampled_from(sorted(BEATS.values()))),
            swing_percent=draw(st.integers(50, 75)),
            feel=tuple(draw(st.lists(WORDS, max_size=2))),
            sections=tuple(draw(st.lists(sections(), min_size=1, max_size=3))),
        )
    )


def line(limb, instrument, places, *, marks=()):
    """Return strokes of one limb: x a stroke, X an accent, g a ghost note, f a flam."""
    told = {"x": (), "X": ("accent",), "g": ("ghost",), "f": ("flam",)}
    return [
        Stroke(place, limb, instrument, (*told[char], *marks))
        for place, char in enumerate(places.replace(" ", ""))
        if char != "."
    ]


def bar(meter, places_per_unit, *lines):
    """Return a bar of such lines."""
    return Bar(meter, places_per_unit, tuple(stroke for strokes in lines for stroke in strokes))


def groove():
    """Return a tune with what drum notation has: one-handed sixteenths, ghosts, flams, 7/8."""
    four, seven = Meter((1, 1, 1, 1), 4), Meter((2, 2, 3), 8)
    sixteenths = bar(
        four,
        4,
        line("right hand", "hat", "XxxxXxxxXxxxXx.x"),
        [Stroke(14, "right hand", "open hat")],
        line("left hand", "snare", ".... X..g .g.. X..g"),
        line("right foot", "kick", "x.x. .... ..x. ...."),
    )
    closing = bar(
        four,
        4,
        line("right hand", "hat", "xxxx.xxxxxxxxx.."),
        line("left hand", "snare", "....f.......X.gg"),
        line("right foot", "kick", "x..x....x......."),
        line("left foot", "foot hat", "....x.......x..."),
    )
    triplets = bar(
        four,
        3,
        line("right hand", "ride", "x.x x.x x.. x.x"),
        line("right hand", "ride bell", "... ... .x. ..."),
        line("left hand", "cross-stick", "... x.. ... x.."),
        line("left foot", "foot hat", "... x.. ... x.."),
        line("right foot", "kick", "x.. ..x ... ..x"),
    )
    fill = bar(
        four,
        4,
        line("right hand", "snare", "X.x.x..."),
        line("left hand", "snare", ".x.xgx.."),
        line("right hand", "high tom", "........x......."),
        line("left hand", "mid tom", ".........x......"),
        line("right hand", "floor tom", "..........x.f..."),
        line("left hand", "floor tom", "...........x...."),
        line("right hand", "crash", "..............X."),
        line("right foot", "kick", "x...x...x...x.x."),
    )
    odd = bar(
        seven,
        2,
        line("right hand", "hat", "x.x.x.x.x.x.x."),
        line("left hand", "snare", "....X.....X..g"),
        line("right foot", "kick", "x..x....x....."),
    )
    return check_part(
        Part(
            title="Morning round",
            tempo_bpm=Fraction(104),
            beat=Fraction(1, 4),
            swing_percent=50,
            feel=("laid back",),
            sections=(
                Section("verse", (sixteenths, closing), 4, "mf", None),
                Section("bridge", (triplets, fill), 1, "f", Fraction(96)),
                Section("odd", (odd, odd), 2, "p", None),
            ),
        )
    )
