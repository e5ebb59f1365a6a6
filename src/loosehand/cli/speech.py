"""What the command line says, and where: results to the output, sentences to the error stream."""

import sys

__all__ = ["say", "warn", "width_of_terminal"]

_NARROWEST = 40
_PLAIN_WIDTH = 80


def say(text: str) -> None:
    """Print a result."""
    print(text)


def warn(sentence: str) -> None:
    """Print one sentence to the error stream, whatever line breaks it came with."""
    print(f"loosehand: {' '.join(sentence.split())}", file=sys.stderr)


def width_of_terminal() -> int:
    """Return the columns of the terminal; 80 where the output goes elsewhere."""
    if not sys.stdout.isatty():
        return _PLAIN_WIDTH
    import shutil

    return max(_NARROWEST, shutil.get_terminal_size().columns)
