"""The socket of the stand: messages in and out, slow work in threads, rubbish answered."""

import asyncio
import json
from collections.abc import MutableMapping
from contextlib import suppress
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.routing import WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from loosehand.errors import Conflict, InputError, LoosehandError
from loosehand.web.live.sitting import Job
from loosehand.web.live.sittings import Seat, Sittings
from loosehand.web.live.wire import read_block, read_message, text_in

__all__ = ["ROUTES"]

_MOST_FAULTS = 20
_CLOSE_RUBBISH = 4400
_CLOSE_TAKEN = 4409
_CLOSE_NOT_FOUND = 4404
_KEY = 64
_GREETING_S = 10.0


async def _socket(websocket: WebSocket) -> None:
    """Serve one page."""
    await websocket.accept()
    sittings: Sittings = websocket.app.state.sittings
    try:
        seat = await _greet(websocket, sittings)
    except LoosehandError as error:
        await _refuse(websocket, error)
        return
    except (WebSocketDisconnect, TimeoutError):
        return
    link = _Link(websocket, seat)
    seat.leave = link.leave
    try:
        if sittings.holds(seat):
            await link.serve()
        else:
            await link.send_away()
    except (WebSocketDisconnect, RuntimeError):
        # The page is gone; it may come back.
        pass
    finally:
        link.close()
        if seat.leave == link.leave:
            sittings.depart(seat)


async def _greet(websocket: WebSocket, sittings: Sittings) -> Seat:
    """The first message says which page this is."""
    first = await asyncio.wait_for(websocket.receive(), _GREETING_S)
    if first["type"] == "websocket.disconnect":
        raise WebSocketDisconnect(first.get("code", 1000))
    hello = read_message(first.get("text") or "")
    if hello["kind"] != "hello":
        raise InputError("the first message is no greeting: load the page anew")
    page = text_in(hello, "page", longest=_KEY)
    workout = websocket.path_params["workout"]
    seat = await run_in_threadpool(
        sittings.join, workout, page, take_over=hello.get("take_over") is True
    )
    await websocket.send_text(json.dumps({"do": "welcome", "state": seat.sitting.state()}))
    return seat


async def _refuse(websocket: WebSocket, error: LoosehandError) -> None:
    """Say why, and close."""
    taken = isinstance(error, Conflict)
    code = _CLOSE_RUBBISH if isinstance(error, InputError) else _CLOSE_NOT_FOUND
    with suppress(RuntimeError, WebSocketDisconnect):
        await websocket.send_text(
            json.dumps({"do": "refuse", "sentence": str(error), "can_take_over": taken})
        )
        await websocket.close(_CLOSE_TAKEN if taken else code)


class _Link:
    """A page's connection to its seat."""

    def __init__(self, websocket: WebSocket, seat: Seat) -> None:
        self._websocket = websocket
        self._seat = seat
        self._faults = 0
        self._tasks: set[asyncio.Task[None]] = set()
        self._loop = asyncio.get_running_loop()

    def leave(self) -> None:
        """Send the page away: another one took over."""
        asyncio.run_coroutine_threadsafe(self.send_away(), self._loop)

    def close(self) -> None:
        """Nothing is sent any more; work that was begun is finished all the same."""
        self._seat.sitting.outbox.clear()

    async def serve(self) -> None:
        """Take messages until the page goes."""
        await self._flush()
        while await self._take(await self._websocket.receive()):
            await self._flush()

    async def send_away(self) -> None:
        """Say that another page took over, and close."""
        said = {
            "do": "refuse",
            "sentence": "Another window took this workout over.",
            "can_take_over": True,
        }
        with suppress(RuntimeError, WebSocketDisconnect):
            await self._websocket.send_text(json.dumps(said))
            await self._websocket.close(_CLOSE_TAKEN)

    async def _take(self, message: MutableMapping[str, Any]) -> bool:
        """Take one message; False where the page is gone or sends only rubbish."""
        if message["type"] == "websocket.disconnect":
            return False
        sitting = self._seat.sitting
        try:
            if (data := message.get("bytes")) is not None:
                sitting.take_block(read_block(data))
            else:
                sitting.take_message(read_message(message.get("text") or ""))
        except LoosehandError as error:
            self._faults += 1
            sitting.outbox.append({"do": "say", "sentence": f"That cannot be: {error}."})
        self._begin_jobs()
        if self._faults <= _MOST_FAULTS:
            return True
        await self._flush()
        await self._websocket.close(_CLOSE_RUBBISH)
        return False

    def _begin_jobs(self) -> None:
        jobs, self._seat.sitting.jobs = self._seat.sitting.jobs, []
        for job in jobs:
            task = asyncio.create_task(self._run(job))
            self._tasks.add(task)
            task.add_done_callback(self._tasks.discard)

    async def _run(self, job: Job) -> None:
        """Run slow work beside the sound, then go on with what it found."""
        try:
            result = await run_in_threadpool(job.work)
            job.then(result)
        except LoosehandError as error:
            self._seat.sitting.outbox.append({"do": "say", "sentence": f"{error}."})
            if job.failed is not None:
                job.failed()
        self._begin_jobs()
        with suppress(RuntimeError, WebSocketDisconnect):
            await self._flush()

    async def _flush(self) -> None:
        """Send what waits."""
        sitting = self._seat.sitting
        if not sitting.outbox or self._websocket.client_state != WebSocketState.CONNECTED:
            return
        waiting, sitting.outbox = sitting.outbox, []
        for message in waiting:
            await self._websocket.send_text(json.dumps(message))


ROUTES = [WebSocketRoute("/stand/{workout}/live", _socket, name="live")]
