"""Ctrl-C that is not lost: what a library swallows while it is being loaded is raised again."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import ParamSpec, TypeVar

__all__ = ["breaking_off", "step_by_step"]

_Words = ParamSpec("_Words")
_Answer = TypeVar("_Answer")


@contextmanager
def breaking_off() -> Iterator[Callable[[], None]]:
    """Remember Ctrl-C while something long is done, and raise it again at its end.

    A library that tries one thing after another while it is loaded may take the interruption for
    the failure of one of them, and go on.

    Yields
    ------
    go_on : to be called between the steps; raises KeyboardInterrupt if there was one

    Raises
    ------
    KeyboardInterrupt   at once as ever, from ``go_on``, or at the end
    """
    interrupted = False

    def remember(number: int, frame: FrameType | None) -> None:
        nonlocal interrupted
        interrupted = True
        signal.default_int_handler(number, frame)

    def go_on() -> None:
        if interrupted:
            raise KeyboardInterrupt

    in_thread = threading.current_thread() is not threading.main_thread()
    if in_thread or signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        yield go_on
        return
    before = signal.signal(signal.SIGINT, remember)
    try:
        yield go_on
    finally:
        signal.signal(signal.SIGINT, before)
    go_on()


def step_by_step(
    step: Callable[_Words, _Answer], go_on: Callable[[], None]
) -> Callable[_Words, _Answer]:
    """Make of a function one that begins only if there was no Ctrl-C.

    Parameters
    ----------
    step : does one step of something long
    go_on : as `breaking_off` yields it
    """

    def after_asking(*words: _Words.args, **named: _Words.kwargs) -> _Answer:
        go_on()
        return step(*words, **named)

    return after_asking
