"""Serve the pages: to this machine alone, or to paired devices on the local network as well."""

import asyncio
import contextlib
import logging
import os
import signal
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import FrameType

import uvicorn
from starlette.applications import Starlette

from loosehand.errors import InputError, StoreError
from loosehand.studio.database import Studio
from loosehand.studio.hearing import Hearing
from loosehand.web.app import make_app
from loosehand.web.live.wire import MOST_BLOCK_BYTES
from loosehand.web.local_certificate import LocalCertificate, ensure_certificate
from loosehand.web.local_network import (
    LocalNetwork,
    addresses_of_this_machine,
    check_reachable,
    names_of_this_machine,
)
from loosehand.web.refit_beside import RefitBeside

__all__ = ["FIRST_PORT", "LocalServer", "local_server", "open_port"]

FIRST_PORT = 8104
"""Chosen freely."""

_HERE = "127.0.0.1"
_ANYWHERE = "0.0.0.0"
_OWN_HOSTS = frozenset({"127.0.0.1", "localhost", "::1"})
_OTHER_PORTS = 50
_GRACE_S = 1
_SIGNALS = (signal.SIGINT, signal.SIGTERM)


class _QuietServer(uvicorn.Server):
    """A server that leaves the keyboard's signals to whoever runs several of them."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Capture none."""
        yield


@dataclass(frozen=True)
class _Listening:
    """A server with the port that it took."""

    server: _QuietServer
    port: socket.socket


class LocalServer:
    """A studio's pages, served.

    Parameters
    ----------
    app : the pages
    here : the port on this machine
    outside : the port on the local network with its certificate, None for this machine alone
    """

    def __init__(
        self,
        app: Starlette,
        here: socket.socket,
        outside: tuple[socket.socket, LocalCertificate] | None,
    ) -> None:
        self.address = f"http://{_HERE}:{_number(here)}/"
        self._all = [_Listening(_QuietServer(_config(app, certificate=None)), here)]
        if outside is not None:
            port, certificate = outside
            self._all.append(_Listening(_QuietServer(_config(app, certificate)), port))

    def run(self, *, ready: Callable[[], None]) -> None:
        """Serve until told to stop, from the keyboard or by ``stop``.

        Parameters
        ----------
        ready : called, in a thread of its own, once requests are answered

        Raises
        ------
        StoreError   if what starts with the pages could not be started
        """
        try:
            with self._stopped_by_signals():
                asyncio.run(self._serve(ready))
        except SystemExit as error:
            raise StoreError("the pages could not be started; the reason stands above") from error

    def stop(self) -> None:
        """Have ``run`` come to its end; may be called from any thread."""
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        for listening in self._all:
            listening.server.should_exit = True

    def close(self) -> None:
        """Let go of the ports; those that were served are let go of already."""
        for listening in self._all:
            listening.port.close()

    async def _serve(self, ready: Callable[[], None]) -> None:
        """Serve on all ports at once, the first one's app starting before the others answer."""
        announcing = asyncio.create_task(self._announce(ready))
        servings = [one.server.serve(sockets=[one.port]) for one in self._all]
        try:
            await asyncio.gather(*servings)
        finally:
            announcing.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await announcing

    async def _announce(self, ready: Callable[[], None]) -> None:
        """Call ``ready`` once all servers have started."""
        while not all(one.server.started for one in self._all):
            await asyncio.sleep(0.01)
        threading.Thread(target=ready, daemon=True).start()

    @contextmanager
    def _stopped_by_signals(self) -> Iterator[None]:
        """Stop at the first Ctrl-C, and at once at the second."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return

        def stop(_number: int, _frame: FrameType | None) -> None:
            for one in self._all:
                one.server.force_exit = one.server.should_exit
            self.stop()

        before = {number: signal.signal(number, stop) for number in _SIGNALS}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


def local_server(
    studio: Studio,
    *,
    hearing: Hearing,
    now: Callable[[], datetime],
    port: int | None,
    certificate_folder: Path | None,
    refit: RefitBeside | None = None,
) -> LocalServer:
    """Take the ports and make the app.

    Parameters
    ----------
    studio : the open studio
    hearing : what hears a stored take
    now : tells the moment, with its zone
    port : on this machine; 0 for any that is free, None for ours or the next that is free
    certificate_folder : where the certificate for the local network is kept; None for no network
    refit : what scores forecasts beside the pages, None for nothing

    Raises
    ------
    InputError   if the port is taken, or this machine is on no local network
    StoreError   if the certificate cannot be kept
    """
    if certificate_folder is None:
        here = open_port(_HERE, port)
        app = make_app(studio, hearing=hearing, now=now, hosts=_OWN_HOSTS, refit=refit)
        return LocalServer(app, here, None)
    addresses, names = check_reachable(addresses_of_this_machine()), names_of_this_machine()
    certificate = ensure_certificate(certificate_folder, hosts=(*addresses, *names), now=now())
    here = open_port(_HERE, port)
    try:
        outside = open_port(_ANYWHERE, 0 if port == 0 else None)
    except InputError:
        here.close()
        raise
    network = LocalNetwork(addresses, names, _number(outside), certificate.fingerprint)
    app = make_app(
        studio,
        hearing=hearing,
        now=now,
        hosts=_OWN_HOSTS | network.hosts,
        network=network,
        refit=refit,
    )
    return LocalServer(app, here, (outside, certificate))


def open_port(host: str, port: int | None) -> socket.socket:
    """Take a port.

    Parameters
    ----------
    host : address to listen on
    port : which; 0 for any that is free, None for ours or the next that is free

    Raises
    ------
    InputError   if it is taken, or may not be taken
    """
    wanted = range(FIRST_PORT, FIRST_PORT + _OTHER_PORTS) if port is None else (port,)
    for number in wanted:
        try:
            return _bind(host, number)
        except OSError as error:
            reason = error.strerror or str(error)
    if port is None:
        raise InputError(
            f"no port from {wanted[0]} to {wanted[-1]} is free ({reason}): say one with --port"
        )
    raise InputError(f"port {port} cannot be had ({reason}): say another with --port, or none")


def _bind(host: str, port: int) -> socket.socket:
    """Bind a socket; on POSIX also to a port that a server just left."""
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind((host, port))
        bound.listen()
    except OSError:
        bound.close()
        raise
    return bound


def _config(app: Starlette, certificate: LocalCertificate | None) -> uvicorn.Config:
    """Return how the app is served; what starts with the app starts with the first server only."""
    return uvicorn.Config(
        app,
        ws="websockets-sansio",
        # Sound does not pack: it would only cost time. Four seconds of it are the longest block.
        ws_per_message_deflate=False,
        ws_max_size=MOST_BLOCK_BYTES,
        access_log=False,
        log_config=None,
        log_level="error",
        proxy_headers=False,
        server_header=False,
        lifespan="on" if certificate is None else "off",
        timeout_graceful_shutdown=_GRACE_S,
        ssl_certfile=None if certificate is None else certificate.certificate_path,
        ssl_keyfile=None if certificate is None else str(certificate.key_path),
    )


def _number(port: socket.socket) -> int:
    """Return the number of a port that was taken."""
    return int(port.getsockname()[1])
