"""The count held from true strokes: the definition once more, slow, simple and apart.

Written from the words of the definition alone, sharing no code with ``loosehand.judge``, so that
the two can be held against each other.

- Strokes are matched to places in order, one to one, by least total cost: squared deviation in
  places; a missed place costs ``MISSED``, an extra stroke ``EXTRA``.
- A place is good when its stroke lies within the leeway, lead or lag removed.
- A slip is a run of one or two bad places. With n places a count it is forgiven when n good
  places come before it (or it is the first slip) and n after it; at the end of the take fewer
  than n, but at least one, will do. The first bad run not forgiven is the break.
- The lead is the median asynchrony of strokes matched before the break: from the first two
  counts, then again until the break stays.
- Gallop: a place whose own median departs by more than half the leeway, in an otherwise steady
  take, has its median taken out (at most 0.25 of a place).
- Alternating hands are judged each on its own grid; the hold ends with the first to lose it.

Where the words leave a choice, this was chosen here: both costs 0.25 (so a stroke half a place
from anything is as dear as leaving it out); place medians are taken over the strokes before a
provisional break with the leeway widened by the 0.25 that may be taken out (to 0.5 at most);
'steady' means a spread around the place medians of at most half the leeway (1.4826 times the
median absolute deviation) and four strokes or more on every place.
"""

from dataclasses import dataclass
from statistics import median

__all__ = ["EXTRA", "LEEWAY", "MISSED", "Held", "held_by_hands", "held_by_one", "match"]

MISSED = 0.25
EXTRA = 0.25
LEEWAY = 0.30
GALLOP_LIMIT = 0.25


@dataclass(frozen=True)
class Held:
    """What the definition says: counts held, locked, clean; the lead in places; the gallop."""

    count_held: int
    last_locked_count: int
    clean_counts: int
    lead_places: float
    place_shift: tuple[float, ...]


def match(
    position: list[float], places: int, *, missed: float = MISSED, extra: float = EXTRA
) -> list[int | None]:
    """For every place the index of its stroke, or None; strokes are given in places from place 0.

    The whole table of least costs is filled, then read backwards.
    """
    strokes = len(position)
    cost = [[0.0] * (places + 1) for _ in range(strokes + 1)]
    for stroke in range(1, strokes + 1):
        cost[stroke][0] = stroke * extra
    for place in range(1, places + 1):
        cost[0][place] = place * missed
    for stroke in range(1, strokes + 1):
        row, above, where = cost[stroke], cost[stroke - 1], position[stroke - 1]
        for place in range(1, places + 1):
            paired = above[place - 1] + (where - (place - 1)) ** 2
            row[place] = min(paired, above[place] + extra, row[place - 1] + missed)
    found: list[int | None] = [None] * places
    stroke, place = strokes, places
    while stroke > 0 and place > 0:
        here = cost[stroke][place]
        if here == cost[stroke - 1][place - 1] + (position[stroke - 1] - (place - 1)) ** 2:
            found[place - 1] = stroke - 1
            stroke, place = stroke - 1, place - 1
        elif here == cost[stroke - 1][place] + extra:
            stroke -= 1
        else:
            place -= 1
    return found


def bad_runs(good: list[bool]) -> list[tuple[int, int]]:
    """Find the runs of bad places as (first, one past the last)."""
    runs, first = [], None
    for place, fine in enumerate([*good, True]):
        if not fine and first is None:
            first = place
        elif fine and first is not None:
            runs.append((first, place))
            first = None
    return runs


def break_place(good: list[bool], per_count: int) -> int | None:
    """First place of the first bad run that is not forgiven, or None."""
    runs = bad_runs(good)
    for index, (first, last) in enumerate(runs):
        before = first - (runs[index - 1][1] if index else 0)
        after = (runs[index + 1][0] if index + 1 < len(runs) else len(good)) - last
        at_end = index + 1 == len(runs)
        enough_before = index == 0 or before >= per_count
        enough_after = after >= per_count or (at_end and after >= 1)
        if last - first > 2 or not enough_before or not enough_after:
            return first
    return None


