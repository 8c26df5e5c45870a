"""Measure packs: one capture from a 2 GB bundle, and a day of 50,000 entries.

    python -m tests.bench.packs FOLDER [--only large,many]

FOLDER is made, filled (about 5 GB) and kept. Run it from the project's root, in the environment in
which evidpack is installed, on a machine that does nothing else.
"""

from __future__ import annotations

import argparse
import io
import re
import sys
from pathlib import Path

from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.disclosure.sealed_bundle import open_sealed_bundle
from tests.bench.days import add_clips, add_stills, write_day
from tests.bench.measure import Cost, run

EVIDPACK = [sys.executable, "-m", "evidpack"]
_TABLE = re.compile(r"^\[\[(?:class|entry)\]\]\n(?:(?!\n\[\[).*\n?)*", re.MULTILINE)
_PROPOSED = re.compile(r'^proposed = "(.*), (.*)"$', re.MULTILINE)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="large,many")
    arguments = parser.parse_args()
    arguments.folder.mkdir(parents=True, exist_ok=True)
    if not (arguments.folder / "keys").exists():
        run([*EVIDPACK, "key", "demo-authority", "-o", str(arguments.folder / "keys")])
    print("| work | wall | processor | peak memory |\n|---|---|---|---|")
    for name in arguments.only.split(","):
        {"large": large, "many": many}[name](arguments.folder)


def large(folder: Path) -> None:
    """A pack for one capture from a bundle of 2 GB: 500 stills of 1.2 MB and clips."""
    place = folder / "large"
    if not (place / "bundle.zip").exists():
        write_day(place, reference="LARGE-2026-05-14", readings=500)
        add_stills(place, 500, size=(3000, 2000), quality=88)
        stills = sum(path.stat().st_size for path in (place / "export/stills").iterdir())
        add_clips(place, 4, size=(2_000_000_000 - stills) // 4)
        seal(folder, place)
    pack(folder, place, "pack for one capture of 2 GB")


def many(folder: Path) -> None:
    """A pack from a day of some 50,000 entries: readings and their captures."""
    place = folder / "many"
    if not (place / "bundle.zip").exists():
        write_day(place, reference="MANY-2026-05-14", readings=25_000)
        seal(folder, place)
    pack(folder, place, "pack of 50,000 entries")


def seal(folder: Path, place: Path) -> None:
    run([*EVIDPACK, "seal", str(place / "day.toml"), *signing(folder), "--no-time-stamp",
         "-o", str(place / "bundle.zip")])  # fmt: skip


def signing(folder: Path) -> list[str]:
    keys = folder / "keys"
    return ["--key", str(keys / "signer.key"), "--cert", str(keys / "signer.pem"),
            "--passphrase-file", str(keys / "passphrase.txt")]  # fmt: skip


def pack(folder: Path, place: Path, what: str) -> None:
    """Draft, decide, disclose and verify; the figures of each."""
    bundle, draft, output = place / "bundle.zip", place / "draft.toml", place / "pack.zip"
    for path in (draft, output, place / "decisions.toml", place / "releases.jsonl"):
        path.unlink(missing_ok=True)
    row(
        f"decide, {what}",
        run([*EVIDPACK, "decide", str(bundle), "--capture", "C7", "-o", str(draft)]),
    )
    (place / "decisions.toml").write_text(
        decided(draft.read_text(encoding="utf-8")), encoding="utf-8"
    )
    row(
        f"disclose, {what}",
        run([*EVIDPACK, "disclose", str(bundle), "--decisions", str(place / "decisions.toml"),
             *signing(folder), "-o", str(output)]),
    )  # fmt: skip
    row(f"verify, {what}", run([*EVIDPACK, "verify", str(output)], codes=(0, 3)))
    sizes(bundle, output)


def decided(text: str) -> str:
    """Every proposal taken."""
    for name, value in (("case", "AB-12"), ("recipient", "Defence"), ("decided_by", "Bench"),
                        ("decided_at", "2026-06-01T10:00:00Z")):  # fmt: skip
        text = re.sub(rf'^{name} = "".*$', f'{name} = "{value}"', text, flags=re.MULTILINE)

    def taken(table: re.Match[str]) -> str:
        found = _PROPOSED.search(table[0])
        if found is None:
            return table[0]
        one = table[0].replace('use = "undecided"', f'use = "{found[2]}"')
        return one.replace('decision = "undecided"', f'decision = "{found[1]}"')

    return _TABLE.sub(taken, text)


def row(what: str, cost: Cost) -> None:
    print(f"| {what} | {cost.wall_s:.2f} s | {cost.processor_s:.2f} s | {cost.peak_mb:.0f} MB |",
          flush=True)  # fmt: skip


def sizes(bundle: Path, output: Path) -> None:
    """Sizes, and how many bytes of the bundle opening it reads besides what is released."""
    with output.open("rb") as stream:
        archive = read_archive(stream, path=str(output))
        proof = sum(
            member.size
            for member in archive.members
            if member.name.startswith(("disclosure/", "origin/"))
        )
        released = sum(
            member.size
            for member in archive.members
            if member.name.startswith((layout.EXPORT, layout.OFFICE))
        )
        payload = {member.name for member in archive.members}
        entries = archive.read(layout.DISCLOSURE_ACCOUNTING, limit=1 << 30).count(b"\n")
    counting = _Counting(bundle)
    sealed = open_sealed_bundle(counting, path=str(bundle))
    for name in payload:
        if name.startswith((layout.EXPORT, layout.OFFICE)):
            source, _ = sealed.open_file(name.removeprefix(layout.DATA))
            while source.read(1 << 18):
                pass
    print(
        f"  {entries} entries; pack {output.stat().st_size} bytes, its proof {proof} bytes; "
        f"bundle {bundle.stat().st_size} bytes, of which {counting.count} are read to open it and to "
        f"copy what is released ({released} bytes of payload)",
        flush=True,
    )


class _Counting(io.RawIOBase):
    """A file that counts the bytes that are read of it."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._file = path.open("rb", buffering=0)
        self.count = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._file.tell()

    def seek(self, offset: int, whence: int = 0) -> int:
        return self._file.seek(offset, whence)

    def readinto(self, buffer: bytearray) -> int:  # type: ignore[override]
        got = self._file.readinto(buffer) or 0
        self.count += got
        return got


if __name__ == "__main__":
    main()
