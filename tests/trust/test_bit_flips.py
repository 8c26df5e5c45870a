"""No single bit of a signature or of a token is free."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from evidpack.errors import TrustError
from evidpack.trust.authority import DemoAuthority, demo_time_stamp
from evidpack.trust.cms import parse_signature, require_signature, require_signer, sign_detached
from evidpack.trust.timestamps import parse_token, request, require_token
from tests.trust.certificate_maker import NOW, Made
from tests.trust.openssl_authority import OpensslAuthority

CONTENT = b"{}"


def accepted_flips(data: bytes, check: Callable[[bytes], None]) -> list[tuple[int, int]]:
    """The (byte, bit) pairs whose flip is accepted; anything but a TrustError escapes."""
    check(data)
    accepted = []
    changed = bytearray(data)
    for position in range(len(data)):
        for bit in range(8):
            changed[position] ^= 1 << bit
            try:
                check(bytes(changed))
            except TrustError:
                pass
            else:
                accepted.append((position, bit))
            changed[position] ^= 1 << bit
    assert bytes(changed) == data
    return accepted


def authority_with_zero_bits(with_intermediate: bool) -> DemoAuthority:
    """One whose certificates have signatures that end in a zero bit.

    Then the count of unused bits could be raised without making the file bad DER; a reader that
    ignores the count would accept it.
    """
    while True:
        made = DemoAuthority.create(
            name="Thistlemoor Roads Unit", now=NOW, with_intermediate=with_intermediate
        )
        issued = [made.signer.certificate, *made.intermediates]
        if not any(certificate.signature[-1] & 1 for certificate in issued):
            return made


@pytest.mark.parametrize("with_intermediate", [False, True])
def test_no_flipped_bit_of_a_signature_is_accepted(with_intermediate: bool) -> None:
    made = authority_with_zero_bits(with_intermediate)
    data = sign_detached(
        CONTENT,
        key=made.signer.key,
        certificate=made.signer.certificate,
        intermediates=made.intermediates,
    )

    def check(changed: bytes) -> None:
        signature = parse_signature(changed, path="s")
        require_signature(signature, CONTENT)
        require_signer(signature, [made.root.certificate], at=NOW)

    assert accepted_flips(data, check) == []


def test_no_flipped_bit_of_a_demonstration_token_is_accepted() -> None:
    made = DemoAuthority.create(name="Thistlemoor Roads Unit", now=NOW)
    data = demo_time_stamp(request(CONTENT, 1), authority=made, now=NOW)
    anchors = [made.time_stamp_root.certificate]
    assert accepted_flips(data, lambda changed: check_token(changed, anchors)) == []


def test_no_flipped_bit_of_an_openssl_token_is_accepted(
    openssl_authority: OpensslAuthority,
) -> None:
    data = openssl_authority.reply(request(CONTENT, 2**63))
    anchors = [openssl_authority.anchor]
    assert accepted_flips(data, lambda changed: check_token(changed, anchors)) == []


def accepted_shifts(data: bytes, check: Callable[[bytes], None]) -> list[int]:
    """Where one byte could be left out or doubled without refusal."""
    accepted = []
    for position in range(len(data)):
        for changed in (
            data[:position] + data[position + 1 :],
            data[: position + 1] + data[position:],
        ):
            try:
                check(changed)
            except TrustError:
                pass
            else:
                accepted.append(position)
    return accepted


def test_no_byte_of_a_token_can_be_left_out_or_doubled(
    openssl_authority: OpensslAuthority,
) -> None:
    data = openssl_authority.reply(request(CONTENT, 2**63))
    anchors = [openssl_authority.anchor]
    assert accepted_shifts(data, lambda changed: check_token(changed, anchors)) == []


def test_no_byte_of_a_signature_can_be_left_out_or_doubled(signer: Made, branch: Made) -> None:
    data = sign_detached(
        CONTENT,
        key=signer.key,
        certificate=signer.certificate,
        intermediates=[branch.certificate],
    )

    def check(changed: bytes) -> None:
        require_signature(parse_signature(changed, path="s"), CONTENT)

    assert accepted_shifts(data, check) == []


def check_token(data: bytes, anchors: list) -> None:  # type: ignore[type-arg]
    require_token(parse_token(data, path="t"), CONTENT, anchors)


def test_the_counter_would_notice_an_accepted_flip(signer: Made) -> None:
    assert len(accepted_flips(b"ab", lambda _changed: None)) == 16
