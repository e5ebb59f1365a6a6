"""The command line: hear takes, keep the chart.

Each command imports what it needs, so that the help comes at once. A refusal is one sentence on
the error stream and the exit status that ``loosehand.errors`` gives it.
"""

from loosehand.cli.run import main

__all__ = ["main"]
