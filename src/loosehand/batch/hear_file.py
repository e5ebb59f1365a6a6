"""A file in, its reading out; and many files at once."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

from loosehand.errors import LoosehandError
from loosehand.hear.acoustics import Acoustics
from loosehand.hear.decode import read_midi, read_mono, sniff
from loosehand.hear.heard import Heard, ListenRequest
from loosehand.hear.listen import MEASUREMENT_SD_S, listen, listen_as_told
from loosehand.hear.listen_midi import listen_midi
from loosehand.judge import Reading, read_take

__all__ = ["LONGEST_S", "hear_file", "hear_many"]

LONGEST_S = 420.0
"""How much of a recording is read: seven minutes hold any round and nearly any tune."""

_LEADS_WITH: Literal["left", "right"] = "right"


def hear_file(
    path: Path,
    request: ListenRequest,
    *,
    notes: frozenset[int] | None = None,
    acoustics: Acoustics | None = None,
) -> Reading:
    """Hear and judge one take.

    Parameters
    ----------
    path : a recording or a Standard MIDI File
    request : what is told of the take
    notes : MIDI notes that count as strokes, or None for all
    acoustics : what the live ear was told of a take of the stand, None to find it out

    Returns
    -------
    reading : the reading, judged or with the reason why not

    Raises
    ------
    InputError, MediaError    where the file is missing or is not readable sound or MIDI
    """
    if sniff(path) == "midi":
        heard = listen_midi(read_midi(path), request, notes=notes)
        return _judged(heard, request, measurement_sd_s=0.0)
    sound = read_mono(path, longest_s=LONGEST_S)
    heard = (
        listen(sound.samples, request, sample_rate_hz=sound.sample_rate_hz)
        if acoustics is None
        else listen_as_told(sound.samples, request, acoustics)
    )
    quality = replace(
        heard.quality,
        notes=(*sound.notes, *heard.quality.notes),
        assumed=(*sound.assumed, *heard.quality.assumed),
    )
    return _judged(replace(heard, quality=quality), request, measurement_sd_s=MEASUREMENT_SD_S)


def _judged(heard: Heard, request: ListenRequest, *, measurement_sd_s: float) -> Reading:
    if request.hand == "alternating":
        sentence = f"The {_LEADS_WITH} hand was taken to lead."
        quality = heard.quality
        heard = replace(heard, quality=replace(quality, assumed=(*quality.assumed, sentence)))
    return read_take(heard, request, leads_with=_LEADS_WITH, measurement_sd_s=measurement_sd_s)


def _try(job: tuple[Path, ListenRequest, frozenset[int] | None]) -> Reading | LoosehandError:
    path, request, notes = job
    try:
        return hear_file(path, request, notes=notes)
    except LoosehandError as error:
        return error


def hear_many(
    paths: Sequence[Path],
    request: ListenRequest,
    *,
    notes: frozenset[int] | None,
    workers: int | None,
) -> Iterator[tuple[Path, Reading | LoosehandError]]:
    """Hear many takes at once, in the order given.

    Parameters
    ----------
    paths : the takes
    request : what is told of each of them
    notes : MIDI notes that count as strokes, or None for all
    workers : processes, or None for one a core

    Yields
    ------
    path, reading : the reading, or the error that says why there is none
    """
    jobs = [(path, request, notes) for path in paths]
    if workers == 1 or len(jobs) < 2:
        yield from zip(paths, map(_try, jobs), strict=True)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from zip(paths, pool.map(_try, jobs), strict=True)
