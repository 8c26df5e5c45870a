"""Taking a bundle apart and putting it together again, for tests that tamper with one.

`rebuilt` repairs everything that an attacker without the key can repair: ZIP checksums and the
bag's manifests.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Mapping
from datetime import UTC, datetime

from evidpack.container import layout
from evidpack.container.bag import bag_info, manifest
from evidpack.container.zip_writer import ZipWriter
from evidpack.verifying.bundle import Options, verify_bundle
from evidpack.verifying.report import Report, StepOutcome
from evidpack.verifying.signing_steps import Trust

VERIFIED_AT = datetime(2026, 6, 1, tzinfo=UTC)


def taken_apart(bundle: bytes) -> tuple[str, dict[str, bytes]]:
    """The name of the top folder, and every member's bytes by its name under it."""
    with zipfile.ZipFile(io.BytesIO(bundle)) as archive:
        names = archive.namelist()
        top = names[0].split("/", 1)[0]
        return top, {name.removeprefix(f"{top}/"): archive.read(name) for name in names}


def put_together(top: str, members: Mapping[str, bytes]) -> bytes:
    """An archive of exactly these members, with right checksums."""
    stream = io.BytesIO()
    writer = ZipWriter(stream, top)
    for name, data in members.items():
        writer.add_bytes(name, data)
    writer.finish()
    return stream.getvalue()


def rebuilt(top: str, members: Mapping[str, bytes]) -> bytes:
    """The same, with the bag's manifests and bag-info made right for these members."""
    manifests = {layout.MANIFEST, layout.TAG_MANIFEST, layout.BAG_INFO}
    kept = {name: data for name, data in members.items() if name not in manifests}
    payload = {name: data for name, data in kept.items() if name.startswith(layout.DATA)}
    kept[layout.MANIFEST] = manifest(_digests(payload))
    date = members[layout.BAG_INFO].split(b"Bagging-Date: ")[1][:10].decode()
    kept[layout.BAG_INFO] = bag_info(
        top=top,
        payload_bytes=sum(map(len, payload.values())),
        payload_files=len(payload),
        bagging_date=date,
    )
    tags = {name: data for name, data in kept.items() if name not in payload}
    kept[layout.TAG_MANIFEST] = manifest(_digests(tags))
    return put_together(top, in_order(kept))


def in_order(members: Mapping[str, bytes]) -> dict[str, bytes]:
    """Payload by name, then the other files in the order of the format, strangers last."""
    tags = layout.BUNDLE_TAG_ORDER
    payload = sorted(name for name in members if name.startswith(layout.DATA))
    others = [name for name in members if name not in payload]
    others.sort(key=lambda name: tags.index(name) if name in tags else len(tags))
    return {name: members[name] for name in (*payload, *others)}


def _digests(members: Mapping[str, bytes]) -> dict[str, bytes]:
    return {name: hashlib.sha256(data).digest() for name, data in members.items()}


def verified(bundle: bytes, trust: Trust, *, recheck: bool = True, **options: object) -> Report:
    """The report on a bundle given as bytes."""
    return verify_bundle(
        io.BytesIO(bundle),
        path="bundle.zip",
        size=len(bundle),
        options=Options(now=VERIFIED_AT, trust=trust, recheck=recheck, **options),  # type: ignore[arg-type]
    )


def failing_steps(report: Report) -> list[int]:
    """Numbers of the steps that fail."""
    return [step.number for step in report.steps if step.outcome is StepOutcome.FAILS]


def fault_texts(report: Report) -> str:
    """Every fault's item and message, to look for a name in."""
    return "\n".join(
        f"{step.number} {fault.item}: {fault.message} [{fault.expected} | {fault.observed}]"
        for step in report.steps
        for fault in step.faults
    )
