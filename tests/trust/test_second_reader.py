"""The second opinion by rfc3161-client."""

from __future__ import annotations

import pytest

from evidpack.errors import TrustError
from evidpack.trust.second_reader import require_second_reading, sorted_response
from evidpack.trust.timestamps import parse_token
from tests.trust import forging
from tests.trust.certificate_maker import Made, authority

MESSAGE = b"a signature file"


def test_it_accepts_a_good_token(time_root: Made, time_office: Made) -> None:
    token = parse_token(forging.token(time_office, MESSAGE), path="t")
    path = (time_office.certificate, time_root.certificate)
    require_second_reading(token.signed, MESSAGE, path)


def test_it_is_given_a_sorted_copy(time_root: Made, time_office: Made) -> None:
    carried = sorted([time_office.der, time_root.der])
    in_order = parse_token(forging.token(time_office, MESSAGE, carried=carried), path="t")
    reverse = parse_token(
        forging.token(time_office, MESSAGE, carried=carried[::-1], sort=False), path="t"
    )
    assert not reverse.signed.certificates_sorted
    again = parse_token(sorted_response(reverse.signed), path="t")
    assert again.signed.certificates_sorted
    assert again.certificates == in_order.certificates
    assert again.signed.signature == reverse.signed.signature


def test_it_refuses_other_bytes_on_its_own(time_root: Made, time_office: Made) -> None:
    token = parse_token(forging.token(time_office, MESSAGE), path="t")
    path = (time_office.certificate, time_root.certificate)
    with pytest.raises(TrustError, match="refused by the second reader") as caught:
        require_second_reading(token.signed, b"other", path)
    assert caught.value.observed == "Mismatch between messages"
    assert caught.value.expected == "two independent readers accept it"


def test_it_refuses_another_root_on_its_own(time_office: Made) -> None:
    token = parse_token(forging.token(time_office, MESSAGE), path="t")
    other = authority("Invented Time Root")
    with pytest.raises(TrustError, match="refused by the second reader") as caught:
        require_second_reading(token.signed, MESSAGE, (time_office.certificate, other.certificate))
    assert "Error while verifying certificates" in str(caught.value.observed)
