"""Certificates and authorities that several tests of this room share; made once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.trust.certificate_maker import Made, authority, make, stamper
from tests.trust.openssl_authority import OpensslAuthority, running_authority


@pytest.fixture(scope="session")
def root() -> Made:
    return authority()


@pytest.fixture(scope="session")
def branch(root: Made) -> Made:
    return authority("Invented County Branch", issuer=root, path_length=0)


@pytest.fixture(scope="session")
def signer(branch: Made) -> Made:
    return make(issuer=branch)


@pytest.fixture(scope="session")
def time_root() -> Made:
    return authority("Invented Time Root")


@pytest.fixture(scope="session")
def time_office(time_root: Made) -> Made:
    return stamper(issuer=time_root)


@pytest.fixture(scope="session")
def openssl_authority(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpensslAuthority]:
    with running_authority(tmp_path_factory.mktemp("openssl-authority")) as running:
        yield running
