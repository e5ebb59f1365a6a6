"""The command that serves the pages."""

import os
import sys
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from loosehand.cli.break_off import breaking_off, step_by_step
from loosehand.cli.hear_commands import hear_told
from loosehand.cli.options import StudioPath
from loosehand.cli.speech import say
from loosehand.cli.studio_access import present_moment

if TYPE_CHECKING:
    from loosehand.studio.database import Studio

__all__ = ["has_a_screen", "serve"]

_BUSY_TIMEOUT_S = 3.0
_DEMO_TAKES_S = 12
"""As measured on two cores, said so that nobody takes the wait for a fault."""


def serve(
    studio: StudioPath = "",
    port: Annotated[
        str, typer.Option("--port", help="On this computer; one that is free if left out.")
    ] = "",
    local_network: Annotated[
        bool,
        typer.Option("--local-network", help="Let paired devices on the same network in."),
    ] = False,
    demo: Annotated[
        bool, typer.Option("--demo", help="The invented studio, made first if need be.")
    ] = False,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Say the address, open no browser.")
    ] = False,
) -> int:
    """Open the studio in the browser.

    Only this computer is answered, unless told --local-network. Ctrl-C ends it.
    """
    from loosehand.studio.database import default_folder, open_studio
    from loosehand.studio.round_tags import check_whole
    from loosehand.web.refit_beside import RefitBeside
    from loosehand.web.serve import local_server

    own = default_folder()
    number = check_whole(port, field="port", lowest=0, highest=65_535) if port else None
    folder = Path(studio) if studio else own.with_name("demo") if demo else own
    opened = open_studio(folder, create=True, busy_timeout_s=_BUSY_TIMEOUT_S)
    with closing(opened):
        server = local_server(
            opened,
            hearing=hear_told,
            now=present_moment,
            port=number,
            certificate_folder=own.with_name("local-network") if local_network else None,
            refit=RefitBeside(folder),
        )
        with closing(server):
            if demo:
                _fill_demo(opened)
            server.run(
                ready=lambda: _announce(
                    server.address, network=local_network, browser=not no_browser
                )
            )
    return 0


def has_a_screen(environment: Mapping[str, str], *, platform: str) -> bool:
    """Whether a browser with windows can be opened here.

    Parameters
    ----------
    environment : the process's variables
    platform : as ``sys.platform``
    """
    if "SSH_CONNECTION" in environment:
        return False
    if platform in {"win32", "darwin"}:
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


def _fill_demo(studio: "Studio") -> None:
    """Make the demo where the studio is empty, and say so while it takes its time."""
    from loosehand.studio.chart import player_names
    from loosehand.studio.demo import make_demo

    with studio.look() as session:
        if player_names(session):
            return
    _say_now(
        f"Making an invented studio, in {studio.folder}: its takes are played and heard now, "
        f"once, in about {_DEMO_TAKES_S} seconds ..."
    )
    with breaking_off() as go_on:
        make_demo(studio, hearing=step_by_step(hear_told, go_on), now=present_moment())


def _announce(address: str, *, network: bool, browser: bool) -> None:
    """Say where the pages are, and open them where there is a screen."""
    _say_now(f"Loosehand is open at {address} (Ctrl-C ends it).")
    if network:
        _say_now(f"To let a phone in, open {address}phone on this computer.")
    if browser and has_a_screen(os.environ, platform=sys.platform):
        import webbrowser

        webbrowser.open(address)


def _say_now(text: str) -> None:
    """Print a line that must be seen before the command ends."""
    say(text)
    sys.stdout.flush()
