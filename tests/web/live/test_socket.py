"""Checks of the socket: greetings, rubbish, too much, out of order; the server lives."""

import json

import numpy as np
import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from loosehand.errors import DiskFull
from loosehand.web import make_app
from loosehand.web.live.sitting import Job
from tests.web.live.conftest import NOW, workout_of

HEADERS = {"origin": "http://testserver"}


@pytest.fixture
def pages(stand):
    """The app on the stand's studio, and the key of a workout."""
    app = make_app(
        stand.studio, hearing=stand.hearing, now=lambda: NOW, hosts=frozenset({"testserver"})
    )
    with TestClient(app, headers=HEADERS, client=("127.0.0.1", 50_000)) as client:
        yield client, stand.begin(workout_of())


def greet(socket, page="page-1", **more):
    """Say hello and return the answer."""
    socket.send_text(json.dumps({"kind": "hello", "page": page} | more))
    return json.loads(socket.receive_text())


def arm(socket):
    """Arm the page."""
    message = {"kind": "arm", "rate": 48_000, "listens": "microphone", "latency_s": 0.0}
    socket.send_text(json.dumps(message))
    return [json.loads(socket.receive_text()) for _ in range(2)]


def block(frame, size=512):
    """A block of silence."""
    return np.array([frame], dtype="<f8").tobytes() + np.zeros(size, dtype="<f4").tobytes()


def test_a_page_is_welcomed(pages):
    """The first answer says where the workout stands."""
    client, key = pages
    with client.websocket_connect(f"/stand/{key}/live") as socket:
        welcome = greet(socket)
        assert welcome["do"] == "welcome"
        assert welcome["state"]["phase"] == "check"
        assert [each["do"] for each in arm(socket)] == ["sounds", "show"]


@pytest.mark.parametrize(
    "first", ["rubbish", "[]", json.dumps({"kind": "arm"}), json.dumps({"kind": "hello"}), ""]
)
def test_no_greeting_no_seat(pages, first):
    """A first message that is no greeting is refused in a sentence, and the line is closed."""
    client, key = pages
    with client.websocket_connect(f"/stand/{key}/live") as socket:
        socket.send_text(first)
        refused = json.loads(socket.receive_text())
        assert refused["do"] == "refuse"
        with pytest.raises(WebSocketDisconnect):
            socket.receive_text()


def test_there_is_no_such_workout(pages):
    """An unknown workout is refused in a sentence."""
    client, _ = pages
    with client.websocket_connect("/stand/nothing/live") as socket:
        assert "there is no such workout" in greet(socket)["sentence"]


def test_rubbish_is_answered_and_then_closed(pages):
    """Each rubbish message is answered; after twenty the line is closed; the server lives."""
    client, key = pages
    with client.websocket_connect(f"/stand/{key}/live") as socket:
        greet(socket)
        for rubbish in (b"", b"\xff" * 7, b"\xff" * 4000, block(-5), block(0, size=300_000)):
            socket.send_bytes(rubbish)
            said = json.loads(socket.receive_text())
            assert said["do"] == "say"
            assert said["sentence"].startswith("That cannot be:")
        for _ in range(16):
            socket.send_text('{"kind": "dance"}')
            json.loads(socket.receive_text())
        with pytest.raises(WebSocketDisconnect):
            socket.receive_text()
    assert client.get("/").status_code == 200


def test_blocks_out_of_order_are_no_fault(pages):
    """Blocks in any order, again, or far ahead are taken without a word and without a crash."""
    client, key = pages
    with client.websocket_connect(f"/stand/{key}/live") as socket:
        greet(socket)
        arm(socket)
        for frame in (512, 0, 512, 10_000_000, 4096, 0):
            socket.send_bytes(block(frame))
        socket.send_text('{"kind": "dance"}')
        assert "is not known" in json.loads(socket.receive_text())["sentence"]


def test_two_tabs(pages):
    """The second tab is refused and may take over; the first is told and closed."""
    client, key = pages
    address = f"/stand/{key}/live"
    with client.websocket_connect(address) as first:
        greet(first)
        with client.websocket_connect(address) as second:
            refused = greet(second, "page-2")
            assert refused["can_take_over"]
            assert "open in another window" in refused["sentence"]
        with client.websocket_connect(address) as third:
            assert greet(third, "page-2", take_over=True)["do"] == "welcome"
            assert "took this workout over" in json.loads(first.receive_text())["sentence"]


def test_other_sites_get_no_socket(pages):
    """A page of another site cannot open the socket."""
    client, key = pages
    with (
        pytest.raises(WebSocketDisconnect),
        client.websocket_connect(
            f"/stand/{key}/live", headers={"origin": "http://elsewhere.example"}
        ),
    ):
        pass


def test_work_that_fails_is_said_and_may_be_tried_again(pages, monkeypatch):
    """Where slow work finds no room the page is told why, and whoever asked for it hears so."""
    client, key = pages
    with client.websocket_connect(f"/stand/{key}/live", headers=HEADERS) as socket:
        greet(socket)
        failed = []

        def no_room():
            raise DiskFull("the disk is full")

        sitting = client.app.state.sittings.join(key, "page-1", take_over=False).sitting
        sitting.jobs.append(Job(no_room, failed.append, lambda: failed.append("told")))
        socket.send_text(json.dumps({"kind": "no such kind"}))
        said = [json.loads(socket.receive_text())["sentence"] for _ in range(2)]
    assert said[1] == "the disk is full."
    assert failed == ["told"]


def test_a_page_whose_seat_was_taken_at_once_is_sent_away(pages, monkeypatch):
    """A page that another one overtook while it was greeted is told so, and closed."""
    client, key = pages
    monkeypatch.setattr(client.app.state.sittings, "holds", lambda _seat: False)
    with client.websocket_connect(f"/stand/{key}/live", headers=HEADERS) as socket:
        assert greet(socket)["do"] == "welcome"
        assert json.loads(socket.receive_text())["can_take_over"]
        with pytest.raises(WebSocketDisconnect):
            socket.receive_text()
