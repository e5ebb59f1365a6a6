"""Turn the rows of the bench into a report: one table a question, shares with intervals."""

from collections.abc import Callable

import numpy as np
from hearing import OURS
from measures import reliability, share
from peers import PEERS

__all__ = ["markdown", "summary"]

Rows = list[dict]
OURS_WITH_PEERS = f"{OURS}, the takes of the peers"


def _median(rows: Rows, key: str) -> float | None:
    values = [row[key] for row in rows if row.get(key) is not None]
    return float(np.median(values)) if values else None


def _mean(rows: Rows, key: str) -> float | None:
    values = [row[key] for row in rows if row.get(key) is not None]
    return float(np.mean(values)) if values else None


def _share(rows: Rows, key: str) -> dict:
    return share([row[key] for row in rows if row.get(key) is not None])


def _confident(rows: Rows) -> Rows:
    return [row for row in rows if (row.get("confidence") or 0.0) >= 0.9]


_SCORED = {
    "f10_mean": lambda rows: _mean(rows, "f10"),
    "f25_mean": lambda rows: _mean(rows, "f25"),
    "error_median_ms": lambda rows: _median(rows, "error_median_ms"),
    "error_p95_ms": lambda rows: _median(rows, "error_p95_ms"),
    "offset_ms": lambda rows: _median(rows, "offset_ms"),
    "deviation_r": lambda rows: _median(rows, "deviation_r"),
    "level_r": lambda rows: _median(rows, "level_r"),
    "exact": lambda rows: _share(rows, "exact"),
    "within_1": lambda rows: _share(rows, "within_1"),
    "ended_right": lambda rows: _share(rows, "ended_right"),
    "refused_judgeable": lambda rows: _share(rows, "refused"),
    "grid_right": lambda rows: _share(rows, "grid_right"),
    "confident": lambda rows: (
        share([(row.get("confidence") or 0.0) >= 0.9 for row in rows])
        if any(row.get("confidence") is not None for row in rows)
        else None
    ),
    "confident_within_1": lambda rows: _share(_confident(rows), "within_1"),
    "profile_ms_median": lambda rows: _median(rows, "profile_ms"),
    "profile_ms_under_2": lambda rows: share(
        [row["profile_ms"] < 2.0 for row in rows if row.get("profile_ms") is not None]
    ),
    "profile_db_median": lambda rows: _median(rows, "profile_db"),
    "profile_db_under_1": lambda rows: share(
        [row["profile_db"] < 1.0 for row in rows if row.get("profile_db") is not None]
    ),
    "hands_told": lambda rows: _share(rows, "hands_told"),
    "hands_apart": lambda rows: share(
        [row["hands_apart"] >= 0.95 for row in rows if row.get("hands_apart") is not None]
    ),
    "hands_named": lambda rows: share(
        [row["hands_named"] >= 0.95 for row in rows if row.get("hands_named") is not None]
    ),
    "seconds": lambda rows: _median(rows, "seconds"),
    "crashes": lambda rows: sum(bool(row.get("error")) for row in rows),
}
_LABELS = {
    "f10_mean": "F, strokes within 10 ms",
    "f25_mean": "F, strokes within 25 ms",
    "error_median_ms": "error of time, median (ms)",
    "error_p95_ms": "error of time, 95th percentile (ms)",
    "offset_ms": "constant lag taken out (ms)",
    "deviation_r": "heard against true deviation from the grid, r",
    "level_r": "heard against true level, r",
    "exact": "count held exact",
    "within_1": "count held within one",
    "ended_right": "held or not, told rightly",
    "refused_judgeable": "judgeable, but refused",
    "grid_right": "count 1 found (within half a place)",
    "confident": "given confidence 0.9 or more",
    "confident_within_1": "of these within one count",
    "profile_ms_median": "place profile, worst place (ms)",
    "profile_ms_under_2": "place profile within 2 ms",
    "profile_db_median": "place profile, worst place (dB)",
    "profile_db_under_1": "place profile within 1 dB",
    "hands_told": "alternating: hands answered",
    "hands_apart": "of these told apart (95 % of strokes)",
    "hands_named": "of these left and right named rightly",
    "seconds": "time a take, median (s)",
    "crashes": "crashes",
}


def summary(rows: Rows) -> dict:
    """All figures, by tier and listener.

    A tier holds takes that are played and judgeable, takes that nobody plays, or takes that
    cannot be judged; each kind has its own figures.
    """
    figures: dict = {}
    for tier in dict.fromkeys(row["tier"] for row in rows):
        for listener in dict.fromkeys(row["listener"] for row in rows):
            mine = [row for row in rows if row["tier"] == tier and row["listener"] == listener]
            if mine:
                figures.setdefault(tier, {})[listener] = _figures(mine)
        shared = _shared_with_peers([row for row in rows if row["tier"] == tier])
        if shared:
            figures[tier][OURS_WITH_PEERS] = _figures(shared)
    return figures


def _shared_with_peers(rows: Rows) -> Rows:
    """Our rows of the takes that the peers heard too, where they heard only some."""
    ours = [row for row in rows if row["listener"] == OURS]
    seeds = {row["seed"] for row in rows if row["listener"] in PEERS}
    return [row for row in ours if row["seed"] in seeds] if len(seeds) < len(ours) else []


