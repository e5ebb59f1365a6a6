"""How well technique is heard: drives, places that are off, push and pull, accents.

    python bench/technique.py --takes 300                     from true strokes, seconds
    python bench/technique.py --takes 300 --heard             rendered, coded and heard
    python bench/technique.py --first-seed 100 --takes 60     exploring (seeds below 1000)

Rounds of a minute that are held to the end, hands, tempos and places a count as the other benches
draw them; with ``--heard`` in the tiers ``clean_pad`` and ``home_phone``. Shares carry Wilson's
95 % intervals. What is planted: nothing (the drive of the drawn player is the truth); one place
8 ms late and one 2 dB soft in a hand whose places are even otherwise; nothing in such a hand; push
against pull by 1.5 dB and 6 ms; accents on a drawn map, some left out and some on wrong places; in
a whip at a tempo of its range, taps that swell by 3 dB a minute, or strokes of a drive that close
up by 8 ms a gap a minute.
"""

import argparse
import json
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import one_thread  # noqa: F401
from measures import wilson

from loosehand.batch.hear_file import hear_file
from loosehand.hear.heard import ListenRequest
from loosehand.judge.accents import accents_heard
from loosehand.judge.evenness import HeldStrokes
from loosehand.judge.part_fault import ACCENT_FAULT_KINDS
from loosehand.judge.part_heard import hear_part
from loosehand.judge.part_to_hear import part_to_hear
from loosehand.judge.technique import hear_technique
from loosehand.parts.techniques import TECHNIQUES
from loosehand.parts.text import parse_part
from loosehand.players.codec import encode
from loosehand.players.people import draw_player
from loosehand.players.play import play
from loosehand.players.recipe import draw_recipe
from loosehand.players.sound import render
from loosehand.players.takes import draw_plan

FIRST_SEED = 530_000
STROKES = {"singles": 1, "whip fours": 4, "whip threes": 3, "whip twos": 2, "push-pull": 2}
KINDS = ("drive", "fault", "even", "push-pull", "accents", "taps", "part")
LATE_S, SOFT_DB = 0.008, 2.0
PUSH_DB, PUSH_S = 1.5, 0.006
SWELL_DB_PER_MINUTE, CRUSHED_S_PER_MINUTE = 3.0, 0.008
LEFT_OUT, UNASKED = (0.0, 0.1, 0.3), 0.02
GHOST_DB, SNARE_DB = -8.0, 8.0
PART = """tempo: 100
meter: 4/4
grid: 4
[a] x40
RH hat   Xxgx .xXx xxgx .xgX | Xxxx .xgx xXxx .xxx
RH snare .... x... .... x... | .... x... .... X...
"""
TAP_FAULTS = ("taps swell", "taps crushed")


@dataclass(frozen=True)
class Job:
    """One take: what is planted in it, and how it is heard (tier None: true strokes)."""

    kind: str
    tier: str | None
    seed: int


def planned(rng):
    """A round of a minute that is held."""
    return replace(draw_plan(rng, round_s=60.0), failure=None, failure_count=None)


def even(hand):
    """The hand with even places."""
    return replace(hand, place_offset_s=np.zeros(12), place_level_db=np.zeros(12))


def shifted(hand, place, late_s, level_db):
    """The hand with one more shift of one place."""
    offset, level = hand.place_offset_s.copy(), hand.place_level_db.copy()
    offset[place] += late_s
    level[place] += level_db
    return replace(hand, place_offset_s=offset, place_level_db=level)


def both(player, change):
    """Change both hands of a player."""
    return replace(player, left=change(player.left), right=change(player.right))


def make(kind, rng):
    """A performance with what was planted in it."""
    plan, player = planned(rng), draw_player(rng)
    truth = {"technique": player.technique, "strokes": STROKES[player.technique]}
    if kind != "drive":
        plan = replace(plan, hand="left" if rng.random() < 0.5 else "right")
        plan = replace(plan, places_per_count=min(plan.places_per_count, 4))
        player = both(player, even)
    if kind == "fault":
        player = with_faults(player, plan.places_per_count, truth, rng)
    if kind == "push-pull":
        side = int(rng.choice([-1, 1]))
        player = replace(player, technique="push-pull", decay_db=0.0)
        player = replace(player, accent_stretch_s=PUSH_S * side, accent_db=PUSH_DB * side)
        truth["strokes"] = 2
        plan = replace(plan, places_per_count=4)
    if kind in ("accents", "part"):
        player = replace(player, technique="singles")
        plan = replace(plan, places_per_count=4)
    if kind == "taps":
        plan, player = whipped(plan, player, truth, rng)
    done = play(player, plan, rng)
    if kind == "accents":
        done = with_accents(done, truth, rng)
    if kind == "part":
        done = of_part(done, truth, rng)
    if kind == "taps":
        done = with_taps(done, truth, rng)
    return plan, done, truth


