"""The certificate of this machine for the local network: made here, for nobody else to vouch for.

A phone cannot know it, so it warns once; the fingerprint on the screen of this machine says
whether what the phone shows is what was made here. The certificate can sign no other one.
"""

import ipaddress
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from loosehand.studio.database import store_errors
from loosehand.studio.whole_files import write_whole

__all__ = ["LocalCertificate", "ensure_certificate", "make_certificate"]

_LIFE = timedelta(days=397)
"""Some phones refuse longer ones (common practice, no source)."""

_RENEWED_BEFORE = timedelta(days=30)
_CLOCKS_DIFFER_BY = timedelta(days=1)
_ALWAYS = ("localhost", "127.0.0.1")
_COMMON_NAME = "Loosehand on this network"


@dataclass(frozen=True)
class LocalCertificate:
    """A certificate on the disk.

    Attributes
    ----------
    certificate_path, key_path : where it and its key lie, as PEM
    fingerprint : SHA-256, in hexadecimal digits
    """

    certificate_path: Path
    key_path: Path
    fingerprint: str


def ensure_certificate(folder: Path, *, hosts: Sequence[str], now: datetime) -> LocalCertificate:
    """Return the certificate that lies in a folder, made anew where it will not do.

    Parameters
    ----------
    folder : where it is kept; made if need be
    hosts : addresses and names of this machine
    now : the moment, with its zone

    Raises
    ------
    DiskFull, StoreError   if it cannot be kept
    """
    certificate_path, key_path = folder / "certificate.pem", folder / "key.pem"
    with store_errors(folder):
        found = _read(certificate_path, key_path)
        if found is None or not _will_do(found, hosts=hosts, now=now):
            found, key = make_certificate(hosts, now=now)
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            write_whole(key_path, _key_as_pem(key))
            write_whole(certificate_path, found.public_bytes(serialization.Encoding.PEM))
        os.chmod(key_path, 0o600)
    return LocalCertificate(certificate_path, key_path, found.fingerprint(hashes.SHA256()).hex())


def make_certificate(
    hosts: Sequence[str], *, now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    """Make a certificate that signs itself, and its key.

    Parameters
    ----------
    hosts : addresses and names that it is for, this machine's own name for itself besides
    now : the moment, with its zone
    """
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _COMMON_NAME)])
    key_name = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    builder = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _CLOCKS_DIFFER_BY)
        .not_valid_after(now - _CLOCKS_DIFFER_BY + _LIFE)
        .add_extension(
            x509.SubjectAlternativeName([_general_name(host) for host in _all_hosts(hosts)]),
            critical=False,
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(key_name, critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(key_name),
            critical=False,
        )
    )
    return builder.sign(key, hashes.SHA256()), key


def _all_hosts(hosts: Sequence[str]) -> list[str]:
    """Sort hosts, this machine's names for itself among them."""
    return sorted({*hosts, *_ALWAYS})


def _general_name(host: str) -> x509.GeneralName:
    """Return a host as a certificate writes it."""
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _key_usage() -> x509.KeyUsage:
    """Return what the key may do: sign for itself, and nothing else."""
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _key_as_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _read(certificate_path: Path, key_path: Path) -> x509.Certificate | None:
    """Read a certificate whose key lies beside it, or None."""
    try:
        found = x509.load_pem_x509_certificate(certificate_path.read_bytes())
        key = serialization.load_pem_private_key(key_path.read_bytes(), password=None)
    except (FileNotFoundError, ValueError, TypeError):
        return None
    return found if key.public_key() == found.public_key() else None


def _will_do(found: x509.Certificate, *, hosts: Sequence[str], now: datetime) -> bool:
    """Whether a certificate is for these very hosts, and for some time to come."""
    names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    same = set(names) == {_general_name(host) for host in _all_hosts(hosts)}
    in_time = found.not_valid_before_utc <= now < found.not_valid_after_utc - _RENEWED_BEFORE
    return same and in_time
