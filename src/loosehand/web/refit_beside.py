"""The command ``refit``, run beside the pages: it scores forecasts, which no page can wait for.

It is a process of its own, of low priority, so that no page is delayed. It runs when the pages
are opened, and again when a reach is looked at on a later day. What it stores shows on the next
look.
"""

import os
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path
from threading import Lock

__all__ = ["RefitBeside", "refit_command"]

_LOWER = 10
_LONGEST_END_S = 5.0


def refit_command(folder: Path, *, today: date) -> list[str]:
    """Words of the command for a studio: one process, on a day."""
    return [
        *(sys.executable, "-m", "loosehand", "refit"),
        *("--studio", str(folder), "--day", today.isoformat(), "--workers", "1"),
    ]


class RefitBeside:
    """Runs the command for a studio, once a day at most, until closed.

    Parameters
    ----------
    folder : of the studio
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = Lock()
        self._last: date | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._is_closed = False

    def ask(self, *, today: date) -> bool:
        """Begin, unless it runs or ran today; never waits.

        Returns
        -------
        begun : whether it was begun now
        """
        with self._lock:
            runs = self._process is not None and self._process.poll() is None
            if self._is_closed or runs or self._last == today:
                return False
            self._last = today
            self._process = _begun(refit_command(self._folder, today=today))
            return self._process is not None

    def wait(self, *, longest_s: float) -> int | None:
        """Wait for its end; return its exit status, None where it was not begun."""
        return None if self._process is None else self._process.wait(longest_s)

    def close(self) -> None:
        """End it where it still runs; what it had not stored yet is done another time."""
        with self._lock:
            self._is_closed = True
            if self._process is None or self._process.poll() is not None:
                return
            self._process.terminate()
            try:
                self._process.wait(_LONGEST_END_S)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()


def _begun(command: Sequence[str]) -> "subprocess.Popen[bytes] | None":
    """Begin a command that says nothing, with low priority; None where that cannot be."""
    lower = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0)
    nowhere = subprocess.DEVNULL
    try:
        begun = subprocess.Popen(
            command, stdin=nowhere, stdout=nowhere, stderr=nowhere, creationflags=lower
        )
    except OSError:
        return None
    if hasattr(os, "setpriority"):
        with suppress(OSError):  # it may have ended already
            os.setpriority(os.PRIO_PROCESS, begun.pid, _LOWER)
    return begun
