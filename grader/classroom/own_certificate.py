"""The school's own certificate for an encrypted classroom: made on this machine, for one address, known to no browser.

A browser warns of it once, since nobody whom it trusts has signed it; its fingerprint stands on the slips. It keeps who
only listens on the network from reading anything.
"""

from __future__ import annotations

import ipaddress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from grader.store.files import read_bytes, write_bytes
from grader.store.school import School

FILE = "classroom.pem"
#: Browsers take none that is valid for more than 398 days.
_VALID = timedelta(days=390)
#: A clock of a phone may be behind.
_BEFORE = timedelta(days=2)


def own_certificate(school: School, host: str, now: datetime | None = None) -> tuple[Path, str]:
    """The file with key and certificate for this address, made anew where there is none that fits, and its fingerprint.

    The fingerprint is the SHA-256 digest of the certificate, as browsers show it.
    """
    now = now or datetime.now(UTC)
    path = school.folder / FILE
    found = _read(path)
    if found is None or not _fits(found, host, now):
        found = _made(school, host, now, path)
    digest = found.fingerprint(hashes.SHA256()).hex().upper()
    return path, ":".join(digest[at : at + 2] for at in range(0, len(digest), 2))


def _read(path: Path) -> x509.Certificate | None:
    try:
        return x509.load_pem_x509_certificate(read_bytes(path))
    except (OSError, ValueError):
        return None


def _fits(certificate: x509.Certificate, host: str, now: datetime) -> bool:
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = names.get_values_for_type(x509.IPAddress)
    return ipaddress.ip_address(host) in known and now + timedelta(days=1) < certificate.not_valid_after_utc


def _made(school: School, host: str, now: datetime, path: Path) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, school.id)])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _BEFORE)
        .not_valid_after(now + _VALID)
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(host))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    secret = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    write_bytes(path, secret + made.public_bytes(serialization.Encoding.PEM), mode=0o600)
    return made