def _figures(rows: Rows) -> dict:
    if not rows[0]["plays"]:
        heard = [row["false_per_minute"] for row in rows]
        return {
            "takes": len(rows),
            "false_per_minute": float(np.mean(heard)),
            "false_per_minute_worst": float(np.max(heard)),
            "silent_takes": share([one == 0 for one in heard]),
        }
    if not rows[0]["judgeable"]:
        kinds = dict.fromkeys(row["kind"] for row in rows)
        return {
            "takes": len(rows),
            "refused": _share(rows, "refused"),
            "by_kind": {
                kind: _share([row for row in rows if row["kind"] == kind], "refused")
                for kind in kinds
            },
            "crashes": sum(bool(row.get("error")) for row in rows),
        }
    return {"takes": len(rows)} | {key: tell(rows) for key, tell in _SCORED.items()}


def _cell(value: object) -> str:
    if value is None:
        return "–"
    if isinstance(value, dict):
        if not value["of"]:
            return "–"
        low, high = 100 * value["low"], 100 * value["high"]
        return f"{100 * value['share']:.1f} % [{low:.1f}, {high:.1f}] of {value['of']}"
    return f"{value:.3g}" if isinstance(value, float) else str(value)


def _table(head: list[str], lines: list[list[str]]) -> list[str]:
    rule = ["---"] * len(head)
    return ["| " + " | ".join(line) + " |" for line in (head, rule, *lines)] + [""]


def _ratio(figures: dict, key: str, turn: Callable[[float], float] = lambda value: value) -> str:
    """How many times larger the best peer's error is than ours."""
    ours = figures.get(OURS_WITH_PEERS, figures.get(OURS, {})).get(key)
    rivals = [
        turn(one[key])
        for name, one in figures.items()
        if name in PEERS and one.get("f10_mean") is not None and one.get(key) is not None
    ]
    if ours is None or not rivals:
        return "–"
    mine = turn(ours)
    return "over 1000" if mine < 1e-3 * min(rivals) else f"{min(rivals) / mine:.1f}"


def _played_tables(figures: dict) -> list[str]:
    lines: list[str] = []
    for tier, listeners in figures.items():
        first = next(iter(listeners.values()))
        if "exact" not in first:
            continue
        lines += [f"## {tier}: {first['takes']} takes", ""]
        names = list(listeners)
        body = []
        for key, label in _LABELS.items():
            cells = [_cell(listeners[name].get(key)) for name in names]
            if any(cell not in ("–", "0") for cell in cells):
                body.append([label, *cells])
        lines += _table(["", *names], body)
        misses = _ratio(listeners, "f10_mean", lambda value: 1.0 - value)
        late = _ratio(listeners, "error_p95_ms")
        lines += [
            f"Best peer against ours: (1 − F within 10 ms) is {misses} times, the 95th percentile "
            f"of the error of time {late} times.",
            "",
        ]
    return lines


def _other_tables(figures: dict) -> list[str]:
    lines: list[str] = []
    silent, hopeless = [], []
    for tier, listeners in figures.items():
        for name, one in listeners.items():
            if "false_per_minute" in one:
                cells = [one["false_per_minute"], one["false_per_minute_worst"]]
                silent.append([tier, name, str(one["takes"]), *map(_cell, cells)])
                silent[-1].append(_cell(one["silent_takes"]))
            elif "refused" in one and name == OURS:
                hopeless.append([tier, "all", _cell(one["refused"])])
                hopeless += [[tier, kind, _cell(got)] for kind, got in one["by_kind"].items()]
    if silent:
        head = ["tier", "listener", "takes", "strokes a minute", "worst take", "takes with none"]
        lines += ["## Nobody plays", "", *_table(head, silent)]
    if hopeless:
        head = ["tier", "why", "refused"]
        lines += ["## Cannot be judged", "", *_table(head, hopeless)]
    return lines


def _reliability_table(rows: Rows) -> list[str]:
    ours = [row for row in rows if row["listener"] == OURS and row.get("within_1") is not None]
    if not ours:
        return []
    body = [
        [f"{one['from']:.2f} to {one['to']:.2f}", _cell(one["given"]), _cell(one)]
        for one in reliability(ours)
    ]
    head = ["confidence", "mean given", "within one count"]
    return ["## Does the confidence hold?", "", *_table(head, body)]


def markdown(rows: Rows, peers: dict[str, dict], notes: list[str]) -> str:
    """Write the whole report."""
    figures = summary(rows)
    lines = ["# How well it hears", ""]
    lines += [
        "Made by `python bench/run.py`. Shares carry Wilson's 95 % interval. Every listener is "
        "relieved of one constant lag a take. Peers are handed the true grid and are scored from "
        "the first place on; ours is judged by the reading that a user sees. 'True strokes, 1 ms "
        "of noise' is the definition applied to what was played, shaken by a millisecond: no "
        "listener can do much better. A judgeable take that was refused, or on which the program "
        "failed, counts as a miss.",
        "",
        *[f"- {note}" for note in notes],
        "",
    ]
    lines += _played_tables(figures) + _other_tables(figures) + _reliability_table(rows)
    if peers:
        lines += ["## Peers as tuned", ""]
        body = [
            [
                name,
                str(one["curve"] | one["pick"]),
                f"{one['tuning_f10']:.3f}",
                str(one["settings_tried"]),
                str(one["tuning_takes"]),
            ]
            for name, one in peers.items()
        ]
        head = ["peer", "settings", "F within 10 ms in tuning", "settings tried", "takes"]
        lines += _table(head, body)
    return "\n".join(lines)
