"""A small day to be sealed while the machine fails, and what must hold whatever happens."""

from __future__ import annotations

import hashlib
import io
import re
import stat
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from evidpack.trust.authority import DemoAuthority
from evidpack.verifying.bundle import Options, verify_bundle
from evidpack.verifying.report import Verdict
from tests.bundles import fault_texts
from tests.faults.call_numbers import WRITES
from tests.faults.running import Ended, Running, run
from tests.faults.system_calls import Decide
from tests.sealed_days import FixedKeys, trusting
from tests.small_day import write_small_day

BUNDLE = "bundle.zip"
_PART = re.compile(r"\.(.+)\.[0-9a-f]{16}\.part")


def tree(folder: Path) -> dict[str, tuple[int, int, str]]:
    """Every path below a folder: time of change, size, and the SHA-256 of a file."""
    return {
        str(path.relative_to(folder)): (
            path.lstat().st_mtime_ns,
            path.lstat().st_size,
            hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "",
        )
        for path in sorted(folder.rglob("*"))
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """The day in its folder, the keys beside it, and a new target folder for every try."""

    folder: Path
    day: Path
    authority: DemoAuthority
    before: dict[str, tuple[int, int, str]]

    @property
    def export(self) -> Path:
        """The export, which nobody may write to."""
        return self.day.parent / "export"

    def target(self) -> Path:
        """A new, empty folder to seal into."""
        return Path(tempfile.mkdtemp(prefix="target-", dir=self.folder))

    def signing(self) -> tuple[object, ...]:
        """Options that say who signs."""
        keys = self.folder / "keys"
        return ("--key", keys / "key.pem", "--cert", keys / "cert.pem")

    def seal_arguments(self, output: Path) -> tuple[object, ...]:
        """`evidpack seal` of the day to this path."""
        return ("seal", self.day, *self.signing(), "--no-time-stamp", "-o", output)

    def seal(
        self,
        target: Path,
        decide: Decide | None = None,
        *,
        names: frozenset[str] = WRITES,
        first: Callable[[], None] = lambda: None,
    ) -> Ended:
        """Seal into the target folder, every call decided about."""
        arguments = self.seal_arguments(target / BUNDLE)
        if decide is None:
            return run(*arguments, first=first)
        return Running(*arguments, names=names, first=first).serve(decide)

    # What must hold

    def require_untouched(self) -> None:
        """The export, day.toml and the unit's tables are what they were, to the byte."""
        assert tree(self.day.parent) == self.before

    def whole(self, path: Path) -> bool:
        """Whether a bundle stands under the name; if one does it is complete and verifies, step 8 too."""
        if not path.exists():
            return False
        data = path.read_bytes()
        options = Options(
            now=datetime.now(UTC), trust=trusting(self.authority), accept_claimed_time=True
        )  # fmt: skip
        report = verify_bundle(io.BytesIO(data), path=str(path), size=len(data), options=options)
        verified = (Verdict.VERIFIED, Verdict.VERIFIED_CLAIMED_TIME)
        assert report.verdict in verified, fault_texts(report)
        return True


def parts(target: Path) -> list[Path]:
    """Temporary files in a target folder; anything else there that is no bundle is an error."""
    found = []
    for path in target.iterdir():
        if _PART.fullmatch(path.name):
            assert stat.S_IMODE(path.lstat().st_mode) == 0o600
            found.append(path)
        else:
            assert path.name == BUNDLE, path.name
    return found


def require_clean_failure(ended: Ended, target: Path, *, code: int = 2) -> None:
    """Nothing under the name, nothing beside it, no traceback, and advice on what to do."""
    assert ended.code == code, ended.words
    assert list(target.iterdir()) == []
    require_advice(ended)


def require_advice(ended: Ended) -> None:
    """A message of ours that says what to do."""
    assert "Traceback" not in ended.err, ended.err
    assert "error:" in ended.err, ended.err
    assert "what to do:" in ended.err, ended.err


def make_world(folder: Path) -> World:
    """The small day with two larger files, so that its bundle takes many writes, and the keys."""
    authority = DemoAuthority.create(
        name="Test unit", now=datetime.now(UTC).replace(microsecond=0), key_source=FixedKeys(),
        with_intermediate=True,
    )  # fmt: skip
    (folder / "day").mkdir()
    day = write_small_day(folder / "day")
    (folder / "day" / "export" / "clip.bin").write_bytes(b"frames" * 400_000)
    (folder / "day" / "export" / "log.bin").write_bytes(b"line\n" * 60_000)
    keys = folder / "keys"
    keys.mkdir()
    signer = authority.signer
    (keys / "key.pem").write_bytes(
        signer.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    )
    chain = (signer.certificate, *authority.intermediates)
    (keys / "cert.pem").write_bytes(b"".join(one.public_bytes(Encoding.PEM) for one in chain))
    return World(folder=folder, day=day, authority=authority, before=tree(folder / "day"))
