"""Run a command and turn whatever happens into a sentence and an exit status."""

import os
import sys
from collections.abc import Sequence
from typing import Annotated, TextIO

import typer

from loosehand import __version__
from loosehand.cli.hear_commands import hear
from loosehand.cli.part_commands import part
from loosehand.cli.reach_commands import reach, refit
from loosehand.cli.rounds_commands import rounds
from loosehand.cli.serve_commands import serve
from loosehand.cli.speech import say, warn
from loosehand.cli.studio_commands import (
    chart,
    chart_in,
    chart_out,
    correct,
    demo,
    drop_sound,
    file_take,
    pack,
    reread,
    unpack,
    write,
)
from loosehand.errors import LoosehandError, exit_status

__all__ = ["app", "main"]

EXIT_UNFORESEEN = 1
EXIT_UNUSABLE = 2
EXIT_BROKEN_OFF = 130

app = typer.Typer(
    name="loosehand",
    help="Hear at which count a hand lost the click, and keep the chart of it.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


@app.callback(invoke_without_command=True)
def _before(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    if version:
        say(__version__)
        raise typer.Exit(0)
    if context.invoked_subcommand is None:
        say(context.get_help())


app.command("hear")(hear)
app.command("file")(file_take)
app.command("write")(write)
app.command("correct")(correct)
app.command("chart")(chart)
app.command("chart-out")(chart_out)
app.command("chart-in")(chart_in)
app.command("pack")(pack)
app.command("unpack")(unpack)
app.command("reread")(reread)
app.command("drop-sound")(drop_sound)
app.command("demo")(demo)
app.command("reach")(reach)
app.command("refit")(refit)
app.command("rounds")(rounds)
app.command("part")(part)
app.command("serve")(serve)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status.

    Parameters
    ----------
    arguments : words after the program's name; those of the process for None

    Returns
    -------
    status : 0 done, 2 unusable request or studio, 3 not sound or MIDI, 4 nobody plays,
        1 something unforeseen, 130 broken off
    """
    # Many small products: a second thread for each only waits. Read when numpy is loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        _never_fail_for_a_letter(stream)
    words = None if arguments is None else list(arguments)
    try:
        status = app(words, prog_name="loosehand", standalone_mode=False)
        sys.stdout.flush()
    except LoosehandError as error:
        warn(str(error))
        return exit_status(error)
    except typer.TyperException as error:
        warn(f"{error.format_message()} (loosehand --help shows what can be said)")
        return EXIT_UNUSABLE
    except (BrokenPipeError, SystemExit):
        _forget_output()
        return 0
    except typer.Abort:
        status = EXIT_BROKEN_OFF
    except Exception as error:
        warn(f"something unforeseen happened ({type(error).__name__}: {error})")
        return EXIT_UNFORESEEN
    if status == EXIT_BROKEN_OFF:
        warn("broken off")
    return status if isinstance(status, int) else 0


def _never_fail_for_a_letter(stream: TextIO) -> None:
    """Print a letter that the terminal does not know as '?', rather than fail."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")


def _forget_output() -> None:
    """Let Python close an output that nobody reads any more without a complaint."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
