"""Which digests, signature algorithms and keys count, and the check of one signature.

ECDSA on P-256 or P-384, RSA with PKCS #1 v1.5 from 3,072 bits, SHA-256, SHA-384 or SHA-512
(FIPS 186-5, RFC 5754, RFC 8017).
"""

from __future__ import annotations

from typing import Final

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa

from evidpack.errors import TrustError
from evidpack.limits import MIN_RSA_BITS
from evidpack.trust.der import AlgorithmIdentifier, ObjectIdentifier

Hash = hashes.SHA256 | hashes.SHA384 | hashes.SHA512
SigningKey = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey
VerifyingKey = ec.EllipticCurvePublicKey | rsa.RSAPublicKey

HASHES: Final[dict[str, Hash]] = {
    "sha256": hashes.SHA256(),
    "sha384": hashes.SHA384(),
    "sha512": hashes.SHA512(),
}
# RFC 5754 §2
DIGEST_NAMES: Final[dict[str, str]] = {
    "2.16.840.1.101.3.4.2.1": "sha256",
    "2.16.840.1.101.3.4.2.2": "sha384",
    "2.16.840.1.101.3.4.2.3": "sha512",
}
DIGEST_IDENTIFIERS: Final[dict[str, ObjectIdentifier]] = {
    name: ObjectIdentifier(dotted) for dotted, name in DIGEST_NAMES.items()
}
# RFC 5758 §3.2
ECDSA_IDENTIFIERS: Final[dict[str, str]] = {
    "sha256": "1.2.840.10045.4.3.2",
    "sha384": "1.2.840.10045.4.3.3",
    "sha512": "1.2.840.10045.4.3.4",
}
# RFC 5754 §3.2: rsaEncryption leaves the digest to the signer's digestAlgorithm.
RSA_IDENTIFIER: Final = "1.2.840.113549.1.1.1"
RSA_DIGEST_IDENTIFIERS: Final[dict[str, str]] = {
    "sha256": "1.2.840.113549.1.1.11",
    "sha384": "1.2.840.113549.1.1.12",
    "sha512": "1.2.840.113549.1.1.13",
}
CURVES: Final = ("secp256r1", "secp384r1")
ACCEPTED_KEYS: Final = f"ECDSA P-256 or P-384, or RSA of at least {MIN_RSA_BITS} bits"
ACCEPTED_DIGESTS: Final = "SHA-256, SHA-384 or SHA-512"


def describe_key(public_key: object) -> str:
    """What a key is, in a few words."""
    if isinstance(public_key, rsa.RSAPublicKey):
        return f"RSA of {public_key.key_size} bits"
    if isinstance(public_key, ec.EllipticCurvePublicKey):
        return f"an elliptic-curve key on {public_key.curve.name}"
    return f"a key of another kind ({type(public_key).__name__})"


def require_key_strength(
    public_key: object, *, whose: str = "the signer", path: str | None = None
) -> VerifyingKey:
    """Return the key if it is of an accepted kind and size.

    Raises:
        TrustError: another kind of key, another curve, or an RSA key that is too short.
    """
    if isinstance(public_key, rsa.RSAPublicKey) and public_key.key_size >= MIN_RSA_BITS:
        return public_key
    if isinstance(public_key, ec.EllipticCurvePublicKey) and public_key.curve.name in CURVES:
        return public_key
    raise TrustError(
        f"the key of {whose} is not strong enough or not of an accepted kind",
        path=path,
        expected=ACCEPTED_KEYS,
        observed=describe_key(public_key),
        hint="ask the authority that issued the certificate for one with a stronger key",
    )


def digest_name(identifier: AlgorithmIdentifier, *, what: str, path: str | None) -> str:
    """The name by which hashlib knows a digest algorithm.

    Raises:
        TrustError: SHA-1, MD5 or anything else but SHA-256, SHA-384 and SHA-512.
    """
    dotted = identifier.algorithm.dotted_string
    if dotted not in DIGEST_NAMES:
        raise TrustError(
            f"{what} uses a digest that is weak or not accepted",
            path=path,
            expected=ACCEPTED_DIGESTS,
            observed=f"object identifier {dotted}",
            hint="ask for it to be made again with SHA-256 or stronger",
        )
    return DIGEST_NAMES[dotted]


def require_signature_algorithm(
    identifier: AlgorithmIdentifier, *, key: VerifyingKey, digest: str, what: str, path: str | None
) -> None:
    """The named algorithm, its parameters, the key and the digest must all agree.

    The field is not covered by the signature, so it must have no freedom.

    Raises:
        TrustError: they do not agree.
    """
    dotted = identifier.algorithm.dotted_string
    if isinstance(key, rsa.RSAPublicKey):
        agreed = (RSA_IDENTIFIER, RSA_DIGEST_IDENTIFIERS[digest])
        fits = dotted in agreed and identifier.parameters is not None
        expected = f"{' or '.join(agreed)} with NULL parameters"
    else:
        expected = f"{ECDSA_IDENTIFIERS[digest]} without parameters"
        fits = dotted == ECDSA_IDENTIFIERS[digest] and identifier.parameters is None
    if not fits:
        shown = "without" if identifier.parameters is None else "with NULL"
        raise TrustError(
            f"{what} names a signature algorithm that does not fit its key and digest",
            path=path,
            expected=expected,
            observed=f"{dotted} {shown} parameters",
        )


def require_signed(
    key: VerifyingKey, *, signature: bytes, data: bytes, digest: str, what: str, path: str | None
) -> None:
    """Check one signature over ``data``.

    Raises:
        TrustError: the signature was not made over these bytes with this key.
    """
    try:
        if isinstance(key, rsa.RSAPublicKey):
            key.verify(signature, data, padding.PKCS1v15(), HASHES[digest])
        else:
            key.verify(signature, data, ec.ECDSA(HASHES[digest]))
    except InvalidSignature as error:
        raise TrustError(
            f"{what}: the signature does not verify with the key of the certificate it carries",
            path=path,
            expected="a signature over these bytes",
            observed="a signature over other bytes, or by another key",
            hint="treat it as altered; ask the sender for the original file",
        ) from error


def digest_for(key: SigningKey) -> Hash:
    """The digest to sign with: SHA-384 for P-384, else SHA-256."""
    if isinstance(key, ec.EllipticCurvePrivateKey) and key.curve.name == "secp384r1":
        return hashes.SHA384()
    return hashes.SHA256()
