"""Credentials as others read them: canonical JSON, and a signature in it by which it is checked without the school.

The signature is a Data Integrity proof of the suite ``eddsa-jcs-2022`` (W3C Recommendation "Data Integrity EdDSA
Cryptosuites v1.0", 15 May 2025, section 3.3), over JSON in the canonical form of RFC 8785.
"""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from typing import Any

from grader.signing.signing import DID_KEY, PublicKey, Signer, from_did, from_multibase, multibase

SUITE = "eddsa-jcs-2022"
#: Beyond these, JSON's numbers are not whole in every program (RFC 8785, section 3.2.2.3 and appendix D).
_MOST = 2**53 - 1

Json = dict[str, Any]


def canonical(data: Any) -> bytes:
    """JSON in the canonical form of RFC 8785: no blanks, names in the order of their UTF-16 code units, UTF-8.

    Of numbers only whole ones are written. Raises: ValueError for any other, and for text with half a character.
    """
    return _canonical(data).encode("utf-8")


def _canonical(data: Any) -> str:
    if data is None or isinstance(data, bool | str):
        return json.dumps(data, ensure_ascii=False)
    if isinstance(data, int):
        if abs(data) > _MOST:
            raise ValueError(f"{data} is larger than JSON's whole numbers go")
        return str(data)
    if isinstance(data, list):
        return "[" + ",".join(map(_canonical, data)) + "]"
    if isinstance(data, dict) and all(isinstance(name, str) for name in data):
        names = sorted(data, key=lambda name: name.encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{_canonical(name)}:{_canonical(data[name])}" for name in names) + "}"
    raise ValueError(f"{data!r} has no place in a credential")


def digest(data: Any) -> str:
    return hashlib.sha256(canonical(data)).hexdigest()


def read_json(text: str) -> Json:
    """A JSON object in which no name stands twice, since programs differ in which of the two they take."""

    def once(pairs: list[tuple[str, Any]]) -> Json:
        if len({name for name, _ in pairs}) < len(pairs):
            raise ValueError("a name stands twice in it")
        return dict(pairs)

    try:
        data = json.loads(text, object_pairs_hook=once)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    if not isinstance(data, dict):
        raise ValueError("not a credential")
    return data


def hash_data(document: Json, proof: Json) -> bytes:
    """What is signed: the digest of the proof without its value, then that of the document without its proof."""
    bare = {name: value for name, value in proof.items() if name != "proofValue"}
    unsecured = {name: value for name, value in document.items() if name != "proof"}
    return hashlib.sha256(canonical(bare)).digest() + hashlib.sha256(canonical(unsecured)).digest()


def secured(document: Json, signer: Signer, created: datetime) -> Json:
    """The document with a proof by this signer; the same each time for the same document and time."""
    public = signer.public
    proof = {
        "type": "DataIntegrityProof",
        "cryptosuite": SUITE,
        "created": stamp(created),
        "verificationMethod": f"{public.did}#{public.multibase}",
        "proofPurpose": "assertionMethod",
    }
    if "@context" in document:
        proof["@context"] = document["@context"]
    proof["proofValue"] = multibase(signer.sign(hash_data(document, proof)))
    return {**document, "proof": [proof]}


def stamp(when: datetime) -> str:
    """A time as an XML Schema dateTimeStamp, to the second."""
    return when.isoformat(timespec="seconds").replace("+00:00", "Z")


class NotGenuine(Exception):
    """Why a document's signature does not hold, in words that follow "it is"."""


def check(document: Json, public: PublicKey | None) -> PublicKey:
    """Check the document's proof against a public key, or where none is given the one that it names itself.

    Gives the key that signed it. Raises: :class:`NotGenuine`, saying whether it is forged or altered.
    """
    try:
        return _check(document, public)
    except (KeyError, TypeError, AttributeError, ValueError, RecursionError):
        raise NotGenuine("not signed as a certificate is: its signature is damaged or none") from None


def _check(document: Json, public: PublicKey | None) -> PublicKey:
    proof = document["proof"]
    if isinstance(proof, list):
        (proof,) = proof
    if (proof["type"], proof["cryptosuite"], proof["proofPurpose"]) != ("DataIntegrityProof", SUITE, "assertionMethod"):
        raise ValueError("another proof")
    signer, _, key = proof["verificationMethod"].partition("#")
    named = from_did(DID_KEY + key)
    if public and named != public:
        raise NotGenuine(f"forged: signed with another key ({named.did}) than the school's ({public.did})")
    context, signed_context = document.get("@context"), proof.get("@context", [])
    if "@context" in proof and (not isinstance(context, list) or context[: len(signed_context)] != signed_context):
        raise NotGenuine("altered after it was signed")
    unsecured = {**document, "@context": proof["@context"]} if "@context" in proof else document
    if not named.signed(from_multibase(proof["proofValue"]), hash_data(unsecured, proof)):
        raise NotGenuine("altered after it was signed")
    issuer = document["issuer"]["id"] if isinstance(document["issuer"], dict) else document["issuer"]
    if issuer != signer or (signer.startswith(DID_KEY) and signer != named.did):
        raise NotGenuine("forged: the issuer that it names is not who signed it")
    return named
