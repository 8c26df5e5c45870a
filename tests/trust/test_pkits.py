"""The NIST Public Key Interoperability Test Suite (PKITS 1.0.1), as carried by cryptography-vectors.

Each test is a signed message whose certificates are the path; the name says whether the path is
valid.  `find_path` is run, since our own limits (RSA from 3,072 bits, purposes) are stricter than
the suite's certificates.  Then revocation is checked with all of the suite's complete lists.
Every test that is left out, and every valid path that is refused here, has its reason below; the
refusals are asserted, so that the list stays true.
"""

from __future__ import annotations

import datetime as dt
import email
import re
from pathlib import Path

import cryptography_vectors
import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, pkcs7

from evidpack.errors import TrustError
from evidpack.trust import der
from evidpack.trust.certificates import certificate_from_der
from evidpack.trust.paths import find_path
from evidpack.trust.revocation import load_crls, require_not_revoked

SUITE = Path(cryptography_vectors.__file__).parent / "x509" / "PKITS_data"
AT = dt.datetime(2026, 5, 14, tzinfo=dt.UTC)
MESSAGES = sorted((SUITE / "smime").glob("Signed*.eml"))

POLICY = "the outcome depends on certificate policies, which are not evaluated"
SKIPPED = {
    r"(All|Any|Different|Overlapping).*Polic(y|ies)Test": POLICY,
    r"(CPSPointer|UserNotice)QualifierTest": POLICY,
    r"SignedinhibitAnyPolicyTest3": POLICY,
    r"ValidDSAParameterInheritance": "DSA is not accepted, and the library cannot even read the key",
    r"deltaCRLTest": "delta lists are refused when they are loaded; see test_revocation",
}
STRICTER = {
    r"ValidPolicyMapping|ValidRequireExplicit|ValidSelfIssuedrequireExplicit": POLICY,
    r"Valid(SelfIssued)?inhibit(AnyPolicy|PolicyMapping)": POLICY,
    r"ValidDNnameConstraints|ValidSelfIssuedDNname|ValidDNandRFC822|ValidURIname": "constraints on directory names and URIs are not evaluated, so such a path is refused",
    r"ValidNameChaining(Whitespace|Capitalization)|CaseInsensitiveMatch|ValidRollover": "names are compared byte for byte",
    r"ValidDSASignatures": "DSA is not an accepted algorithm",
    r"ValidGeneralizedTimenotBeforeDate": "RFC 5280 §4.1.2.5 wants UTCTime before 2050, and the library insists",
    r"ValidbasicConstraintsNotCritical": "RFC 5280 §4.2.1.9 wants it critical in an authority, and the library insists",
    r"ValidSelfIssuedpathLen": "the library counts self-issued certificates too",
    r"ValidBasicSelfIssued(OldWithNewTest1|NewWithOldTest4|CRLSigningKey)": "a list must be signed with the key that signed the certificate",
    r"ValidSeparateCertificateandCRLKeys": "a list must be signed with the key that signed the certificate",
    r"ValiddistributionPointTest[457]": "names relative to the issuer are not resolved",
    r"ValidonlySomeReasons": "lists for some reasons only are refused",
    r"ValidIDPwithindirect|ValidcRLIssuer": "indirect lists are refused",
}


# The suite's messages are BER: their certificates are not sorted, and one has a negative number.
pytestmark = [
    pytest.mark.filterwarnings("ignore:PKCS#7 certificates could not be parsed as DER"),
    pytest.mark.filterwarnings("ignore:.*serial number which wasn't positive"),
]


def reason_in(table: dict[str, str], name: str) -> str | None:
    return next((reason for pattern, reason in table.items() if re.search(pattern, name)), None)


def signature_of(message: Path) -> bytes:
    parts = email.message_from_bytes(message.read_bytes()).walk()
    part = next(part for part in parts if "pkcs7-signature" in part.get_content_type())
    payload = part.get_payload(decode=True)
    assert isinstance(payload, bytes)
    return payload


@pytest.fixture(scope="module")
def anchor() -> x509.Certificate:
    data = (SUITE / "certs" / "TrustAnchorRootCertificate.crt").read_bytes()
    return certificate_from_der(data, path="TrustAnchorRootCertificate.crt")


