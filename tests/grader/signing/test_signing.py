"""The signature against published test vectors, and the school's key pair: made once, kept, and missed when gone."""

from __future__ import annotations

import datetime
import stat

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

from grader.signing.credentials import NotGenuine, canonical, check, hash_data, secured
from grader.signing.signing import (
    PublicKey,
    Signer,
    from_did,
    from_multibase,
    multibase,
    private_file,
    public_file,
    read_public,
    signer_of,
)
from grader.store.errors import GraderError
from grader.store.school import School
from tests.grader.schools import make_school


@pytest.fixture
def school(tmp_path) -> School:
    return make_school(tmp_path / "school")


def signer_from(seed: str) -> Signer:
    return Signer(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(seed)))


#: RFC 8032, section 7.1, tests 1 and 2: private and public key, message, signature. Seen in copies of them.
RFC_8032 = {
    "test-1": (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
        "d25bf5f0595bbe24655141438e7a100b",
    ),
    "test-2": (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
        "387b2eaeb4302aeeb00d291612bb0c00",
    ),
}


@pytest.mark.published
@pytest.mark.parametrize(("private", "public", "message", "signature"), RFC_8032.values(), ids=RFC_8032.keys())
def test_signature_is_that_of_rfc_8032(private, public, message, signature):
    signer = signer_from(private)
    assert signer.public.raw.hex() == public
    assert signer.sign(bytes.fromhex(message)).hex() == signature
    assert signer.public.signed(bytes.fromhex(signature), bytes.fromhex(message))
    assert not signer.public.signed(bytes.fromhex(signature), bytes.fromhex(message) + b"!")


#: W3C Recommendation "Data Integrity EdDSA Cryptosuites v1.0" (15 May 2025), appendix B.3, the test vectors of
#: eddsa-jcs-2022 as kept in the specification's repository (TestVectors/keyPair.json, eddsa-jcs-2022/signedJCS.json).
W3C_PRIVATE = "z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq"
W3C_PUBLIC = "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2"
W3C_CONTEXT = ["https://www.w3.org/ns/credentials/v2", "https://www.w3.org/ns/credentials/examples/v2"]
W3C_SIGNED = {
    "@context": W3C_CONTEXT,
    "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
    "type": ["VerifiableCredential", "AlumniCredential"],
    "name": "Alumni Credential",
    "description": "A minimum viable example of an Alumni Credential.",
    "issuer": "https://vc.example/issuers/5678",
    "validFrom": "2023-01-01T00:00:00Z",
    "credentialSubject": {"id": "did:example:abcdefgh", "alumniOf": "The School of Examples"},
    "proof": {
        "type": "DataIntegrityProof",
        "cryptosuite": "eddsa-jcs-2022",
        "created": "2023-02-24T23:36:38Z",
        "verificationMethod": f"https://vc.example/issuers/5678#{W3C_PUBLIC}",
        "proofPurpose": "assertionMethod",
        "@context": W3C_CONTEXT,
        "proofValue": "z63t83Y53KfzJ5ZosfKTnqfMcKB2dmTrfjSaQjeNNjAD5srBowQfmWqeRb8rRjmeEuCBEsddF9LsVogtuTsijJKh4",
    },
}


def w3c_key() -> Signer:
    data = from_multibase(W3C_PRIVATE)
    assert data[:2] == bytes.fromhex("8026")  # the multicodec number of an Ed25519 private key
    return signer_from(data[2:].hex())


@pytest.mark.published
def test_key_is_written_as_the_w3c_writes_it():
    assert w3c_key().public.multibase == W3C_PUBLIC


@pytest.mark.published
def test_proof_is_that_of_the_w3c_test_vector():
    proof = W3C_SIGNED["proof"]
    assert multibase(w3c_key().sign(hash_data(W3C_SIGNED, proof))) == proof["proofValue"]


@pytest.mark.published
def test_w3c_test_vector_passes_and_fails_with_one_letter_changed():
    assert check(W3C_SIGNED, PublicKey(from_multibase(W3C_PUBLIC)[2:])) == w3c_key().public
    subject = {**W3C_SIGNED["credentialSubject"], "alumniOf": "The school of Examples"}
    with pytest.raises(NotGenuine, match="altered"):
        check({**W3C_SIGNED, "credentialSubject": subject}, None)


@pytest.mark.published
def test_names_are_sorted_as_rfc_8785_section_3_2_3_sorts_them():
    """By UTF-16 code units: the smiling face, beyond the first plane, comes before the Hebrew presentation form."""
    data = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    order = ["Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis", "Euro Sign",
             "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh"]  # fmt: skip
    text = canonical(data).decode()
    assert sorted(order, key=text.index) == order


