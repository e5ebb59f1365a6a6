"""Pairing: a code that lets one device in, once, and the devices that were let in.

A code lives in memory, ten minutes at most. Of a device that was let in, ``paired.json`` in the
studio's folder keeps the name, the moment, and the SHA-256 of the long random token that its
cookie holds: who reads the file cannot pass for the device.
"""

import hashlib
import json
import os
import secrets
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Lock

from loosehand.errors import Conflict, NotFound, StoreError
from loosehand.studio.database import store_errors
from loosehand.studio.round_tags import check_text
from loosehand.studio.whole_files import write_whole

__all__ = ["CODE_LIFE", "COOKIE", "FILE_NAME", "Code", "Device", "Pairing"]

COOKIE = "__Host-loosehand"
CODE_LIFE = timedelta(minutes=10)
FILE_NAME = "paired.json"

_SCHEMA = "loosehand.paired/1"
_SHOWN_AGAIN_FOR = timedelta(minutes=5)
_SECRET_BYTES = 24
_TOKEN_BYTES = 32
_MOST_CODES = 200
_LONGEST_NAME = 40
_ID_DIGITS = 16


@dataclass(frozen=True)
class Code:
    """A code that lets one device in.

    Attributes
    ----------
    secret : the code itself
    ends_at : until when it may be used
    """

    secret: str
    ends_at: datetime


@dataclass(frozen=True)
class Device:
    """A device that was let in.

    Attributes
    ----------
    name : as its owner called it
    paired_at : when, as an ISO moment
    token_sha256 : of the token in its cookie, in hexadecimal digits
    """

    name: str
    paired_at: str
    token_sha256: str

    @property
    def id(self) -> str:
        """What the device is unpaired by."""
        return self.token_sha256[:_ID_DIGITS]

    @property
    def day(self) -> str:
        """Day of the pairing, here."""
        return datetime.fromisoformat(self.paired_at).astimezone().date().isoformat()


class Pairing:
    """Codes and devices of a studio.

    Parameters
    ----------
    folder : the studio's folder
    now : tells the moment, with its zone
    """

    def __init__(self, folder: Path, *, now: Callable[[], datetime]) -> None:
        self._path = folder / FILE_NAME
        self._now = now
        self._codes: dict[str, Code] = {}
        self._used: set[str] = set()
        self._lock = Lock()

    def code(self) -> Code:
        """Return a code to show: the last one while it is fresh and unused, else a new one."""
        with self._lock:
            last = next(reversed(self._codes.values()), None)
            now = self._now()
            if (
                last is not None
                and last.secret not in self._used
                and now < last.ends_at - _SHOWN_AGAIN_FOR
            ):
                return last
            code = Code(secrets.token_urlsafe(_SECRET_BYTES), now + CODE_LIFE)
            self._codes[code.secret] = code
            while len(self._codes) > _MOST_CODES:
                self._used.discard(gone := next(iter(self._codes)))
                del self._codes[gone]
            return code

    def check(self, secret: str) -> Code:
        """Return a code that may be used.

        Raises
        ------
        NotFound   if there is no such code, or its time is over
        Conflict   if it was used
        """
        code = self._codes.get(secret)
        if code is None:
            raise NotFound(
                "This pairing code is not known: open the page Phone on the computer "
                "and take the code that it shows."
            )
        if secret in self._used:
            raise Conflict(
                "This pairing code was used already: each lets one device in, once; "
                "open the page Phone on the computer for a new one."
            )
        if self._now() >= code.ends_at:
            raise NotFound(
                "This pairing code is out of date: it was good for ten minutes; "
                "open the page Phone on the computer for a new one."
            )
        return code

    def let_in(self, secret: str, *, name: str) -> str:
        """Use a code up, and return the token that the device's cookie will hold.

        Parameters
        ----------
        secret : the code
        name : what the device is called

        Raises
        ------
        NotFound, Conflict     as ``check``
        InputError             if the name cannot be
        DiskFull, StoreError   if the pairing cannot be kept; the code is not used up then
        """
        called = check_text(name, field="name", longest=_LONGEST_NAME)
        with self._lock:
            self.check(secret)
            token = secrets.token_urlsafe(_TOKEN_BYTES)
            at = self._now().astimezone(UTC).isoformat(timespec="seconds")
            self._write([*self._read(), Device(called, at, _digest(token))])
            self._used.add(secret)
        return token

    def knows(self, token: str | None) -> bool:
        """Whether a token is that of a device that was let in and not sent away since."""
        if not token:
            return False
        try:
            devices = self._read()
        except StoreError:  # who cannot be looked up is not let in
            return False
        return _digest(token) in {device.token_sha256 for device in devices}

    def devices(self) -> list[Device]:
        """Return the devices that may come in, in the order of their pairing.

        Raises
        ------
        StoreError   if the list cannot be read
        """
        return self._read()

    def send_away(self, device_id: str) -> Device:
        """Unpair a device.

        Raises
        ------
        NotFound               if there is none such
        DiskFull, StoreError   if the list cannot be kept
        """
        with self._lock:
            devices = self._read()
            gone = next((device for device in devices if device.id == device_id), None)
            if gone is None:
                raise NotFound("that device is not paired any more: nothing was changed")
            self._write([device for device in devices if device is not gone])
        return gone

    def _read(self) -> list[Device]:
        """Read the list; empty where there is none."""
        try:
            stored = json.loads(self._path.read_bytes())
            return [Device(**device) for device in stored["devices"]]
        except FileNotFoundError:
            return []
        except (OSError, ValueError, TypeError, KeyError) as error:
            raise StoreError(
                f"{self._path} cannot be read, so no other device is let in: "
                "delete it, and pair them again"
            ) from error

    def _write(self, devices: list[Device]) -> None:
        """Write the list, for this user's eyes only."""
        body = {"schema": _SCHEMA, "devices": [asdict(device) for device in devices]}
        with store_errors(self._path.parent):
            write_whole(self._path, json.dumps(body, indent=1).encode())
            os.chmod(self._path, 0o600)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