@pytest.fixture(scope="module")
def lists() -> list[x509.CertificateRevocationList]:
    found: list[x509.CertificateRevocationList] = []
    refused = []
    for path in sorted((SUITE / "crls").glob("*.crl")):
        try:
            found += load_crls(path.read_bytes(), path=path.name)
        except TrustError as error:
            refused.append(error.message)
    assert len(found) == 169
    assert refused == ["a delta revocation list cannot be used"] * 4
    return found


def end_of(signature: bytes, carried: list[x509.Certificate]) -> x509.Certificate:
    """The certificate whose issuer and serial number name the signer (RFC 5652 §10.2.4)."""

    def identifier(certificate: x509.Certificate) -> bytes:
        number = certificate.serial_number
        octets = number.to_bytes(number.bit_length() // 8 + 1, "big", signed=True)
        issuer = der.issuer_bytes(certificate.public_bytes(Encoding.DER), path=None)
        return issuer + der.element(b"\x02", octets)

    (end,) = (certificate for certificate in carried if identifier(certificate) in signature)
    return end


def judge(
    message: Path, anchor: x509.Certificate, lists: list[x509.CertificateRevocationList]
) -> None:
    signature = signature_of(message)
    carried = pkcs7.load_der_pkcs7_certificates(signature)
    end = end_of(signature, carried)
    read = [certificate_from_der(c.public_bytes(Encoding.DER), path=message.name) for c in carried]
    path = find_path(end, [c for c in read if c not in (end, anchor)], [anchor], at=AT)
    require_not_revoked(path, lists, AT)


@pytest.mark.parametrize("message", MESSAGES, ids=lambda path: path.stem.removeprefix("Signed"))
def test_a_path_of_the_suite(
    message: Path, anchor: x509.Certificate, lists: list[x509.CertificateRevocationList]
) -> None:
    name = message.stem
    skipped = reason_in(SKIPPED, name)
    if skipped:
        pytest.skip(skipped)
    stricter = reason_in(STRICTER, name)
    invalid = "Invalid" in name or "MissingCRL" in name
    if invalid or stricter:
        with pytest.raises(TrustError) as caught:
            judge(message, anchor, lists)
        assert caught.value.hint
    else:
        judge(message, anchor, lists)


def test_no_reason_is_out_of_use() -> None:
    for table in (SKIPPED, STRICTER):
        for pattern in table:
            assert any(re.search(pattern, message.stem) for message in MESSAGES), pattern
    assert len(MESSAGES) == 224


EXPLAINED = {
    # The suite spoiled this signature in the count of its unused bits.
    "InvalidCASignatureTest2": "a certificate cannot be read",
    "InvalidEESignatureTest3": "was not signed with the key of “Good CA”",
    "InvalidCAnotBeforeDateTest1": "“Bad notBefore Date CA” was not yet valid",
    "InvalidEEnotAfterDateTest6": "was no longer valid",
    "InvalidNameChainingEETest1": "is not known: “Good CA Root”",
    "InvalidMissingbasicConstraintsTest1": "is not an authority's, but issued another",
    "InvalidcAFalseTest2": "is not an authority's, but issued another",
    "InvalidkeyUsageCriticalkeyCertSignFalseTest1": "may not sign certificates",
    "InvalidpathLenConstraintTest5": "allows fewer authorities below it than there are",
    "InvalidUnknownCriticalCertificateExtensionTest2": "has a critical extension",
    "InvalidNegativeSerialNumberTest15": "a certificate cannot be read",
    "InvalidRevokedCATest2": "the certificate of “Revoked subCA” was revoked",
    "InvalidRevokedEETest3": "was revoked",
    "MissingCRLTest1": "no revocation list that was given says",
    "InvalidOldCRLnextUpdateTest11": "no revocation list that was given says",
    "InvalidonlyContainsUserCertsCRLTest11": "no revocation list that was given says",
}


@pytest.mark.parametrize("name", EXPLAINED)
def test_the_reason_given_is_the_one_the_suite_is_about(
    name: str, anchor: x509.Certificate, lists: list[x509.CertificateRevocationList]
) -> None:
    message = SUITE / "smime" / f"Signed{name}.eml"
    with pytest.raises(TrustError) as caught:
        judge(message, anchor, lists)
    assert EXPLAINED[name] in caught.value.message
