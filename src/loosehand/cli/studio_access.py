"""What the commands of the studio share: the studio, the clock, files and tables."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from loosehand.cli.speech import width_of_terminal
from loosehand.errors import Conflict, InputError

if TYPE_CHECKING:
    from rich.console import RenderableType

    from loosehand.studio.database import Studio

__all__ = ["draw_table", "many", "present_moment", "read_file", "studio_at", "target_file"]

_BUSY_TIMEOUT_S = 3.0


@contextmanager
def studio_at(word: str, *, create: bool) -> Iterator["Studio"]:
    """Open the studio that was asked for, and let go of it."""
    from loosehand.studio.database import default_folder, open_studio

    folder = Path(word) if word else default_folder()
    opened = open_studio(folder, create=create, busy_timeout_s=_BUSY_TIMEOUT_S)
    try:
        yield opened
    finally:
        opened.close()


def present_moment() -> datetime:
    """Return the present moment: the one place where these commands read the clock."""
    return datetime.now(UTC)


def draw_table(part: "RenderableType") -> None:
    """Print a table as wide as the terminal."""
    from rich.console import Console

    from loosehand.studio.terminal_chart import draw

    draw(Console(width=width_of_terminal(), file=sys.stdout), part)


def read_file(file: str) -> bytes:
    """Read a file that was named, or say why not."""
    try:
        return Path(file).read_bytes()
    except (OSError, ValueError) as error:
        raise InputError(f"{file} cannot be read: {getattr(error, 'strerror', error)}") from error


def target_file(file: str, *, over: bool) -> Path:
    """Return where to write; refuse what is there unless told so."""
    path = Path(file)
    if path.is_dir() or not path.absolute().parent.is_dir():
        raise InputError(f"{file} is not a place for a file")
    if path.exists() and not over:
        raise Conflict(f"{file} is there already: say --over to write over it")
    return path.absolute()


def many(count: int, what: str) -> str:
    """Count things.

    Examples
    --------
    >>> many(1, "round"), many(2, "round")
    ('1 round', '2 rounds')
    """
    return f"{count} {what}{'' if count == 1 else 's'}"
