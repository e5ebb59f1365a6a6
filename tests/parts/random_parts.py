"""Random parts that four limbs can play, for property tests."""

from fractions import Fraction

from hypothesis import strategies as st

from loosehand.parts import (
    BEATS,
    DYNAMICS,
    INSTRUMENTS,
    LIMBS,
    Bar,
    Meter,
    Part,
    Section,
    Stroke,
)

METERS = (
    Meter((1, 1, 1, 1), 4),
    Meter((1, 1, 1), 4),
    Meter((2, 2, 3), 8),
    Meter((3, 2, 2), 8),
    Meter((3, 3), 8),
    Meter((2, 3), 8),
    Meter((4, 4, 3), 16),
)
HAND_MARKS = ((), (), (), ("accent",), ("ghost",), ("flam",), ("accent", "flam"), ("flam", "ghost"))
FOOT_MARKS = ((), (), ("accent",), ("ghost",))
BY_HAND = tuple(name for name, of in INSTRUMENTS.items() if not of.by_foot)
BY_FOOT = tuple(name for name, of in INSTRUMENTS.items() if of.by_foot)

names = st.text(
    st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12
) | st.sampled_from(["verse", "chorus 2", "[solo]", "x8", "fill # 3", "title: a"])
tempos = st.fractions(20, 400, max_denominator=1000) | st.integers(20, 400).map(Fraction)


@st.composite
def bars(draw):
    """Draw a bar: none, one or more limbs at each place."""
    meter = draw(st.sampled_from(METERS))
    per_unit = draw(st.sampled_from((1, 2, 3, 4, 5, 6)))
    places = sum(meter.grouping) * per_unit
    taken = draw(
        st.sets(st.tuples(st.integers(0, places - 1), st.sampled_from(LIMBS)), max_size=20)
    )
    strokes = []
    for place, limb in sorted(taken):
        by_foot = limb.endswith("foot")
        marks = draw(st.sampled_from(FOOT_MARKS if by_foot else HAND_MARKS))
        other = "left hand" if limb == "right hand" else "right hand"
        if (place, other) in taken:
            marks = tuple(mark for mark in marks if mark != "flam")
        instrument = draw(st.sampled_from(BY_FOOT if by_foot else BY_HAND))
        strokes.append(Stroke(place, limb, instrument, marks))
    return Bar(meter, per_unit, tuple(strokes))


@st.composite
def sections(draw):
    """Draw a section, some of its bars alike."""
    different = draw(st.lists(bars(), min_size=1, max_size=3))
    order = draw(st.lists(st.sampled_from(different), min_size=1, max_size=7))
    return Section(
        draw(names),
        tuple(order),
        draw(st.integers(1, 12)),
        draw(st.none() | st.sampled_from(DYNAMICS)),
        draw(st.none() | tempos),
    )


parts = st.builds(
    Part,
    title=st.just("") | names,
    tempo_bpm=tempos,
    beat=st.sampled_from(tuple(BEATS.values())),
    swing_percent=st.integers(50, 75),
    feel=st.lists(st.sampled_from(["straight", "laid back", "shuffled"]), max_size=2).map(tuple),
    sections=st.lists(sections(), min_size=1, max_size=4).map(tuple),
)
