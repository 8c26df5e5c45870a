"""An office that discloses from a bundle while its machine fails, and what must hold then."""

from __future__ import annotations

import hashlib
import re
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from evidpack.container.aes_zip import is_encrypted
from evidpack.disclosure.release_lines import LogLine, Release
from evidpack.disclosure.releases import parse_releases
from tests.disclosure.deciding import filled
from tests.faults.call_numbers import WRITES
from tests.faults.running import Ended, Running, run
from tests.faults.system_calls import Decide
from tests.faults.world import BUNDLE, World

PACK, LOG = "pack.zip", "releases.jsonl"
_PART = re.compile(r"\.(.+)\.[0-9a-f]{16}\.part")


@dataclass(frozen=True, slots=True, kw_only=True)
class Office:
    """One folder with bundle, decisions and release log; one for packs, one for slips."""

    folder: Path
    world: World

    @property
    def log(self) -> Path:
        """The release log beside the bundle."""
        return self.folder / "office" / LOG

    @property
    def pack(self) -> Path:
        """Where the pack goes."""
        return self.folder / "packs" / PACK

    @property
    def slips(self) -> tuple[Path, Path]:
        """The slip's two forms."""
        return self.folder / "post" / "slip.pdf", self.folder / "post" / "slip.txt"

    def disclose(
        self,
        decide: Decide | None = None,
        *,
        encrypt: bool = False,
        names: frozenset[str] = WRITES,
        first: Callable[[], None] = lambda: None,
    ) -> Ended:
        """Make a pack, every call decided about."""
        office = self.folder / "office"
        arguments: list[object] = [
            "disclose", office / BUNDLE, "--decisions", office / "decisions.toml",
            *self.world.signing(), "-o", self.pack,
        ]  # fmt: skip
        if encrypt:
            arguments += ["--encrypt", "--slip", self.folder / "post" / "slip"]
        if decide is None:
            return run(*arguments, first=first)
        return Running(*arguments, names=names, first=first).serve(decide)

    def lines(self) -> tuple[LogLine, ...]:
        """The log's lines; every one is whole, chained and signed."""
        data = self.log.read_bytes() if self.log.exists() else b""
        return parse_releases(data, path=str(self.log))

    def state(self) -> tuple[bool, int, int]:
        """Whether the pack stands, the number of slips, the number of lines; all of it sound.

        A pack that stands verifies, has its line in the log and, where it is encrypted, its slips.
        """
        self.world.require_untouched()
        slips = [path for path in self.slips if path.exists()]
        for path in slips:
            data = path.read_bytes()
            assert data.endswith(b"%%EOF\n" if path.suffix == ".pdf" else b"\n")
        lines = self.lines()
        if self.pack.exists():
            self._require_whole(slips, lines)
        for folder in ("office", "packs", "post"):
            known = {BUNDLE, "decisions.toml", LOG, PACK, *(path.name for path in self.slips)}
            for path in (self.folder / folder).iterdir():
                assert path.name in known or _PART.fullmatch(path.name), path
        return self.pack.exists(), len(slips), len(lines)

    def parts(self) -> list[Path]:
        """Temporary files, wherever."""
        return [path for path in self.folder.rglob("*") if _PART.fullmatch(path.name)]

    def _require_whole(self, slips: list[Path], lines: tuple[LogLine, ...]) -> None:
        data = self.pack.read_bytes()
        digest = hashlib.sha256(data).digest()
        said = lines[-1].said
        assert isinstance(said, Release)
        with self.pack.open("rb") as stream:
            encrypted = is_encrypted(stream)
        if encrypted:
            assert len(slips) == 2
            assert said.encrypted == digest
            return
        assert said.pack == digest
        assert run("verify", self.pack).code == 3  # intact; no anchor was given


def make_office(world: World, folder: Path) -> Office:
    """Seal the world's day, decide about it, and set up three folders."""
    office = folder / "office"
    for name in ("office", "packs", "post"):
        (folder / name).mkdir(parents=True)
    assert world.seal(office).code == 0
    draft = office / "draft.toml"
    done = run("decide", office / BUNDLE, "--capture", "C1", "-o", draft)
    assert done.code == 0, done.words
    text = filled(draft.read_text(encoding="utf-8"))
    draft.unlink()
    (office / "decisions.toml").write_text(text, encoding="utf-8")
    return Office(folder=folder, world=world)


def anew(office: Office) -> Office:
    """The same office in a folder of its own, as nobody has disclosed from it."""
    folder = Path(tempfile.mkdtemp(prefix="office-", dir=office.world.folder))
    shutil.copytree(office.folder, folder, dirs_exist_ok=True)
    return Office(folder=folder, world=office.world)