def _judge(
    position: list[float], places: int, per_count: int, shift: list[float], leeway: float
) -> tuple[int | None, float, list[bool], list[float | None]]:
    """Break, lead, good places and deviations, with the lead found by iteration."""

    def deviations(lead: float, upto: int) -> list[float | None]:
        # The shift of a place is taken out after matching, of the stroke that place got.
        kept = [where - lead for where in position]
        found = match(kept, upto)
        return [
            None if hit is None else kept[hit] - place - shift[place % per_count]
            for place, hit in enumerate(found)
        ]

    first_two = min(2 * per_count, places)
    early = [away for away in deviations(0.0, places)[:first_two] if away is not None]
    lead, last = (median(early) if early else 0.0), -1
    for _ in range(20):
        away = deviations(lead, places)
        good = [one is not None and abs(one) <= leeway for one in away]
        broken = break_place(good, per_count)
        if broken == last:
            break
        last = broken
        upto = places if broken is None else broken
        before = [one for one in away[:upto] if one is not None]
        if not before:
            break
        lead += median(before)
    return broken, lead, good, away


def _gallop(position: list[float], places: int, per_count: int, leeway: float) -> list[float]:
    """Place medians to be taken out, all zero where there is no steady gallop."""
    none = [0.0] * per_count
    wide = min(leeway + GALLOP_LIMIT, 0.5)
    broken, _, _, away = _judge(position, places, per_count, none, wide)
    upto = places if broken is None else broken
    own: list[list[float]] = [[] for _ in range(per_count)]
    for place, one in enumerate(away[:upto]):
        if one is not None:
            own[place % per_count].append(one)
    if min(len(values) for values in own) < 4:
        return none
    medians = [median(values) for values in own]
    middle = median([one for values in own for one in values])
    rest = [abs(one - medians[at]) for at, values in enumerate(own) for one in values]
    departs = max(abs(value - middle) for value in medians) > leeway / 2
    if not departs or 1.4826 * median(rest) > leeway / 2:
        return none
    return [max(-GALLOP_LIMIT, min(GALLOP_LIMIT, value - middle)) for value in medians]


def held_by_one(
    stroke_s: list[float],
    *,
    first_place_s: float,
    place_s: float,
    counts: int,
    per_count: int,
    leeway: float = LEEWAY,
) -> Held:
    """Judge one hand: its strokes, its own grid."""
    places = counts * per_count
    position = [(time_s - first_place_s) / place_s for time_s in sorted(stroke_s)]
    shift = _gallop(position, places, per_count, leeway)
    broken, lead, good, _ = _judge(position, places, per_count, shift, leeway)
    held = counts if broken is None else broken // per_count
    whole = [all(good[at * per_count : (at + 1) * per_count]) for at in range(counts)]
    locked = max([count + 1 for count in range(counts) if whole[count]], default=0)
    return Held(held, max(held, locked), sum(whole[:held]), lead, tuple(shift))


def held_by_hands(
    stroke_s: list[float],
    hand: list[int],
    *,
    first_count_s: float,
    count_period_s: float,
    counts: int,
    places_per_count: int,
    leads_with: int,
    leeway: float = LEEWAY,
) -> Held:
    """Judge two alternating hands, each on every other place; the first to lose it ends the hold.

    ``leads_with`` is the hand (0 left, 1 right) that has the first place of a count.
    """
    per_count = places_per_count // 2
    place_s = count_period_s / per_count
    results = [
        held_by_one(
            [time_s for time_s, whose in zip(stroke_s, hand, strict=True) if whose == side],
            first_place_s=first_count_s + (0.0 if side == leads_with else place_s / 2),
            place_s=place_s,
            counts=counts,
            per_count=per_count,
            leeway=leeway,
        )
        for side in (0, 1)
    ]
    return Held(
        min(one.count_held for one in results),
        min(one.last_locked_count for one in results),
        min(one.clean_counts for one in results),
        results[leads_with].lead_places,
        results[leads_with].place_shift,
    )
