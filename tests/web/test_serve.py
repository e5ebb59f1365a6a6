"""Checks of serving: real servers on free ports, with and without the local network."""

import asyncio
import http.client
import socket
import ssl
import threading
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from urllib.parse import urlsplit

import pytest
from websockets.asyncio.client import connect
from websockets.exceptions import InvalidStatus

from loosehand.errors import InputError, StoreError
from loosehand.web import serve
from loosehand.web.pairing import COOKIE
from loosehand.web.serve import FIRST_PORT, local_server, open_port
from tests.web.conftest import NOW, no_hearing

LONGEST_WAIT_S = 20


@contextmanager
def served(studio, certificate_folder=None, change=lambda _server: None):
    """Serve a studio in a thread, until the block ends."""
    server = local_server(
        studio,
        hearing=no_hearing,
        now=lambda: datetime.now(UTC),
        port=0,
        certificate_folder=certificate_folder,
    )
    change(server)
    ready = threading.Event()
    thread = threading.Thread(target=server.run, kwargs={"ready": ready.set})
    thread.start()
    try:
        assert ready.wait(LONGEST_WAIT_S)
        yield server
    finally:
        server.stop()
        thread.join(LONGEST_WAIT_S)
    assert not thread.is_alive()


def app_of(server):
    """Return the app that a server serves."""
    return server._all[0].server.config.app


def get(address, path, *, context=None, headers=None):
    """Ask for a page as a browser would; return the status and the text."""
    parts = urlsplit(address)
    kind = http.client.HTTPConnection if context is None else http.client.HTTPSConnection
    more = {} if context is None else {"context": context}
    with closing(kind(parts.hostname, parts.port, timeout=LONGEST_WAIT_S, **more)) as connection:
        connection.request("GET", path, headers=headers or {})
        answer = connection.getresponse()
        return answer.status, answer.read().decode()


def trusting(folder):
    """Return the settings of a client that trusts the certificate made here, strictly."""
    context = ssl.create_default_context(cafile=folder / "certificate.pem")
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    return context


def test_only_this_machine_is_answered(studio):
    """Unless told otherwise the server listens on the loopback address alone."""
    with served(studio) as server:
        status, text = get(server.address, "/")
        ports = [one.port.getsockname()[0] for one in server._all]
        with pytest.raises(OSError, match=r".+"):
            get(server.address.replace("127.0.0.1", "127.0.0.2"), "/")
    assert (status, "Nerys" in text) == (200, True)
    assert ports == ["127.0.0.1"]


def test_the_local_network_is_encrypted_and_asks_for_pairing(studio, tmp_path):
    """A client that trusts the certificate is heard, and refused until it is paired."""
    folder = tmp_path / "network"
    with served(studio, folder) as server:
        desk = app_of(server).state.desk
        address = f"https://127.0.0.1:{desk.network.port}"
        context = trusting(folder)
        host = {"Host": f"{desk.network.addresses[0]}:{desk.network.port}"}
        status, text = get(address, "/", context=context, headers=host)
        assert (status, "not paired" in text) == (403, True)
        token = desk.pairing.let_in(desk.pairing.code().secret, name="Phone")
        cookie = {"Cookie": f"{COOKIE}={token}"} | host
        assert get(address, "/", context=context, headers=cookie)[0] == 200
        strange = cookie | {"Host": "elsewhere.example"}
        assert get(address, "/", context=context, headers=strange)[0] == 403
        spoofed = host | {"X-Forwarded-For": "127.0.0.1", "X-Forwarded-Proto": "http"}
        assert get(address, "/", context=context, headers=spoofed)[0] == 403
        assert get(server.address, "/")[0] == 200


def test_who_does_not_trust_the_certificate_hears_nothing(studio, tmp_path):
    """Without the certificate, or in the clear, no page comes over the network."""
    with served(studio, tmp_path / "network") as server:
        port = app_of(server).state.desk.network.port
        with pytest.raises(ssl.SSLCertVerificationError):
            get(f"https://127.0.0.1:{port}", "/", context=ssl.create_default_context())
        with pytest.raises((OSError, http.client.HTTPException)):
            get(f"http://127.0.0.1:{port}", "/")


