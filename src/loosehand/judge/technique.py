"""Technique as heard: how many strokes come on a drive, what the drive sounds like, what is off.

All of it is of the strokes of one hand matched before the break; of an alternating take each hand
stands by itself. What cannot be told is None, with a sentence in ``notes``. Sound shows accents and
lateness, not the hand: a technique played without accents sounds like single strokes.

Where a part was played, the level that it asks for (accents, ghost notes, instruments, dynamics) is
taken off before soft and loud places, push against pull, decay, taps and weak accents are judged:
what a part wants is no fault. The drive, and how it sounds, stay as heard.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loosehand.judge.cycle_profile import LEAST_CYCLES, CycleProfile, cycle_of, cycle_profile
from loosehand.judge.drive_length import DriveLength, drive_length
from loosehand.judge.drive_shape import NO_SHAPE, DriveShape, PushPull, drive_shape, push_pull
from loosehand.judge.evenness import HeldStrokes, check_held
from loosehand.judge.main_fault import Findings, MainFault, doubtful_fault, main_fault
from loosehand.judge.place_faults import PlaceFault, place_faults

__all__ = ["HandsTechnique", "TechniqueHeard", "hear_technique"]

FloatArray = NDArray[np.float64]

_WITH_THE_COUNT = (
    "The drive falls on the same places of every count, so accents of the count, played with other "
    "strokes, would sound the same."
)
_ONE_DRIVE = (
    "No drive of several strokes is heard; one played without accents would sound like this too."
)
_CANNOT_TELL = "How many strokes come on a drive cannot be told: {} and {} both fit what was heard."


@dataclass(frozen=True)
class TechniqueHeard:
    """Technique of one hand, as heard.

    Attributes
    ----------
    drive : how many strokes come on a drive, or None where too few were heard
    shape : contrast, decay, stretch and how the taps change
    push_pull : odd strokes against even ones, or None where too few were heard
    faults : places that are off, those of timing first
    main_fault : what is most times what can be heard, or None
    doubtful_fault : what may be the main fault but does not beat its uncertainty; None where one is
        named
    notes : sentences about what could not be told
    """

    drive: DriveLength | None
    shape: DriveShape
    push_pull: PushPull | None
    faults: tuple[PlaceFault, ...]
    main_fault: MainFault | None
    doubtful_fault: MainFault | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class HandsTechnique:
    """Technique of each hand of an alternating take."""

    left: TechniqueHeard
    right: TechniqueHeard


def hear_technique(held: HeldStrokes, *, asked_db: FloatArray | None = None) -> TechniqueHeard:
    """Tell the technique of one hand.

    Parameters
    ----------
    held : its strokes matched before the break, on its own grid
    asked_db : float array, one number a stroke, level that a part asks for and that is not the
        hand's own, around its mean; None where no part was played

    Returns
    -------
    technique : TechniqueHeard

    Raises
    ------
    BadTimes
        If the strokes are not one finite row in order.
    """
    check_held(held)
    cycle = cycle_of(held.places_per_count)
    level = cycle_profile(held, held.level_db, cycle=cycle)
    timing = cycle_profile(held, 1e3 * held.asynchrony_s, cycle=cycle)
    if level is None or timing is None:
        note = (
            f"Technique needs each of {cycle} places played {LEAST_CYCLES} times before the break, "
            f"got {held.place_index.size} strokes in all."
        )
        return TechniqueHeard(None, NO_SHAPE, None, (), None, None, (note,))
    if asked_db is None:
        return _told(held, level, timing, held, level)
    own = replace(held, level_db=held.level_db - asked_db)
    own_level = cycle_profile(own, own.level_db, cycle=cycle)
    assert own_level is not None, "as many strokes as before"
    return _told(held, level, timing, own, own_level)


def _told(
    held: HeldStrokes,
    level: CycleProfile,
    timing: CycleProfile,
    own: HeldStrokes,
    own_level: CycleProfile,
) -> TechniqueHeard:
    """Tell the technique from its profiles: the drive as heard, the rest from the player's own."""
    drive = drive_length(level, timing, places_per_count=held.places_per_count)
    place_ms = 1e3 * held.place_s
    faults = place_faults(
        own_level,
        timing,
        places_per_count=held.places_per_count,
        place_ms=place_ms,
        drives=drive.plausible,
    )
    heard_shape = own_shape = NO_SHAPE
    if drive.strokes is not None and drive.phase is not None:
        of_drive = {"strokes": drive.strokes, "phase": drive.phase}
        heard_shape = drive_shape(held, level, timing, **of_drive)
        own_shape = heard_shape if own is held else drive_shape(own, own_level, timing, **of_drive)
    found = Findings(
        faults=faults,
        shape=own_shape,
        push_pull=push_pull(own_level, timing),
        drive=drive,
        places_per_count=held.places_per_count,
        place_ms=place_ms,
        held_minutes=float(held.place_index[-1] - held.place_index[0]) * held.place_s / 60.0,
    )
    return TechniqueHeard(
        drive=drive,
        shape=heard_shape,
        push_pull=found.push_pull,
        faults=faults,
        main_fault=main_fault(found),
        doubtful_fault=doubtful_fault(found),
        notes=_notes(drive),
    )


def _notes(drive: DriveLength) -> tuple[str, ...]:
    """What could not be told of the drive."""
    if drive.strokes is None:
        first, second = sorted(range(4), key=lambda at: -drive.chances[at])[:2]
        return (_CANNOT_TELL.format(first + 1, second + 1),)
    if drive.strokes == 1:
        return (_ONE_DRIVE,)
    return (_WITH_THE_COUNT,) if drive.with_the_count else ()