def whipped(plan, player, truth, rng):
    """A whip, at four places a count and a tempo of its range."""
    name = str(rng.choice([name for name in STROKES if name.startswith("whip")]))
    low, high = TECHNIQUES[name].tempo_range_bpm
    tempo_bpm = float(rng.integers(low, high + 1))
    truth |= {"technique": name, "strokes": STROKES[name]}
    player = replace(player, technique=name, accent_db=float(rng.uniform(6.0, 13.0)))
    counts = int(tempo_bpm)
    return replace(plan, places_per_count=4, tempo_bpm=tempo_bpm, counts=counts), player


def with_taps(done, truth, rng):
    """Taps that swell, or strokes of a drive that move together, from the first count on."""
    truth["taps"] = str(rng.choice(TAP_FAULTS))
    within = np.where(done.stroke_place >= 0, done.stroke_place % truth["strokes"], 0)
    minutes = (done.stroke_time_s - done.first_count_s) / 60.0
    if truth["taps"] == "taps swell":
        rise_db = SWELL_DB_PER_MINUTE * minutes * (within > 0)
        return replace(done, level_db=done.level_db + rise_db)
    time_s = done.stroke_time_s - CRUSHED_S_PER_MINUTE * minutes * within
    least_s = 1e-4 * np.arange(time_s.size)
    return replace(done, stroke_time_s=np.maximum.accumulate(time_s - least_s) + least_s)


def with_faults(player, places, truth, rng):
    """One place 8 ms late and one 2 dB soft, each chosen by itself."""
    strokes = truth["strokes"]
    late, soft = (int(place) for place in rng.integers(0, places, 2))
    if strokes == places and soft == 0:
        # The one accent of the count is soft against nothing.
        soft = int(rng.integers(1, places))
    if strokes == places and late == 1:
        player = replace(player, accent_stretch_s=0.0)
    truth |= {"late": late, "soft": soft}
    player = both(player, lambda hand: shifted(hand, late, LATE_S, 0.0))
    return both(player, lambda hand: shifted(hand, soft, 0.0, -SOFT_DB))


def with_accents(done, truth, rng):
    """Accents on a drawn map of the bar of 16 places, a tenth left out, some on wrong places."""
    asked = tuple(sorted(rng.choice(16, int(rng.integers(2, 7)), replace=False).tolist()))
    place = done.stroke_place
    due = (place >= 0) & np.isin(place % 16, asked)
    hit = due & (rng.random(place.size) >= 0.1)
    wrong = (place >= 0) & ~due & (rng.random(place.size) < 0.03)
    contrast_db = float(rng.uniform(6.0, 13.0))
    # A place of the map on which no stroke was played is due as well, and missed.
    whole = np.arange(place.max() + 1)
    truth |= {"map": asked, "hits": int(hit.sum()), "due": int(np.isin(whole % 16, asked).sum())}
    truth |= {"false": int(wrong.sum()), "contrast_db": contrast_db}
    level = np.where(hit | wrong, 0.0, -contrast_db)
    return replace(done, level_db=done.level_db + level)


def asked_of_part():
    """What the part asks of the right hand; it is longer than any take."""
    return part_to_hear(parse_part(PART), "right hand")


def of_part(done, truth, rng):
    """The part's levels, some of its accents left out, and some unasked where any are."""
    asked, place = asked_of_part(), done.stroke_place
    own = np.maximum(place, 0)
    classes = [asked.classes[each] for each in asked.class_of_place]
    part_db = np.array(
        [GHOST_DB * each.ghost + SNARE_DB * (each.instrument == "snare") for each in classes]
    )
    due = (place >= 0) & np.isin(place, asked.accents)
    share = float(rng.choice(LEFT_OUT))
    hit = due & (rng.random(place.size) >= share)
    wrong = (place >= 0) & ~due & (rng.random(place.size) < UNASKED * (share > 0))
    contrast_db = float(rng.uniform(6.0, 10.0))
    whole = np.arange(done.counts_offered * done.places_per_count)
    missed = np.setdiff1d(whole[np.isin(whole, asked.accents)], place[hit])
    truth |= {"left_out": share, "contrast_db": contrast_db, "missed": missed.tolist()}
    truth |= {"unasked": place[wrong].tolist(), "came": place[hit].tolist()}
    level = np.where(hit | wrong, 0.0, -contrast_db) + part_db[own] - SNARE_DB
    return replace(done, level_db=done.level_db + level)


