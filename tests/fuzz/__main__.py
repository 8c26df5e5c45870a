"""Run parsers under the fuzzer atheris, one after the other.

python -m tests.fuzz [TARGET …] [--seconds N]

Each starts from its seeds and runs in a process of its own. An input that breaks a parser is kept in
tests/fuzz/findings/TARGET, and the run ends with 1. Needs the extra `fuzz`.
"""

from __future__ import annotations

import argparse
import hashlib
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.fuzz.corpus import FINDINGS, SEEDS, files_of
from tests.fuzz.targets import TARGETS

ROOT = Path(__file__).parents[2]
MEMORY_MIB = 2048
INPUT_SECONDS = 20


def run(name: str, seconds: int) -> tuple[bool, str]:
    """Whether a target survived so many seconds, and the last lines of what the fuzzer said."""
    with tempfile.TemporaryDirectory() as folder:
        corpus, broken = Path(folder) / "corpus", Path(folder) / "broken"
        corpus.mkdir()
        broken.mkdir()
        for number, path in enumerate((*files_of(SEEDS, name), *files_of(FINDINGS, name))):
            (corpus / f"{number:03}").write_bytes(path.read_bytes())
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "tests.fuzz.one",
                name,
                str(corpus),
                f"-max_total_time={seconds}",
                f"-rss_limit_mb={MEMORY_MIB}",
                f"-timeout={INPUT_SECONDS}",
                f"-artifact_prefix={broken}/",
                "-print_final_stats=1",
            ],
            cwd=ROOT,
            capture_output=True,
            text=True,
            errors="replace",
            check=False,
        )
        for path in broken.iterdir():
            _keep(name, path)
    said = done.stdout + done.stderr
    return done.returncode == 0, said[-3_000:] if done.returncode else _figures(said)


def _keep(name: str, path: Path) -> None:
    folder = FINDINGS / name
    folder.mkdir(parents=True, exist_ok=True)
    data = path.read_bytes()
    (folder / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)


def _figures(said: str) -> str:
    wanted = ("stat::number_of_executed_units", "stat::peak_rss_mb")
    return " ".join(line for line in said.splitlines() if line.startswith(wanted))


def main() -> int:
    """Run what was asked for; 1 where a parser broke."""
    options = argparse.ArgumentParser(prog="python -m tests.fuzz")
    options.add_argument("targets", nargs="*", choices=[[], *TARGETS], default=[])
    options.add_argument("--seconds", type=int, default=5, help="for each target")
    chosen = options.parse_args()
    failed = 0
    for name in chosen.targets or TARGETS:
        survived, said = run(name, chosen.seconds)
        failed += not survived
        sys.stdout.write(f"{'ok    ' if survived else 'BROKEN'} {name}: {said}\n")
        sys.stdout.flush()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
