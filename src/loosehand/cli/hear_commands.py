"""``loosehand hear``: the reading of a take, or of many."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from loosehand.cli.options import (
    AsJson,
    FirstCount,
    HandWord,
    Notes,
    PerCount,
    assumed_of,
    hear_request_of,
    notes_of,
    workers_of,
)
from loosehand.cli.speech import say, warn
from loosehand.errors import BadNotation, InputError, LoosehandError, exit_status

if TYPE_CHECKING:
    from loosehand.hear.heard import ListenRequest
    from loosehand.judge.part_to_hear import PartToHear
    from loosehand.studio.hearing import Judged, Told

__all__ = ["EXIT_NOBODY_PLAYS", "hear", "hear_told", "print_reading"]

EXIT_NOBODY_PLAYS = 4

_OF_ONE_HAND = ("left", "right")


def hear(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help="Recordings or MIDI.")],
    tempo: Annotated[
        str, typer.Option("--tempo", help="Counts a minute of the click, or auto.")
    ] = "",
    per_count: PerCount = "",
    hand: HandWord = "",
    counts: Annotated[str, typer.Option("--counts", help="Counts of the round.")] = "",
    round_s: Annotated[str, typer.Option("--round-s", help="Seconds of the round.")] = "",
    first_count_s: FirstCount = "",
    note: Notes = None,
    workers: Annotated[
        str, typer.Option("--workers", help="Takes heard at once; one a core if left out.")
    ] = "",
    part: Annotated[
        str, typer.Option("--part", metavar="FILE", help="A part: which of its accents came.")
    ] = "",
    limb: Annotated[
        str, typer.Option("--limb", help="With --part: whose line; that of --hand if left out.")
    ] = "",
    as_json: AsJson = False,
) -> int:
    """Hear at which count the hand lost the click."""
    asked = _part_asked(part, limb, hand, files)
    if asked is not None:
        tempo, per_count, hand = _told_by_part(asked, tempo, per_count, hand)
        counts = counts or ("" if round_s else str(asked.counts))
    request = hear_request_of(
        tempo=tempo,
        per_count=per_count,
        hand=hand,
        counts=counts,
        round_s=round_s,
        first_count_s=first_count_s,
    )
    assumed = assumed_of(tempo=tempo, per_count=per_count, hand=hand)
    notes = notes_of(note)
    at_once = workers_of(workers)
    if len(files) > 1:
        return _hear_many(files, request, notes, assumed, workers=at_once, as_json=as_json)
    return _hear_one(files[0], request, notes, assumed, asked=asked, as_json=as_json)


def _part_asked(part: str, limb: str, hand: str, files: Sequence[str]) -> "PartToHear | None":
    """Return what the take is heard against, None where no part was told."""
    if not part:
        if limb:
            raise InputError("say --part with --limb: a limb is one of a part")
        return None
    if len(files) > 1:
        raise InputError("say --part with one take, not with many")
    from loosehand.cli.studio_access import read_file
    from loosehand.judge.part_to_hear import limb_named, part_to_hear
    from loosehand.sheets.part_files import part_of_file

    named = limb_named(limb or ("left hand" if hand == "left" else "right hand"))
    if hand in _OF_ONE_HAND and named.endswith("hand") and named != f"{hand} hand":
        raise InputError(
            f"--hand {hand} and --limb '{named}' contradict each other: say one of them"
        )
    try:
        read = part_of_file(part, read_file(part))
    except BadNotation as error:
        raise BadNotation(f"{Path(part).name}: {error}") from error
    return part_to_hear(read, named)


def _told_by_part(
    asked: "PartToHear", tempo: str, per_count: str, hand: str
) -> tuple[str, str, str]:
    """Tempo, places a count and hand: as said, else as the part has them."""
    if per_count and per_count != str(asked.places_per_count):
        raise InputError(
            f"per_count = {per_count[:40]} is not the part's, which has {asked.places_per_count} "
            "places in a count: leave it out"
        )
    if hand == "alternating":
        raise InputError("say --hand left or right with --part: its accents are those of one limb")
    own = asked.limb.split()[0] if asked.limb.endswith("hand") else hand
    return tempo or f"{asked.tempo_bpm:g}", str(asked.places_per_count), hand or own


def hear_told(path: Path, told: "Told") -> "Judged":
    """Hear a file for the studio."""
    from loosehand import __version__
    from loosehand.batch.hear_file import hear_file
    from loosehand.hear.scheduled import acoustics_of, round_acoustics_from_json
    from loosehand.studio.hearing import Judged

    known = None if told.acoustics is None else round_acoustics_from_json(told.acoustics)
    reading = hear_file(
        path,
        told.request,
        notes=told.notes,
        acoustics=None if known is None else acoustics_of(known),
    )
    return Judged(reading.to_json(), __version__)


def print_reading(body: dict[str, Any], *, as_json: bool) -> None:
    """Print a reading, as one object or in words."""
    if as_json:
        say(json.dumps(body))
        return
    from loosehand.cli.speech import width_of_terminal
    from loosehand.studio.terminal_reading import words_of

    say(words_of(body, width=min(width_of_terminal(), 100)))


def _hear_one(
    file: str,
    request: "ListenRequest",
    notes: frozenset[int] | None,
    assumed: Sequence[str],
    *,
    asked: "PartToHear | None",
    as_json: bool,
) -> int:
    """Hear one take and print its reading."""
    from loosehand.batch.hear_file import hear_file

    reading = hear_file(Path(file), request, notes=notes)
    body = _with_assumed(reading.to_json(), assumed)
    if asked is None:
        print_reading(body, as_json=as_json)
    else:
        _print_against(body, asked, as_json=as_json)
    return _status_of(body)


def _print_against(body: dict[str, Any], asked: "PartToHear", *, as_json: bool) -> None:
    """Print a reading and what it says of the part."""
    from loosehand.judge.part_heard import hear_part, part_json
    from loosehand.studio.part_take_words import (
        bars_heard,
        cure_in_words,
        drive_in_words,
        told_in_words,
    )

    heard = hear_part(body, asked, count_held=body["count_held"])
    body["part"] = part_json(heard)
    if as_json:
        print_reading(body, as_json=True)
        return
    # The sentence of the technique is the one told against the part, with one cure in all.
    print_reading({**body, "technique": body["part"]["technique"]}, as_json=False)
    say(told_in_words(heard, bars_heard(heard, ended=body["ended"])))
    if cure := cure_in_words(heard):
        say(cure)
    if drive := drive_in_words(body, asked):
        say(f"Drive as heard: {drive}.")


def _with_assumed(body: dict[str, Any], assumed: Sequence[str]) -> dict[str, Any]:
    """Add what was left out at the command line to what was assumed."""
    quality = body["quality"]
    return {**body, "quality": {**quality, "assumed": [*assumed, *quality["assumed"]]}}


def _status_of(body: dict[str, Any]) -> int:
    """Return the exit status of a reading."""
    from loosehand.studio.hearing import nobody_plays

    return EXIT_NOBODY_PLAYS if nobody_plays(body) else 0


def _hear_many(
    files: Sequence[str],
    request: "ListenRequest",
    notes: frozenset[int] | None,
    assumed: Sequence[str],
    *,
    workers: int | None,
    as_json: bool,
) -> int:
    """Hear many takes and print a line for each; a file that cannot be read stops none of them."""
    from loosehand.batch.hear_file import hear_many
    from loosehand.studio.terminal_reading import line_of

    worst = 0
    for path, reading in hear_many(
        [Path(file) for file in files], request, notes=notes, workers=workers
    ):
        if isinstance(reading, LoosehandError):
            warn(f"{path}: {reading}")
            worst = max(worst, exit_status(reading))
            continue
        body = _with_assumed(reading.to_json(), assumed)
        say(json.dumps({"file": str(path), **body}) if as_json else line_of(str(path), body))
        worst = max(worst, _status_of(body))
    return worst
