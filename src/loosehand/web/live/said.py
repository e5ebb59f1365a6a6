"""Sentences of the stand: what a sound check found, why a round is void."""

from typing import Any

from loosehand.hear.sound_check import SoundCheck

__all__ = ["VOID_REASONS", "check_sentences", "level_sentence", "void_reason", "void_sentence"]

_NOISY_DB = -45.0
_CLIPPED = 0.02
_OTHER_LEVEL_DB = 6.0
_WANTED_OFF = {
    "echoCancellation": "echo cancellation",
    "noiseSuppression": "noise suppression",
    "autoGainControl": "gain control",
}

VOID_REASONS = {
    "device": "A sound device was plugged in or taken away",
    "interrupted": "The sound was interrupted, by a call or a sleeping screen",
    "microphone": "The microphone was lost",
    "sound was lost": "Sound was lost on its way",
    "nobody played": "Nobody played",
    "the page went away in the round": "The page went away in the round",
    "the sound could not be read": "The sound could not be read",
    "another window took over": "Another window took over",
}


def void_sentence(why: str) -> str:
    """Say why a round is void.

    Examples
    --------
    >>> void_sentence("microphone")
    'The microphone was lost: the round is void and comes again.'
    """
    return f"{VOID_REASONS.get(why, why)}: the round is void and comes again."


def void_reason(why: str) -> str:
    """Why a round is void, as it goes on in a sentence; what is not known stands as it is.

    Examples
    --------
    >>> void_reason("microphone"), void_reason("the phone rang")
    ('the microphone was lost', 'the phone rang')
    """
    known = VOID_REASONS.get(why)
    return why if known is None else known[0].lower() + known[1:]


def level_sentence(
    level_db: float | None, *, checked_db: float | None, loudness: str | None
) -> str | None:
    """Say where the strokes of a round were not as loud as its tag says.

    The tag stands for the strokes of the sound check: levels are relative, so nothing else can
    be told. Six decibels are our own bound.

    Examples
    --------
    >>> level_sentence(-30.0, checked_db=-20.0, loudness="loud")
    'The strokes were 10 dB softer than in the sound check: is this round still loud?'
    """
    if level_db is None or checked_db is None or loudness is None:
        return None
    off_db = level_db - checked_db
    if abs(off_db) < _OTHER_LEVEL_DB:
        return None
    way = "softer" if off_db < 0 else "louder"
    return (
        f"The strokes were {abs(off_db):.0f} dB {way} than in the sound check: "
        f"is this round still {loudness}?"
    )


def check_sentences(check: SoundCheck, *, settings: dict[str, Any]) -> list[str]:
    """Say what a sound check found, the faults first.

    Parameters
    ----------
    check : what was found
    settings : of the microphone, as the page read them back
    """
    return [*_settings(settings), *_level(check), *_room(check), *_way(check)]


def _settings(settings: dict[str, Any]) -> list[str]:
    """What the browser says of itself: unknown is not off."""
    on = [word for name, word in _WANTED_OFF.items() if settings.get(name) is True]
    unknown = [word for name, word in _WANTED_OFF.items() if settings.get(name) is None]
    said = []
    if on:
        said.append(f"The browser keeps {', '.join(on)} on: levels are not to be trusted.")
    if unknown:
        said.append(f"The browser does not say whether {', '.join(unknown)} is off.")
    return said


def _level(check: SoundCheck) -> list[str]:
    if check.clipped_share > _CLIPPED:
        return ["The strokes are too loud for the microphone: move it away, and check again."]
    if check.own_level_db is None:
        return ["No stroke was heard: strike when the clicks have stopped, and check again."]
    return [f"{check.strokes} strokes heard, at {check.own_level_db:.0f} dB."]


def _room(check: SoundCheck) -> list[str]:
    noise = f"The room lies at {check.noise_floor_db:.0f} dB."
    if check.noise_floor_db > _NOISY_DB:
        return [noise + " That is loud: soft strokes may be missed."]
    return [noise]


def _way(check: SoundCheck) -> list[str]:
    path = check.path
    if path is None:
        return [
            "The click is not in the sound. With headphones, hold an ear cup to the microphone and "
            "check again; without that, lead and lag are relative."
        ]
    drift = (
        f", the clocks {path.drift_ppm:+.0f} millionths apart" if abs(path.drift_ppm) > 5 else ""
    )
    return [
        f"The click comes back after {1e3 * path.round_trip_s:.1f} ms, "
        f"give or take {1e3 * path.residual_s:.2f} ms, at {path.level_db:.0f} dB{drift}."
    ]
