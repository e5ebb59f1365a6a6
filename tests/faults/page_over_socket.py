"""The page without a browser, over a real socket to a real server that may be killed."""

import json
import time
from contextlib import ExitStack

from websockets.exceptions import ConnectionClosed, WebSocketException
from websockets.sync.client import connect

from tests.web.live.page_and_room import BLOCK, RATE_HZ, PageAndRoom

LONGEST_AWAY_S = 30.0


class PageOverSocket:
    """Plays a workout over a socket, faster than real time; comes back when the line breaks.

    Parameters
    ----------
    port : of the server
    key : of the workout
    speed : how many times faster than real time
    """

    def __init__(self, port, key, *, speed, **how):
        self.port, self.key, self.speed = port, key, speed
        self.page = PageAndRoom(self.send, **how)
        self.socket = None
        self.line = ExitStack()
        self.arming = None
        self.came_back = 0
        self.connect()

    def connect(self):
        """Greet the server, and say again what it may have lost; wait where there is none."""
        end = time.monotonic() + LONGEST_AWAY_S
        while True:
            try:
                origin = f"http://127.0.0.1:{self.port}"
                self.line.close()
                self.socket = self.line.enter_context(
                    connect(f"ws://127.0.0.1:{self.port}/stand/{self.key}/live", origin=origin)
                )
                self._write({"kind": "hello", "page": "page-of-the-test"})
                welcome = json.loads(self.socket.recv(timeout=20))
                assert welcome["do"] == "welcome", welcome
                self._go_on(welcome["state"])
            except (OSError, WebSocketException, TimeoutError, EOFError):
                assert time.monotonic() < end, "the server did not come back"
                time.sleep(0.05)
                continue
            self.page.take(welcome)
            return

    def _write(self, message):
        self.socket.send(message if isinstance(message, bytes) else json.dumps(message))

    def _go_on(self, state):
        if self.arming is None:
            return
        self.came_back += 1
        self._write(self.arming)
        if self.page.begun is None or self.page.begun["round"] == "check":
            return
        self._write(self.page.begun)
        since = state["have_frame"] or 0
        for end, data in list(self.page.unacked):
            if end > since:
                self._write(data)

    def send(self, message):
        """Send, or come back first."""
        if not isinstance(message, bytes) and message["kind"] == "arm":
            self.arming = message
        try:
            self._write(message)
        except (ConnectionClosed, OSError):
            # What was to be sent is among what is sent again, but for keys and the check.
            self.connect()
            if not isinstance(message, bytes) and message["kind"] in {"check", "key"}:
                self._write(message)

    def step(self):
        """Let a block of time pass, and hear what the server says."""
        self.page.step()
        time.sleep(BLOCK / RATE_HZ / self.speed)
        self.hear()

    def hear(self):
        """Take all that the server said."""
        while True:
            try:
                text = self.socket.recv(timeout=0)
            except TimeoutError:
                return
            except (ConnectionClosed, OSError, EOFError):
                self.connect()
                return
            self.page.take(json.loads(text))