@pytest.mark.published
def test_strings_and_literals_are_written_as_in_rfc_8785_section_3_2_2():
    data = {"string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/", "literals": [None, True, False]}
    assert canonical(data) == '{"literals":[null,true,false],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'.encode()


@pytest.mark.parametrize("data", [0.5, 2**53, {1: "x"}, ["\ud800"], b"x"])
def test_what_other_programs_might_write_otherwise_is_not_signed(data):
    with pytest.raises(ValueError):
        canonical(data)


@pytest.mark.parametrize("data", [b"", b"\0", b"\0\0\x01", b"\xff" * 64], ids=["none", "zero", "zeros", "ones"])
def test_multibase_comes_back(data):
    assert from_multibase(multibase(data)) == data


def test_base58_is_that_of_the_multibase_specification():
    """The example of base58btc in the specification's test vectors, from memory."""
    assert multibase(b"yes mani !") == "z7paNL19xttacUY"


@pytest.mark.parametrize("text", ["", "z0", "zl", "7paNL19xttacUY", "z" + "1" * 1000])
def test_text_that_is_no_base58_is_refused(text):
    with pytest.raises(ValueError):
        from_multibase(text)


def test_proof_is_the_same_each_time_and_another_with_another_key(school):
    when = datetime.datetime(2026, 5, 9, tzinfo=datetime.UTC)
    signer = signer_of(school)
    document = {"@context": ["https://www.w3.org/ns/credentials/v2"], "issuer": signer.public.did, "name": "Нина 周"}
    signed = secured(document, signer, when)
    assert signed == secured(document, signer, when)
    assert check(signed, signer.public) == signer.public
    forged = secured(document, signer_from("11" * 32), when)
    with pytest.raises(NotGenuine, match="forged: signed with another key"):
        check(forged, signer.public)
    with pytest.raises(NotGenuine, match="forged: the issuer"):
        check(forged, None)


@pytest.mark.parametrize("proof", [None, [], {}, "z", [{}, {}], {"type": "DataIntegrityProof"}])
def test_document_without_a_whole_proof_is_said_to_be_unsigned(proof):
    with pytest.raises(NotGenuine, match="not signed as a certificate is"):
        check({"issuer": "did:key:z6Mk", "proof": proof}, None)


def test_key_pair_is_made_when_first_needed_and_stays(school):
    assert not private_file(school).exists()
    signer = signer_of(school)
    assert stat.S_IMODE(private_file(school).stat().st_mode) == 0o600
    assert read_public(str(public_file(school))) == signer.public == signer_of(school).public
    assert read_public(signer.public.did) == from_did(signer.public.did) == signer.public
    assert b"PRIVATE" not in public_file(school).read_bytes()


def test_public_key_is_written_again_from_the_private_one(school):
    public = signer_of(school).public
    public_file(school).unlink()
    assert signer_of(school).public == public == read_public(str(public_file(school)))


def test_missing_private_key_is_not_made_anew(school):
    signer_of(school)
    private_file(school).unlink()
    with pytest.raises(GraderError, match=r"signing\.key: missing, .*restore it from your backup"):
        signer_of(school)
    assert not private_file(school).exists()


def not_ed25519() -> bytes:
    return generate_private_key(SECP256R1()).private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


@pytest.mark.parametrize("cut", [b"", b"nonsense", "half", "another kind"])
def test_damaged_private_key_is_named(school, cut):
    signer_of(school)
    path = private_file(school)
    whole = path.read_bytes()
    path.write_bytes({"half": whole[: len(whole) // 2], "another kind": not_ed25519()}.get(cut, cut))
    with pytest.raises(GraderError, match=r"signing\.key: not (a whole signing|an Ed25519) key; restore"):
        signer_of(school)


def test_public_key_of_another_pair_is_named(school):
    signer_of(school)
    public_file(school).write_bytes(signer_from("22" * 32).public.pem)
    with pytest.raises(GraderError, match=r"signing_public\.pem: not the key of"):
        signer_of(school)


def test_what_is_no_public_key_is_refused_with_the_way_to_mend_it(school, tmp_path):
    signer_of(school)
    other = generate_private_key(SECP256R1()).public_key()
    wrong = {
        str(tmp_path / "none.pem"): "no such file",
        str(tmp_path): "a folder",
        str(private_file(school)): "a private key",
        "did:key:z6Mk": "no Ed25519 key",
        "did:key:0": "not written in base58btc",
    }
    pem = other.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    for data, says in ((b"nonsense", "no public key in PEM"), (pem, "not an Ed25519")):
        path = tmp_path / f"{len(wrong)}.pem"
        path.write_bytes(data)
        wrong[str(path)] = says
    for named, says in wrong.items():
        with pytest.raises(GraderError, match=says):
            read_public(named)
