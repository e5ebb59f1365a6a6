"""Checks of the certificate for the local network."""

import ipaddress
import os
import stat
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.x509.oid import ExtendedKeyUsageOID

from loosehand.errors import StoreError
from loosehand.web.local_certificate import ensure_certificate, make_certificate

NOW = datetime(2027, 3, 1, 18, 30, tzinfo=UTC)
HOSTS = ("192.0.2.5", "drumroom.local")


def extension(certificate, kind):
    """Return an extension of a certificate."""
    return certificate.extensions.get_extension_for_class(kind).value


def test_a_certificate_names_this_machine_and_no_other():
    """The names are the addresses and names of this machine, and its own for itself."""
    certificate, _ = make_certificate(HOSTS, now=NOW)
    names = extension(certificate, x509.SubjectAlternativeName)
    assert set(names.get_values_for_type(x509.DNSName)) == {"drumroom.local", "localhost"}
    addresses = {ipaddress.ip_address(one) for one in ("192.0.2.5", "127.0.0.1")}
    assert set(names.get_values_for_type(x509.IPAddress)) == addresses


def test_a_certificate_can_sign_no_other():
    """Who trusts it trusts this machine and nothing that it might sign."""
    certificate, key = make_certificate(HOSTS, now=NOW)
    assert not extension(certificate, x509.BasicConstraints).ca
    usage = extension(certificate, x509.KeyUsage)
    assert usage.digital_signature
    assert not usage.key_cert_sign
    purposes = extension(certificate, x509.ExtendedKeyUsage)
    assert list(purposes) == [ExtendedKeyUsageOID.SERVER_AUTH]
    certificate.verify_directly_issued_by(certificate)
    assert certificate.public_key() == key.public_key()


def test_a_certificate_is_good_for_a_year_and_a_month():
    """It holds from a day ago, for clocks differ, and no longer than phones take."""
    certificate, _ = make_certificate(HOSTS, now=NOW)
    assert certificate.not_valid_before_utc == NOW - timedelta(days=1)
    assert certificate.not_valid_after_utc - NOW < timedelta(days=398)


def test_a_certificate_is_kept(tmp_path):
    """Asked again, the same one comes back, with the fingerprint of what lies on the disk."""
    first = ensure_certificate(tmp_path / "new", hosts=HOSTS, now=NOW)
    again = ensure_certificate(tmp_path / "new", hosts=HOSTS[::-1], now=NOW + timedelta(days=9))
    assert first == again
    stored = x509.load_pem_x509_certificate(first.certificate_path.read_bytes())
    assert stored.fingerprint(hashes.SHA256()).hex() == first.fingerprint


@pytest.mark.skipif(os.name == "nt", reason="files have no mode on Windows")
def test_the_key_is_for_this_user_alone(tmp_path):
    """Nobody else may read the key, even where its mode was widened."""
    found = ensure_certificate(tmp_path, hosts=HOSTS, now=NOW)
    assert stat.S_IMODE(found.key_path.stat().st_mode) == 0o600
    found.key_path.chmod(0o644)
    ensure_certificate(tmp_path, hosts=HOSTS, now=NOW)
    assert stat.S_IMODE(found.key_path.stat().st_mode) == 0o600


@pytest.mark.parametrize(
    ("hosts", "later"),
    [
        (("192.0.2.6", "drumroom.local"), timedelta()),
        (("192.0.2.5",), timedelta()),
        (HOSTS, timedelta(days=370)),
        (HOSTS, timedelta(days=-2)),
    ],
)
def test_a_certificate_that_will_not_do_is_made_anew(tmp_path, hosts, later):
    """Other addresses, fewer names, or an end near at hand make another one."""
    before = ensure_certificate(tmp_path, hosts=HOSTS, now=NOW)
    after = ensure_certificate(tmp_path, hosts=hosts, now=NOW + later)
    assert after.fingerprint != before.fingerprint


@pytest.mark.parametrize("name", ["certificate.pem", "key.pem"])
@pytest.mark.parametrize("damage", ["cut", "other", "gone"])
def test_a_damaged_certificate_is_made_anew(tmp_path, name, damage):
    """A file that is cut, another's or gone leads to a new pair that fits together."""
    before = ensure_certificate(tmp_path, hosts=HOSTS, now=NOW)
    path = tmp_path / name
    if damage == "cut":
        path.write_bytes(path.read_bytes()[:100])
    elif damage == "other":
        ensure_certificate(tmp_path / "other", hosts=HOSTS, now=NOW)
        path.write_bytes((tmp_path / "other" / name).read_bytes())
    else:
        path.unlink()
    after = ensure_certificate(tmp_path, hosts=HOSTS, now=NOW)
    assert after.fingerprint != before.fingerprint
    assert ensure_certificate(tmp_path, hosts=HOSTS, now=NOW) == after


def test_a_folder_that_cannot_be_is_said_in_a_sentence(tmp_path):
    """Where the certificate cannot be kept, one sentence says so."""
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(StoreError, match="cannot use"):
        ensure_certificate(tmp_path / "file" / "below", hosts=HOSTS, now=NOW)
