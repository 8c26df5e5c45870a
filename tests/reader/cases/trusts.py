"""One whole bundle, and verifiers who bring more or less."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.trust.authority import DemoAuthority
from evidpack.verifying.signing_steps import Trust
from tests.bundles import rebuilt
from tests.reader.cases.case import Case, members_of, top_of
from tests.sealed_days import SEALED_AT, FixedKeys, SealedDay, seal_day, trusting


def cases(day: SealedDay) -> Iterator[Case]:
    whole = day.trust
    keys = FixedKeys()
    for _ in range(70):
        keys()
    stranger = trusting(DemoAuthority.create(name="Test unit", now=SEALED_AT, key_source=keys))
    signer = day.authority.signer.certificate
    trusts = {
        "both anchors": whole,
        "none": Trust(),
        "signer's anchor alone": Trust(anchors=whole.anchors),
        "time-stamp anchor alone": Trust(tsa_anchors=whole.tsa_anchors),
        "anchors exchanged": Trust(anchors=whole.tsa_anchors, tsa_anchors=whole.anchors),
        "a stranger's of the same name": stranger,
        "a stranger's beside the right ones": Trust(
            anchors=stranger.anchors + whole.anchors,
            tsa_anchors=stranger.tsa_anchors + whole.tsa_anchors,
        ),
        "the signing certificate itself": Trust(anchors=(signer,), tsa_anchors=whole.tsa_anchors),
    }
    for name, trust in trusts.items():
        for accept in (False, True):
            yield Case(
                name=f"trust: {name}{', claimed time accepted' if accept else ''}",
                data=day.bundle,
                trust=trust,
                accept_claimed_time=accept,
            )
    yield from _without_time_stamp(day)
    yield Case(
        name="trust: put together again", data=rebuilt(top_of(day), members_of(day)), trust=whole
    )


def _without_time_stamp(day: SealedDay) -> Iterator[Case]:
    output = day.folder / "reader-unstamped.zip"
    if not output.exists():
        seal_day(day.folder / "day.toml", output, day.authority, time_stamp=None)
    for accept in (False, True):
        yield Case(
            name=f"trust: no time stamp{', claimed time accepted' if accept else ''}",
            data=output.read_bytes(),
            trust=day.trust,
            accept_claimed_time=accept,
        )
