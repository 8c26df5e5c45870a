"""The good files that all attacks start from, made once: a sealed day, a pack, an encrypted pack."""

from __future__ import annotations

import atexit
import functools
import io
import tempfile
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from evidpack.container.aes_zip import encrypt_pack
from tests.bundles import taken_apart
from tests.container.archives import Part
from tests.disclosure.packs import simple_pack
from tests.disclosure.redacting import redacted
from tests.sealed_days import SealedDay, make_authority, seal_day, trusting
from tests.small_day import write_small_day

PASSPHRASE = "ABCD-EFGH-JKLM-NPQR-STUV-WXYZ-2345"
SALT = bytes(range(16))
Members = dict[str, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Good:
    """`pack` releases a still whole, `redacted` covers a part of it as exhibit `exhibit`;
    `encrypted` is `pack` under `PASSPHRASE`."""

    day: SealedDay
    top: str
    members: Members
    pack: bytes
    pack_top: str
    pack_members: Members
    redacted_top: str
    redacted_members: Members
    exhibit: int
    encrypted: bytes

    @property
    def parts(self) -> list[Part]:
        """The bundle's members for the builder in which every field can lie."""
        return [Part(name=f"{self.top}/{name}", data=data) for name, data in self.members.items()]


@functools.cache
def good() -> Good:
    """Seal and disclose in a temporary folder that lives as long as the process."""
    folder = tempfile.TemporaryDirectory(prefix="evidpack-attacks-")
    atexit.register(folder.cleanup)
    day = _sealed(Path(folder.name))
    top, members = taken_apart(day.bundle)
    _, pack = simple_pack(day, Path(folder.name) / "pack.zip")
    pack_top, pack_members = taken_apart(pack)
    made, covered, number = redacted(day, Path(folder.name) / "redacted.zip")
    redacted_top, redacted_members = taken_apart(covered)
    target = io.BytesIO()
    encrypt_pack(io.BytesIO(pack), len(pack), target, passphrase=PASSPHRASE, salt=SALT)
    return Good(
        day=day,
        top=top,
        members=members,
        pack=pack,
        pack_top=pack_top,
        pack_members=pack_members,
        redacted_top=redacted_top,
        redacted_members=redacted_members,
        exhibit=made.plan.lines[number].exhibit or 0,
        encrypted=target.getvalue(),
    )


def _sealed(folder: Path) -> SealedDay:
    """The small day with stills of more than a few tiles, so that a redaction leaves some open."""
    authority = make_authority()
    day_path = write_small_day(folder)
    for name in ("C1_0001.jpg", "C2_0002.png"):
        picture = Image.radial_gradient("L").resize((130, 100)).convert("RGB")
        picture.save(folder / "export" / "stills" / name)
    path = folder / "bundle.zip"
    sealed = seal_day(day_path, path, authority)
    return SealedDay(
        folder=folder,
        path=path,
        bundle=path.read_bytes(),
        authority=authority,
        trust=trusting(authority),
        sealed=sealed,
    )


def spread(length: int, count: int) -> list[int]:
    """So many positions in 0 to length − 1, from the first to the last, evenly spread."""
    return [number * (length - 1) // (count - 1) for number in range(count)]
