"""The local network: by which addresses and names this machine is reached from the next one."""

import ipaddress
import re
import socket
from contextlib import closing, suppress
from dataclasses import dataclass

from loosehand.errors import InputError

__all__ = ["LocalNetwork", "addresses_of_this_machine", "check_reachable", "names_of_this_machine"]

_TOWARDS = ("192.0.2.1", "10.254.254.254", "172.31.254.254", "192.168.254.254")
"""Addresses to ask the way to, one for each range of local networks; nothing is sent there."""

_NAME = re.compile(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?")


@dataclass(frozen=True)
class LocalNetwork:
    """How this machine is reached from another one.

    Attributes
    ----------
    addresses : IPv4 addresses, the likeliest first
    names : names, without a dot at the end
    port : of the encrypted server
    fingerprint : SHA-256 of its certificate, in hexadecimal digits
    """

    addresses: tuple[str, ...]
    names: tuple[str, ...]
    port: int
    fingerprint: str

    @property
    def hosts(self) -> frozenset[str]:
        """Names and addresses that the server answers to."""
        return frozenset((*self.addresses, *self.names))

    @property
    def fingerprint_in_groups(self) -> str:
        """The fingerprint in groups of four digits, to be compared by eye.

        Examples
        --------
        >>> LocalNetwork((), (), 443, "00ffab12").fingerprint_in_groups
        '00FF AB12'
        """
        digits = self.fingerprint.upper()
        return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))

    def url(self, path: str) -> str:
        """Address of a page, as another machine opens it."""
        return f"https://{self.addresses[0]}:{self.port}{path}"


def check_reachable(addresses: tuple[str, ...]) -> tuple[str, ...]:
    """Check that this machine is on a network at all.

    Raises
    ------
    InputError   if it is not
    """
    if not addresses:
        raise InputError(
            "this machine is on no local network: join one and start again, "
            "or leave --local-network out"
        )
    return addresses


def addresses_of_this_machine() -> tuple[str, ...]:
    """IPv4 addresses by which other machines may reach this one, the likeliest first."""
    found = [_own_address(towards) for towards in _TOWARDS]
    with suppress(OSError):  # a machine need not know its own name
        found += [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None)]
    return tuple(dict.fromkeys(one for one in found if one and _is_reached(one)))


def names_of_this_machine() -> tuple[str, ...]:
    """Names by which other machines may reach this one: its own, and that with .local."""
    name = socket.gethostname().split(".")[0].lower()
    return (name, f"{name}.local") if _NAME.fullmatch(name) else ()


def _own_address(towards: str) -> str | None:
    """Return the address that this machine would have on the way to another; nothing is sent."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect((towards, 9))
        except OSError:
            return None
        return str(probe.getsockname()[0])


def _is_reached(address: str) -> bool:
    """Whether an address is one of IPv4 that another machine can go to."""
    try:
        found = ipaddress.IPv4Address(address)
    except ValueError:
        return False
    return not (found.is_loopback or found.is_unspecified or found.is_link_local)
