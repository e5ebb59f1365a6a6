"""Ctrl-C that is not lost: what a library swallows while it is being loaded is raised again."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["breaking_off"]


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
