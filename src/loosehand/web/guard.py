"""What guards the pages.

Only this site may change anything, only its own files may run, and another machine comes in only
with the cookie of a device that was paired.
"""

import ipaddress
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from loosehand.web.pairing import COOKIE, Pairing

__all__ = ["CONTENT_POLICY", "PairedOnly", "SameSite", "SecurityHeaders", "is_this_machine"]

CONTENT_POLICY = (
    "default-src 'self'; img-src 'self' data:; media-src 'self' blob:; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
_LONG = "public, max-age=31536000, immutable"
_READS = {"GET", "HEAD", "OPTIONS"}
_PAIRING_PATH = "/pair/"
_NOT_PAIRED = (
    "This device is not paired: open the page Phone on the computer that runs Loosehand, "
    "and scan the code that it shows."
)


class SecurityHeaders:
    """Adds to every answer what a browser may do with it."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        kept = "no-cache" if scope["path"].startswith("/static/") else "no-store"
        kept_long = scope["path"].startswith("/static/") and b"v=" in scope["query_string"]

        async def send_with(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["Content-Security-Policy"] = CONTENT_POLICY
                headers["X-Content-Type-Options"] = "nosniff"
                headers["Referrer-Policy"] = "same-origin"
                headers["Permissions-Policy"] = "microphone=(self), midi=(self)"
                headers.setdefault("Cache-Control", _LONG if kept_long else kept)
            await send(message)

        await self._app(scope, receive, send_with)


class SameSite:
    """Refuses names that are not this server's, and changes asked for by other sites.

    Parameters
    ----------
    app : what is guarded
    hosts : names that this server answers to
    """

    def __init__(self, app: ASGIApp, *, hosts: frozenset[str]) -> None:
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        changes = scope["type"] == "websocket" or scope["method"] not in _READS
        if _name_of(host) not in self._hosts:
            await _refuse(scope, receive, send, f"This server does not answer to {host[:80]!r}.")
        elif changes and not _from_here(headers, host):
            await _refuse(scope, receive, send, "Only pages of this server may change anything.")
        else:
            await self._app(scope, receive, send)


class PairedOnly:
    """Refuses other machines, unless the device was paired; only the pairing itself is open.

    Parameters
    ----------
    app : what is guarded
    pairing : knows the devices that were let in
    """

    def __init__(self, app: ASGIApp, *, pairing: Pairing) -> None:
        self._app = app
        self._pairing = pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] not in {"http", "websocket"} or self._may_come_in(scope):
            await self._app(scope, receive, send)
        else:
            await _refuse(scope, receive, send, _NOT_PAIRED)

    def _may_come_in(self, scope: Scope) -> bool:
        """Whether a request is this machine's, a paired device's, or a pairing."""
        pairs = scope["type"] == "http" and scope["path"].startswith(_PAIRING_PATH)
        if pairs or is_this_machine(scope):
            return True
        return self._pairing.knows(HTTPConnection(scope).cookies.get(COOKIE))


def is_this_machine(scope: Scope) -> bool:
    """Whether a request was made on this machine, to the server that only this machine reaches.

    That server speaks without encryption, the one for the local network never does.
    """
    client = scope.get("client")
    return scope["scheme"] in {"http", "ws"} and client is not None and _is_loopback(client[0])


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _name_of(host: str) -> str:
    """A host without its port; empty where it is none."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _from_here(headers: Headers, host: str) -> bool:
    """Whether a request comes from a page of this server."""
    try:
        return urlsplit(headers.get("origin", "")).netloc == host
    except ValueError:
        return False


async def _refuse(scope: Scope, receive: Receive, send: Send, sentence: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 4403, "reason": sentence})
        return
    await PlainTextResponse(sentence, 403)(scope, receive, send)
