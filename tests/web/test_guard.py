"""Checks of the guards."""

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from loosehand.web.guard import CONTENT_POLICY, PairedOnly, is_this_machine
from loosehand.web.pairing import COOKIE, Pairing
from tests.web.conftest import NOW

OUTSIDE = ("192.0.2.7", 1234)
SCOPE = {"type": "http", "scheme": "http", "client": ("127.0.0.1", 1234)}


def test_other_names_are_refused(client):
    """A name that is not this server's is refused: no other site can pretend to be it."""
    answer = client.get("/", headers={"host": "elsewhere.example"})
    assert answer.status_code == 403
    assert "does not answer to" in answer.text


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null"])
def test_other_sites_change_nothing(client, origin):
    """A change asked for by another site is refused."""
    answer = client.post("/", headers={"origin": origin})
    assert answer.status_code == 403


def test_policy_on_every_answer(client):
    """Every answer says that only this site's own files may run."""
    for path in ("/", "/nowhere", "/static/css/base.css"):
        assert client.get(path).headers["content-security-policy"] == CONTENT_POLICY


def outside_client(client, **values):
    """Return a browser of another machine, on the same app."""
    return TestClient(
        client.app,
        base_url="https://testserver",
        client=OUTSIDE,
        headers={"origin": "https://testserver"},
        **values,
    )


@pytest.mark.parametrize(
    ("change", "here"),
    [
        ({}, True),
        ({"client": ("127.8.8.8", 1)}, True),
        ({"client": ("::1", 1)}, True),
        ({"scheme": "ws"}, True),
        ({"client": OUTSIDE}, False),
        ({"client": None}, False),
        ({"client": ("", 0)}, False),
        ({"client": ("localhost", 1)}, False),
        ({"scheme": "https"}, False),
        ({"scheme": "wss"}, False),
    ],
)
def test_this_machine_is_told_by_its_address_and_its_server(change, here):
    """Only a loopback address on the server without encryption is this machine."""
    assert is_this_machine({**SCOPE, **change}) is here


@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "PUT", "DELETE"])
@pytest.mark.parametrize(
    "path",
    ["/", "/chart", "/phone", "/send", "/static/css/base.css", "/nowhere", "/pairing", "/Pair/x"],
)
def test_a_device_that_is_not_paired_is_refused(client, method, path):
    """Whatever another machine asks for, it gets one sentence and nothing else."""
    answer = outside_client(client).request(method, path)
    assert answer.status_code == 403
    if method != "HEAD":
        assert answer.text.startswith("This device is not paired: ")
        assert "\n" not in answer.text


@pytest.mark.parametrize("path", ["/pair/", "/pair/../", "/pair/x/../../chart", "/pair//static/"])
def test_the_way_of_the_pairing_leads_nowhere_else(client, path):
    """Below the address of the pairing nothing of the studio is found."""
    answer = outside_client(client).send(
        outside_client(client).build_request("GET", f"https://testserver{path}")
    )
    assert answer.status_code in {403, 404}
    assert "Nerys" not in answer.text


def test_a_paired_device_comes_in(client):
    """With the cookie of a paired device the pages open, with another they do not."""
    pairing = client.app.state.desk.pairing
    token = pairing.let_in(pairing.code().secret, name="Phone")
    assert outside_client(client, cookies={COOKIE: token}).get("/").status_code == 200
    assert outside_client(client, cookies={COOKIE: token[:-1]}).get("/").status_code == 403
    pairing.send_away(pairing.devices()[0].id)
    assert outside_client(client, cookies={COOKIE: token}).get("/").status_code == 403


def test_a_paired_device_is_still_bound_to_this_site(client):
    """Even from a paired device, only pages of this server change anything."""
    pairing = client.app.state.desk.pairing
    token = pairing.let_in(pairing.code().secret, name="Phone")
    paired = outside_client(client, cookies={COOKIE: token})
    answer = paired.post("/send", headers={"origin": "https://elsewhere.example"})
    assert answer.status_code == 403


@pytest.mark.parametrize("client_address", [OUTSIDE, ("127.0.0.1", 1234)])
def test_sockets_of_devices_that_are_not_paired_are_closed(tmp_path, client_address):
    """A socket from another machine is closed with 4403; this machine's is let through."""

    async def reached(_scope, _receive, send):
        await send({"type": "websocket.close", "code": 4000})

    pairing = Pairing(tmp_path, now=lambda: NOW)
    guarded = TestClient(PairedOnly(reached, pairing=pairing), client=client_address)
    with pytest.raises(WebSocketDisconnect) as closed, guarded.websocket_connect("/live"):
        pass
    assert closed.value.code == (4403 if client_address == OUTSIDE else 4000)


@pytest.mark.parametrize("name", ["[", "[::1", "elsewhere.example:[", ""])
def test_a_name_that_is_none_is_refused(client, name):
    """What is no name of a server is refused as such, also as the origin of a change."""
    assert client.get("/", headers={"host": name}).status_code == 403
    assert client.post("/players", headers={"origin": f"http://{name}"}).status_code == 403
