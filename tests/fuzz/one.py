"""One target under atheris, in this process: python -m tests.fuzz.one TARGET CORPUS [-libfuzzer=…]"""

from __future__ import annotations

import sys
import warnings

import atheris

with atheris.instrument_imports(include=["evidpack"]):
    from tests.fuzz.targets import TARGETS


def _main(name: str, arguments: list[str]) -> None:
    warnings.simplefilter("ignore")
    target = TARGETS[name]

    def once(data: bytes) -> None:
        try:
            target.run(data)
        except Exception as error:
            if not target.accepts(error):
                raise

    atheris.Setup([f"fuzz-{name}", *arguments], once)
    atheris.Fuzz()


if __name__ == "__main__":
    _main(sys.argv[1], sys.argv[2:])
