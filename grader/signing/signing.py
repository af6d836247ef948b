"""The school's signature: an Ed25519 key pair, of which the private key never leaves the school folder.

Ed25519 is RFC 8032. A public key is written as others write it: in PEM, and as a ``did:key`` (the multibase text of
the key behind its multicodec number; W3C Controlled Identifiers 1.0, section "Multikey").
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)

from grader.store.errors import GraderError
from grader.store.files import write_bytes
from grader.store.school import School

#: The digits of base58 in the order of Bitcoin, which multibase calls base58btc.
_DIGITS = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
#: Says in multibase that base58btc follows.
_BASE58 = "z"
#: The multicodec number of an Ed25519 public key, as a varint.
_ED25519 = b"\xed\x01"
_KEY_BYTES = 32
DID_KEY = "did:key:"


def private_file(school: School) -> Path:
    return school.folder / "signing.key"


def public_file(school: School) -> Path:
    return school.records / "signing_public.pem"


@dataclass(frozen=True)
class PublicKey:
    """What signatures are checked with; anybody may have it."""

    raw: bytes

    def signed(self, signature: bytes, data: bytes) -> bool:
        """Whether the signature is this key's, of this data."""
        try:
            Ed25519PublicKey.from_public_bytes(self.raw).verify(signature, data)
        except InvalidSignature:
            return False
        return True

    @property
    def multibase(self) -> str:
        return multibase(_ED25519 + self.raw)

    @property
    def did(self) -> str:
        """The key as an identifier of who signs."""
        return DID_KEY + self.multibase

    @property
    def pem(self) -> bytes:
        key = Ed25519PublicKey.from_public_bytes(self.raw)
        return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


@dataclass(frozen=True)
class Signer:
    """The private key of a school."""

    key: Ed25519PrivateKey

    def sign(self, data: bytes) -> bytes:
        """64 bytes, always the same ones for the same data."""
        return self.key.sign(data)

    @property
    def public(self) -> PublicKey:
        return PublicKey(self.key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw))


def signer_of(school: School) -> Signer:
    """The school's key pair, made when it is first needed.

    Raises: :class:`GraderError` if the private key is missing although there is a public one, is damaged, or is not
    the one that the public key belongs to.
    """
    private, public = private_file(school), public_file(school)
    try:
        signer = _read_private(private)
    except FileNotFoundError:
        if public.exists():
            raise GraderError(
                f"{private}: missing, and {public} says that the school has signed with it; restore it from your backup"
            ) from None
        return _new_signer(school)
    if not public.exists():
        # A run was killed between the two, or somebody took the file for a spare: it follows from the private key.
        write_bytes(public, signer.public.pem)
    elif read_public(str(public)) != signer.public:
        raise GraderError(f"{public}: not the key of {private}; restore from your backup the one that changed")
    return signer


def _new_signer(school: School) -> Signer:
    key = Ed25519PrivateKey.generate()
    text = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    write_bytes(private_file(school), text, mode=0o600)
    signer = Signer(key)
    write_bytes(public_file(school), signer.public.pem)
    return signer


def _read_private(path: Path) -> Signer:
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        raise GraderError(f"{path}: not a whole signing key; restore it from your backup") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise GraderError(f"{path}: not an Ed25519 key; restore the school's own from your backup")
    return Signer(key)


def read_public(named: str) -> PublicKey:
    """The public key in a PEM file, or written out as ``did:key:z6Mk...``.

    Raises: :class:`GraderError` if it is neither.
    """
    if named.startswith(DID_KEY):
        try:
            return from_did(named)
        except ValueError as error:
            raise GraderError(f"{named[:80]}: {error}; copy it whole from the certificate's issuer") from None
    path = Path(named).expanduser()
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise GraderError(
            f"{path}: no such file; the school's public key is records/signing_public.pem in its folder"
        ) from None
    except IsADirectoryError:
        raise GraderError(f"{path}: a folder, not a public key; name its file, records/signing_public.pem") from None
    if b"PRIVATE KEY" in data:
        raise GraderError(f"{path}: a private key, which must stay where it is; name signing_public.pem instead")
    try:
        key = load_pem_public_key(data)
    except (ValueError, UnsupportedAlgorithm):
        raise GraderError(f"{path}: no public key in PEM; ask the school for its signing_public.pem") from None
    if not isinstance(key, Ed25519PublicKey):
        raise GraderError(f"{path}: not an Ed25519 public key; ask the school for its signing_public.pem")
    return PublicKey(key.public_bytes(Encoding.Raw, PublicFormat.Raw))


def from_did(text: str) -> PublicKey:
    """The key that a ``did:key`` spells. Raises: ValueError if it spells no Ed25519 key."""
    data = from_multibase(text.removeprefix(DID_KEY))
    if not text.startswith(DID_KEY) or data[:2] != _ED25519 or len(data) != len(_ED25519) + _KEY_BYTES:
        raise ValueError("no Ed25519 key")
    return PublicKey(data[2:])


def multibase(data: bytes) -> str:
    """Bytes as multibase text in base58btc: a number in base 58, behind a 1 for each zero byte in front."""
    number = int.from_bytes(data)
    digits = ""
    while number:
        number, digit = divmod(number, len(_DIGITS))
        digits = _DIGITS[digit] + digits
    zeros = len(data) - len(data.lstrip(b"\0"))
    return _BASE58 + _DIGITS[0] * zeros + digits


#: Longer texts than a signature's are none of ours; to read them would take long.
_LONGEST = 200


def from_multibase(text: str) -> bytes:
    """The bytes that a multibase text in base58btc spells. Raises: ValueError if it is none."""
    if not text.startswith(_BASE58) or len(text) > _LONGEST or any(letter not in _DIGITS for letter in text[1:]):
        raise ValueError("not written in base58btc")
    digits = text[1:]
    number = 0
    for digit in digits:
        number = number * len(_DIGITS) + _DIGITS.index(digit)
    zeros = len(digits) - len(digits.lstrip(_DIGITS[0]))
    return b"\0" * zeros + number.to_bytes((number.bit_length() + 7) // 8)