async def status_of_opening(address, **opening):
    """The status with which a socket opens, or is refused."""
    try:
        async with connect(address, **opening) as opened:
            return opened.response.status_code
    except InvalidStatus as refused:
        return refused.response.status_code


def test_sockets_over_the_network_ask_for_pairing_too(studio, tmp_path):
    """A socket opens for a paired device, and is refused before it opens for any other."""
    folder = tmp_path / "network"
    with served(studio, folder) as server:
        desk = app_of(server).state.desk
        address = f"127.0.0.1:{desk.network.port}"
        token = desk.pairing.let_in(desk.pairing.code().secret, name="Phone")
        opening = {"ssl": trusting(folder), "origin": f"https://{address}"}
        live = f"wss://{address}/stand/none/live"
        wrong, right = (
            asyncio.run(
                status_of_opening(
                    live, additional_headers={"Cookie": f"{COOKIE}={word}"}, **opening
                )
            )
            for word in (token[::-1], token)
        )
    assert (wrong, right) == (403, 101)


def test_what_starts_with_the_app_starts_once(studio, tmp_path):
    """With two servers in one process the app starts once, and ends once."""
    happened = []

    async def counted(scope, receive, send):
        assert scope["type"] == "lifespan"
        for word in ("startup", "shutdown"):
            await receive()
            happened.append(word)
            await send({"type": f"lifespan.{word}.complete"})

    def change(server):
        for one in server._all:
            one.server.config.app = counted

    with served(studio, tmp_path / "network", change):
        assert happened == ["startup"]
    assert happened == ["startup", "shutdown"]


def test_an_app_that_cannot_start_is_said(studio):
    """Where what starts with the pages fails, serving ends with a sentence."""

    async def failing(_scope, receive, send):
        await receive()
        await send({"type": "lifespan.startup.failed", "message": "no room"})

    server = local_server(
        studio, hearing=no_hearing, now=lambda: NOW, port=0, certificate_folder=None
    )
    server._all[0].server.config.app = failing
    with closing(server), pytest.raises(StoreError, match="could not be started"):
        server.run(ready=lambda: None)


def test_the_next_free_port_is_taken():
    """Where ours is taken, the next free one will do."""
    first, second = (open_port("127.0.0.1", None) for _ in range(2))
    with closing(first), closing(second):
        ports = [first.getsockname()[1], second.getsockname()[1]]
    assert FIRST_PORT <= ports[0] < ports[1]


def test_a_port_that_was_asked_for_and_is_taken_is_said():
    """A port that somebody named is not changed for another: one sentence says that it is taken."""
    with closing(open_port("127.0.0.1", 0)) as taken:
        number = taken.getsockname()[1]
        with pytest.raises(InputError, match=f"port {number} cannot be had"):
            open_port("127.0.0.1", number)


def test_no_port_at_all_is_said(monkeypatch):
    """Where all of ours are taken, the sentence names them."""

    def full(_host, _port):
        raise OSError(98, "Address already in use")

    monkeypatch.setattr(serve, "_bind", full)
    with pytest.raises(InputError, match=f"no port from {FIRST_PORT} to .* is free"):
        open_port("127.0.0.1", None)


def test_no_port_stays_taken_without_a_network(studio, tmp_path, monkeypatch):
    """Without a network, the refusal comes before any port is taken."""
    monkeypatch.setattr(serve, "addresses_of_this_machine", lambda: ())
    with pytest.raises(InputError, match="no local network"):
        local_server(
            studio,
            hearing=no_hearing,
            now=lambda: NOW,
            port=0,
            certificate_folder=tmp_path / "network",
        )
    assert not (tmp_path / "network").exists()


def test_a_port_is_free_again_when_the_server_ended(studio):
    """Ended and started again, the server may have the same port at once."""
    with served(studio) as server:
        get(server.address, "/")
        port = urlsplit(server.address).port
    with closing(open_port("127.0.0.1", port)) as again:
        assert again.family == socket.AF_INET
