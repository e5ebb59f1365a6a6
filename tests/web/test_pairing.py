"""Checks of the pairing: codes that let one device in, once, and the devices."""

import json
import os
import stat
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from loosehand.errors import Conflict, InputError, NotFound, StoreError
from loosehand.web.pairing import CODE_LIFE, FILE_NAME, Pairing


class Clock:
    """A clock that goes when it is told."""

    def __init__(self):
        self.now = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    """Return a clock that stands."""
    return Clock()


@pytest.fixture
def pairing(tmp_path, clock):
    """Return the pairing of a studio that nobody was let into."""
    return Pairing(tmp_path, now=clock)


def test_a_code_lets_one_device_in_once(pairing):
    """The device's token is known from then on; the code is used up."""
    code = pairing.code()
    token = pairing.let_in(code.secret, name=" My phone ")
    assert pairing.knows(token)
    assert [device.name for device in pairing.devices()] == ["My phone"]
    with pytest.raises(Conflict, match="used already"):
        pairing.let_in(code.secret, name="Another")
    with pytest.raises(Conflict, match="used already"):
        pairing.check(code.secret)
    assert len(pairing.devices()) == 1


def test_a_code_ends_after_ten_minutes(pairing, clock):
    """To the last moment a code is good, and then it is out of date."""
    code = pairing.code()
    clock.now += CODE_LIFE - timedelta(seconds=1)
    assert pairing.check(code.secret) == code
    clock.now += timedelta(seconds=1)
    with pytest.raises(NotFound, match="out of date"):
        pairing.let_in(code.secret, name="Late")
    assert pairing.devices() == []


@pytest.mark.parametrize("secret", ["", "guess", "../paired.json"])
def test_a_guess_lets_nobody_in(pairing, secret):
    """What is no code of this studio's lets nobody in."""
    pairing.code()
    with pytest.raises(NotFound, match="not known"):
        pairing.let_in(secret, name="Guesser")


def test_codes_are_long_and_differ(pairing):
    """A code holds 24 random bytes, another one others."""
    first = pairing.code()
    pairing.let_in(first.secret, name="One")
    second = pairing.code()
    assert first.secret != second.secret
    assert len(first.secret) == len(second.secret) == 32


def test_the_page_shows_the_same_code_while_it_is_fresh(pairing, clock):
    """Loaded again at once, the page shows the same code; a stale one gives way to a new one."""
    first = pairing.code()
    clock.now += timedelta(minutes=4)
    assert pairing.code() == first
    clock.now += timedelta(minutes=1)
    second = pairing.code()
    assert second != first
    assert second.ends_at == clock.now + CODE_LIFE
    assert pairing.check(first.secret) == first


@pytest.mark.parametrize("name", ["", "   ", "x" * 41, "two\nlines"])
def test_a_name_that_cannot_be_uses_no_code_up(pairing, name):
    """After a name that cannot be, the code is still good."""
    code = pairing.code()
    with pytest.raises(InputError, match="name"):
        pairing.let_in(code.secret, name=name)
    assert pairing.knows(pairing.let_in(code.secret, name="Phone"))


def test_the_file_holds_no_token(pairing, tmp_path):
    """Who reads the file cannot pass for the device, and only this user may read it."""
    token = pairing.let_in(pairing.code().secret, name="Phone")
    text = (tmp_path / FILE_NAME).read_text(encoding="utf-8")
    assert token not in text
    stored = json.loads(text)["devices"][0]
    assert len(stored["token_sha256"]) == 64
    assert not pairing.knows(stored["token_sha256"])
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / FILE_NAME).stat().st_mode) == 0o600


def test_devices_stay_paired_when_the_server_starts_again(pairing, tmp_path, clock):
    """The list outlives the server; codes do not."""
    code = pairing.code()
    token = pairing.let_in(code.secret, name="Phone")
    later = Pairing(tmp_path, now=clock)
    assert later.knows(token)
    with pytest.raises(NotFound, match="not known"):
        later.check(code.secret)


def test_a_device_that_was_sent_away_is_not_known(pairing):
    """Unpairing one device leaves the others in."""
    one, two = (pairing.let_in(pairing.code().secret, name=name) for name in ("One", "Two"))
    gone = pairing.send_away(pairing.devices()[0].id)
    assert gone.name == "One"
    assert not pairing.knows(one)
    assert pairing.knows(two)
    with pytest.raises(NotFound, match="not paired any more"):
        pairing.send_away(gone.id)


@pytest.mark.parametrize("token", [None, "", "guess"])
def test_no_token_is_no_device(pairing, token):
    """Neither nothing nor a guess is a device."""
    pairing.let_in(pairing.code().secret, name="Phone")
    assert not pairing.knows(token)


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"devices": [{"name": "x"}]}'])
def test_a_damaged_list_lets_nobody_in(pairing, tmp_path, damage):
    """Who cannot be looked up stays out, and the page says why."""
    token = pairing.let_in(pairing.code().secret, name="Phone")
    (tmp_path / FILE_NAME).write_text(damage, encoding="utf-8")
    assert not pairing.knows(token)
    with pytest.raises(StoreError, match="delete it, and pair them again"):
        pairing.devices()


def test_of_many_at_once_one_is_let_in(pairing):
    """A code that many devices use at the same moment lets one of them in."""
    secret = pairing.code().secret

    def try_it(number):
        try:
            return pairing.let_in(secret, name=f"Device {number}")
        except Conflict:
            return None

    with ThreadPoolExecutor(8) as pool:
        tokens = [token for token in pool.map(try_it, range(16)) if token]
    assert len(tokens) == len(pairing.devices()) == 1