def body_of(held):
    """True strokes as the JSON of a reading has them."""
    count, place = np.divmod(held.place_index, held.places_per_count)
    rows = zip(count + 1, place, held.time_s, 1e3 * held.asynchrony_s, held.level_db, strict=True)
    keys = ("count", "place", "time_s", "asynchrony_ms", "level_db")
    strokes = [dict(zip(keys, (each.item() for each in row), strict=True)) for row in rows]
    tempo_bpm = 60.0 / held.place_s / held.places_per_count
    per_count = held.places_per_count
    return {"strokes": strokes, "tempo_bpm": tempo_bpm, "places_per_count": per_count}


def part_row(body, count_held):
    """What is said of the accents of a part, and its main fault."""
    found = hear_part(body, asked_of_part(), count_held=count_held)
    row = {"part_main": found.main_fault and found.main_fault.kind, "end": found.held_places}
    if found.accents is None:
        return row
    return row | {
        "missed_heard": found.accents.missed_places.tolist(),
        "unasked_heard": found.accents.false_places.tolist(),
        "untold": found.accents.untold_places.size,
    }


def true_held(done):
    """True strokes of each hand, on its own grid."""
    hands = []
    sides = sorted(set(done.stroke_hand))
    for side in sides:
        own = (np.array(done.stroke_hand) == side) & (done.stroke_place >= 0)
        place, stride = done.stroke_place[own], len(sides)
        late_s = done.asynchrony_s()[own]
        order = np.argsort(place // stride, kind="stable")
        _, once = np.unique(place[order] // stride, return_index=True)
        order = order[once]
        hands.append(
            HeldStrokes(
                (place // stride)[order],
                done.stroke_time_s[own][order],
                late_s[order],
                done.level_db[own][order],
                done.places_per_count // stride,
                done.place_s * stride,
            )
        )
    return hands


def heard_held(reading):
    """Strokes of a heard take of one hand matched before the break."""
    per_count, place = reading.places_per_count, reading.places.place_index
    end = (reading.count_held or 0) * per_count
    own = (place >= 0) & (place < end)
    return HeldStrokes(
        place[own],
        reading.strokes.time_s[own],
        reading.places.asynchrony_s[own],
        reading.strokes.level_db[own],
        per_count,
        reading.grid.place_s,
    )


def hear(tier, plan, done, rng, *, told_counts):
    """Render, code and hear a performance; the reading or None, and seconds of hearing."""
    recipe = draw_recipe(tier, rng)
    samples, rate = render(done, recipe, rng)
    data = encode(samples, rate, suffix=recipe.file.suffix, bit_rate=recipe.file.bit_rate)
    counts = plan.counts if told_counts else None
    request = ListenRequest(plan.tempo_bpm, plan.places_per_count, plan.hand, counts, None)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"take{recipe.file.suffix}"
        path.write_bytes(data)
        start = time.perf_counter()
        reading = hear_file(path, request)
        return reading, time.perf_counter() - start


def run(job):
    """One row for each hand of a take."""
    tiers = (None, "clean_pad", "home_phone")
    rng = np.random.default_rng([job.seed, KINDS.index(job.kind), tiers.index(job.tier)])
    plan, done, truth = make(job.kind, rng)
    row = {"kind": job.kind, "tier": job.tier, "seed": job.seed, **truth}
    row |= {"hand": plan.hand, "tempo_bpm": plan.tempo_bpm, "places": plan.places_per_count}
    if job.tier is None:
        hands = true_held(done)
        start = time.perf_counter()
        told = [hear_technique(one) for one in hands]
        row["seconds"] = time.perf_counter() - start
    else:
        told_counts = job.kind == "part"
        reading, row["seconds"] = hear(job.tier, plan, done, rng, told_counts=told_counts)
        row["held"], row["offered"] = reading.count_held, done.counts_offered
        heard = reading.technique
        told = (
            [heard] if plan.hand != "alternating" else [heard and heard.left, heard and heard.right]
        )
        hands = [] if reading.grid is None else [heard_held(reading)]
    if job.kind == "accents" and hands and hands[0].place_index.size >= 16:
        found = accents_heard(
            hands[0], truth["map"], 16, held_places=int(hands[0].place_index[-1]) + 1
        )
        row |= {
            "hits_heard": found.hits,
            "due_heard": found.due,
            "false_heard": found.false_accents,
        }
    if job.kind == "part":
        body = body_of(hands[0]) if job.tier is None else reading.to_json()
        row |= part_row(body, done.counts_offered if job.tier is None else reading.count_held)
    turn = 0
    if job.tier is not None and reading.grid is not None:
        off_s = reading.grid.first_count_s - done.first_count_s
        turn = round(off_s / done.place_s)
        row["grid_turned"] = turn % done.places_per_count != 0
    per_count = done.places_per_count // (2 if plan.hand == "alternating" else 1)
    return [row | answer(one, turn, per_count) for one in told]


def answer(told, turn, per_count):
    """What was said of a hand; its places as they lie in time, whichever was taken for count 1."""
    if told is None or told.drive is None:
        return {"told": None, "confidence": None, "faults": [], "main": None, "doubtful": None}
    return {
        "told": told.drive.strokes,
        "phase": None
        if told.drive.phase is None
        else (told.drive.phase + turn) % told.drive.strokes,
        "confidence": told.drive.confidence,
        "chances": told.drive.chances,
        "faults": [
            ((one.place + turn) % per_count, one.kind, round(one.effect, 2)) for one in told.faults
        ],
        "main": fault_answer(told.main_fault, turn, per_count),
        "doubtful": fault_answer(told.doubtful_fault, turn, per_count),
        "contrast_db": told.shape.contrast_db.told,
        "level_uneven": told.push_pull.level_uneven,
        "timing_uneven": told.push_pull.timing_uneven,
        "push_db": told.push_pull.level_db,
        "push_ms": told.push_pull.timing_ms,
    }


def fault_answer(fault, turn, per_count):
    """Place in time, kind and effect of a main fault."""
    if fault is None:
        return None
    place = None if fault.place is None else (fault.place + turn) % per_count
    return place, fault.kind, round(fault.effect, 2)


def share(hits, of):
    """Share with its interval."""
    low, high = wilson(hits, of)
    return f"{hits}/{of} = {hits / max(of, 1):.3f} [{low:.3f}, {high:.3f}]"


def say(name, values):
    """Print a share of True."""
    values = list(values)
    print(f"  {name:<58} {share(sum(bool(one) for one in values), len(values))}", flush=True)


def report(tier, kind, rows):
    """Print the figures of one kind of take in one tier."""
    print(f"{kind}, {tier or 'true strokes'}: {len({row['seed'] for row in rows})} takes")
    {
        "drive": report_drive,
        "fault": report_fault,
        "even": report_even,
        "push-pull": report_push,
        "accents": report_accents,
        "taps": report_taps,
        "part": report_part,
    }[kind](rows)


def report_drive(rows):
    """Drive length named right, by technique."""
    told = [row for row in rows if row["told"] is not None]
    say("hands named right, of those told", (row["told"] == row["strokes"] for row in told))
    say("hands 'cannot tell'", (row["told"] is None for row in rows))
    for technique in STROKES:
        own = [row for row in rows if row["technique"] == technique]
        said = [row for row in own if row["told"] is not None]
        say(f"  {technique}: right", (row["told"] == row["strokes"] for row in said))
        say(f"  {technique}: cannot tell", (row["told"] is None for row in own))
    several = [row for row in told if row["told"] == row["strokes"] > 1]
    several = [row for row in several if row["hand"] != "alternating"]
    say(
        "drive on its true place, of those right, one hand, above 1",
        (row["phase"] == 0 for row in several),
    )
    if "grid_turned" in rows[0]:
        say("count 1 heard on another place of the count", (row["grid_turned"] for row in rows))
    seconds = sorted(row["seconds"] for row in rows)
    print(f"  median seconds a take {seconds[len(seconds) // 2]:.4f}, longest {seconds[-1]:.4f}")


def report_fault(rows):
    """Both planted places found, and nothing else."""
    for kind in ("late", "soft"):
        hit = [((row[kind], kind) in [tuple(one[:2]) for one in row["faults"]]) for row in rows]
        say(f"place {kind} found", hit)
        both = list(zip(hit, rows, strict=True))
        of_count = [one for one, row in both if row["strokes"] == row["places"]]
        say("  where the drive is as long as the count", of_count)
        say("  where it is not", [one for one, row in both if row["strokes"] != row["places"]])
    say(
        "main fault is one of the two",
        (row["main"] and row["main"][:2] in planted(row) for row in rows),
    )
    say(
        "another place or kind listed",
        (any(tuple(one[:2]) not in planted(row) for one in row["faults"]) for row in rows),
    )


def planted(row):
    """Place and kind of what was planted."""
    return [(row[kind], kind) for kind in ("late", "soft")]


def report_even(rows):
    """False findings."""
    say("anything listed with nothing planted", (bool(row["faults"]) for row in rows))
    say("a main fault named with nothing planted", (row["main"] is not None for row in rows))
    say("  called doubtful", (row["doubtful"] is not None for row in rows))
    kinds = Counter(row["main"][1] for row in rows if row["main"] is not None)
    print(f"  kinds named: {dict(kinds) or 'none'}")
    single = [row for row in rows if row["technique"] == "singles"]
    say("push and pull called uneven in level, single strokes", map(uneven("level"), single))
    say("push and pull called uneven in timing, single strokes", map(uneven("timing"), single))


def uneven(what):
    """Tell of a row whether odd and even strokes are called uneven."""
    return lambda row: bool(row.get(f"{what}_uneven"))


def report_push(rows):
    """Push against pull, both planted in every take."""
    for what in ("level", "timing"):
        say(f"uneven in {what} found", map(uneven(what), rows))


def report_taps(rows):
    """The planted change of the taps named as the main fault."""
    for kind in TAP_FAULTS:
        own = [row for row in rows if row["taps"] == kind]
        say(f"{kind}: named as the main fault", (named(row) == kind for row in own))
        for technique in (name for name in STROKES if name.startswith("whip")):
            some = [row for row in own if row["technique"] == technique]
            say(f"  {technique}", (named(row) == kind for row in some))
        say("  another one named", (named(row) not in (kind, None) for row in own))
        say("  called doubtful", (row["doubtful"] is not None for row in own))
        say("  drive not told", (row["told"] is None for row in own))


def named(row):
    """Kind of the main fault, or None."""
    return row["main"] and row["main"][1]


def report_accents(rows):
    """Hits against the truth."""
    told = [row for row in rows if "hits_heard" in row]
    say("accents told at all", ("hits_heard" in row for row in rows))
    off = [row["hits_heard"] / row["due_heard"] - row["hits"] / row["due"] for row in told]
    say("share of hits within 2 % of the truth", (abs(one) <= 0.02 for one in off))
    print(
        f"  all hits heard / played {sum(r['hits_heard'] for r in told)}"
        f" / {sum(r['hits'] for r in told)},"
        f" median |off| {np.median(np.abs(off)):.4f}, mean off {np.mean(off):+.4f}"
    )
    wrong = [abs(row["false_heard"] - row["false"]) for row in told]
    print(f"  false accents off by {np.mean(wrong):.2f} a take on average")


def report_part(rows):
    """Accents against a part, place by place, and the main fault of a take of it."""
    told = [row for row in rows if "missed_heard" in row]
    say("accents told at all", ("missed_heard" in row for row in rows))
    for planted, heard, name in (
        ("missed", "missed_heard", "accents left out, found"),
        ("came", "missed_heard", "accents that came, called missed"),
        ("unasked", "unasked_heard", "accents unasked, found"),
    ):
        own = [(place, row[heard]) for row in told for place in row[planted] if place < row["end"]]
        say(name, (place in found for place, found in own))
    wrong = [len(set(row["unasked_heard"]) - set(row["unasked"])) for row in told]
    print(f"  plain strokes called unasked: {sum(wrong)}, {np.mean(wrong):.2f} a take")
    for share in LEFT_OUT:
        own = [row for row in told if row["left_out"] == share]
        about = (row["part_main"] in ACCENT_FAULT_KINDS for row in own)
        say(f"main fault is the accents', {share:.0%} left out", about)
        others = Counter(row["part_main"] for row in own)
        print(f"    named: {dict(others)}")
    blind = (row["main"] is not None for row in told if row["left_out"] == 0.0)
    say("without the part: a main fault where none was left out", blind)


def main():
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("--takes", type=int, default=300, help="takes of each kind")
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--tiers", default="clean_pad,home_phone")
    parser.add_argument("--heard", action="store_true", help="rendered and heard by the ear")
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--rows", type=Path, help="keep the rows here, as JSON")
    words = parser.parse_args()
    kept = []
    with ProcessPoolExecutor(words.workers, get_context("spawn")) as pool:
        for kind in words.kinds.split(","):
            for tier in words.tiers.split(",") if words.heard else [None]:
                jobs = [Job(kind, tier, words.first_seed + at) for at in range(words.takes)]
                rows = [row for found in pool.map(run, jobs, chunksize=4) for row in found]
                report(tier, kind, rows)
                kept += rows
                if words.rows is not None:
                    words.rows.write_text(json.dumps(kept, indent=0))


if __name__ == "__main__":
    main()
