"""Checks of how this machine is reached."""

import ipaddress
import socket

import pytest

from loosehand.errors import InputError
from loosehand.web import local_network
from loosehand.web.local_network import (
    LocalNetwork,
    addresses_of_this_machine,
    check_reachable,
    names_of_this_machine,
)

NETWORK = LocalNetwork(("192.0.2.5", "10.0.0.5"), ("drumroom", "drumroom.local"), 8105, "ab" * 32)


def test_no_address_leads_nowhere():
    """No address is this machine's for itself, and none is there twice."""
    found = addresses_of_this_machine()
    assert len(set(found)) == len(found)
    for address in found:
        assert not ipaddress.IPv4Address(address).is_loopback
        assert not ipaddress.IPv4Address(address).is_unspecified


@pytest.mark.parametrize(
    ("hostname", "names"),
    [
        ("DrumRoom", ("drumroom", "drumroom.local")),
        ("drumroom.school.example", ("drumroom", "drumroom.local")),
        ("a b", ()),
        ("-", ()),
    ],
)
def test_a_name_is_one_that_a_certificate_may_hold(monkeypatch, hostname, names):
    """A machine goes by its own name and that with .local, if it is a name at all."""
    monkeypatch.setattr(socket, "gethostname", lambda: hostname)
    assert names_of_this_machine() == names


def test_a_machine_without_a_network_has_no_address(monkeypatch):
    """Where no way leads out, no address is found, and that is said in a sentence."""

    def fail(*_):
        raise OSError

    monkeypatch.setattr(local_network, "_own_address", lambda _towards: None)
    monkeypatch.setattr(socket, "getaddrinfo", fail)
    assert addresses_of_this_machine() == ()
    with pytest.raises(InputError, match="on no local network"):
        check_reachable(())


def test_the_first_address_is_the_one_to_open():
    """A page is opened at the likeliest address, encrypted."""
    assert NETWORK.url("/pair/x") == "https://192.0.2.5:8105/pair/x"
    assert NETWORK.hosts == {"192.0.2.5", "10.0.0.5", "drumroom", "drumroom.local"}
    assert NETWORK.fingerprint_in_groups == " ".join(["ABAB"] * 16)
