"""Checks of the page Phone and of the pairing."""

import re
from datetime import timedelta

import pytest
from starlette.testclient import TestClient

from loosehand.web import make_app
from loosehand.web.local_network import LocalNetwork
from loosehand.web.pairing import COOKIE, FILE_NAME
from tests.web.conftest import NOW, no_hearing

NETWORK = LocalNetwork(("192.0.2.5",), ("drumroom.local",), 8105, "0123" * 16)
HOSTS = frozenset({"testserver"}) | NETWORK.hosts
OUTSIDE = "https://192.0.2.5:8105"


class Clock:
    """A clock that goes when it is told."""

    now = NOW

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    """Return a clock that stands."""
    return Clock()


@pytest.fixture
def app(studio, clock):
    """Return the app with the local network on."""
    return make_app(studio, hearing=no_hearing, now=clock, hosts=HOSTS, network=NETWORK)


@pytest.fixture
def computer(app):
    """Return a browser on the computer itself."""
    headers = {"origin": "http://testserver"}
    return TestClient(app, headers=headers, client=("127.0.0.1", 5))


@pytest.fixture
def phone(app):
    """Return a browser on another machine."""
    headers = {"origin": OUTSIDE}
    return TestClient(app, base_url=OUTSIDE, headers=headers, client=("192.0.2.7", 5))


def shown_address(computer):
    """Return the address that the page shows."""
    text = computer.get("/phone").text
    return re.search(r"https://192\.0\.2\.5:8105/pair/[\w-]+", text).group()


def test_without_the_network_the_page_says_how_to_start(client):
    """Where only this computer is answered, the page names the words that change it."""
    text = client.get("/phone").text
    assert "serve --local-network" in text
    assert "<svg" not in text


def test_the_code_leads_to_the_address(computer):
    """The drawn code holds the very address that stands beside it."""
    segno = pytest.importorskip("segno")
    address = shown_address(computer)
    expected = segno.make_qr(address, error="m").svg_inline(
        scale=1, border=4, omitsize=True, dark="#000", light="#fff"
    )
    text = computer.get("/phone").text
    assert expected in text
    assert " style=" not in text


def test_the_page_shows_fingerprint_and_way_out(computer):
    """The page shows the fingerprint to compare, in groups, and the way by a recorded file."""
    text = computer.get("/phone").text
    assert text.count("<span>0123</span>") == 16
    assert 'href="/send"' in text


def test_looking_uses_no_code_up_and_pressing_does(computer, phone):
    """A preview of the link leaves the code good; the press pairs, once."""
    address = shown_address(computer)
    for _ in range(3):
        assert "Pair this device" in phone.get(address).text
    assert phone.get("/").status_code == 403
    answer = phone.post(address, data={"name": "Sofa"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert phone.get("/").status_code == 200
    again = phone.post(address, data={"name": "Second"})
    assert again.status_code == 409
    assert "used already" in again.text


def test_the_cookie_is_for_this_server_alone(computer, phone):
    """The cookie is out of reach for scripts, other sites and unencrypted ways."""
    answer = phone.post(shown_address(computer), data={"name": "P"}, follow_redirects=False)
    cookie = answer.headers["set-cookie"]
    for part in (COOKIE, "HttpOnly", "Secure", "SameSite=strict", "Path=/"):
        assert part in cookie
    assert "Domain" not in cookie


def test_a_code_out_of_date_is_said_in_a_sentence(computer, phone, clock):
    """After ten minutes neither looking nor pressing pairs."""
    address = shown_address(computer)
    clock.now = NOW + timedelta(minutes=10)
    for answer in (phone.get(address), phone.post(address, data={"name": "P"})):
        assert answer.status_code == 404
        assert "out of date" in answer.text
    assert phone.get("/").status_code == 403


def test_a_device_needs_a_name(computer, phone):
    """Without a name the form comes again, and the code is still good."""
    address = shown_address(computer)
    answer = phone.post(address, data={"name": " "})
    assert answer.status_code == 422
    assert "name is empty" in answer.text
    assert phone.post(address, data={"name": "P"}).status_code == 200


def test_looks_come_with_a_good_code_only(computer, phone):
    """The page that pairs has its looks; a guess gets nothing."""
    address = shown_address(computer)
    assert "--paper" in phone.get(f"{address}/look.css").text
    answer = phone.get("/pair/guess/look.css")
    assert (answer.status_code, "--paper" in answer.text) == (404, False)


def test_unpairing_shuts_the_device_out(computer, phone):
    """The computer lists the device and sends it away."""
    phone.post(shown_address(computer), data={"name": "<b>Sofa</b>"})
    text = computer.get("/phone").text
    assert "&lt;b&gt;Sofa&lt;/b&gt;" in text
    device = re.search(r'name="device" value="(\w+)"', text).group(1)
    computer.post("/phone/unpair", data={"device": device})
    assert phone.get("/").status_code == 403
    again = computer.post("/phone/unpair", data={"device": device})
    assert again.status_code == 404


def test_a_paired_device_pairs_and_unpairs_nobody(computer, phone):
    """From a paired phone there is no code to see and nobody to send away."""
    phone.post(shown_address(computer), data={"name": "Sofa"})
    text = phone.get("/phone").text
    assert "This device is paired" in text
    assert "/pair/" not in text
    assert phone.post("/phone/unpair", data={"device": "x"}).status_code == 403
    assert phone.get("/").status_code == 200


def test_a_damaged_list_is_said_on_the_page(computer, studio):
    """Where the list of devices is damaged, the page says what to do."""
    (studio.folder / FILE_NAME).write_text("{", encoding="utf-8")
    answer = computer.get("/phone")
    assert answer.status_code == 503
    assert "pair them again" in answer.text
