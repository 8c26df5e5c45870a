"""Takes over new wording of the three answers into fixtures_invented/golden/expected.json.

    python -m tests.golden.sentences

Only sentences change: where an outcome, a verdict or an exit code is another one, nothing is written.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.golden.cases import EXPECTED, GOLDEN, load


def main() -> None:
    """Ask again, compare all but the sentences, write."""
    golden = load()
    said = json.loads((GOLDEN / EXPECTED).read_text(encoding="utf-8"))
    for case, stored in zip(golden.cases, said["cases"], strict=True):
        found = _asked(case.file, case.arguments, golden.passphrases.get(case.file))
        same = found["verdict"] == case.verdict and found["exit_code"] == case.exit_code
        if not same or _outcomes(found["answers"]) != _outcomes(case.answers):
            sys.exit(f"{case.file}: the answer is another one, not only its words")
        stored["answers"] = found["answers"]
    text = io.StringIO()
    json.dump(said, text, indent=1, ensure_ascii=False)
    (GOLDEN / EXPECTED).write_text(text.getvalue() + "\n", encoding="utf-8")


def _outcomes(answers: dict[str, Any]) -> dict[str, dict[str, str]]:
    return {
        whose: {question: answer["outcome"] for question, answer in three.items()}
        for whose, three in answers.items()
    }


def _asked(file: str, arguments: list[str], passphrase: str | None) -> dict[str, Any]:
    command = [sys.executable, "-m", "evidpack", "verify", str(GOLDEN / file), *arguments, "--json"]
    with tempfile.TemporaryDirectory() as folder:
        if passphrase is not None:
            path = Path(folder) / "passphrase.txt"
            path.write_text(passphrase + "\n", encoding="utf-8")
            command += ["--passphrase-file", str(path)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    said: dict[str, Any] = json.loads(done.stdout)
    return said


if __name__ == "__main__":
    main()
