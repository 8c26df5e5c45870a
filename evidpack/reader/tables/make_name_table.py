"""Write source/container/names_table.ts: which characters may stand in a name.

Browsers know only the Unicode of their own day; names are limited to Unicode 3.2, of which Python
keeps a frozen table.  Run once, from the repository's root:

    python evidpack/reader/tables/make_name_table.py > evidpack/reader/source/container/names_table.ts
"""

from __future__ import annotations

import sys
import unicodedata

from evidpack.container.names import require_name
from evidpack.errors import ContainerError

FIRST = 0x80
SURROGATES = range(0xD800, 0xE000)


def may_stand(point: int) -> bool:
    """Whether a name of this one character, between two letters, is not refused for it."""
    if point in SURROGATES:
        return False
    try:
        require_name(f"a{chr(point)}a")
    except ContainerError as error:
        return "it has the character" not in error.message
    return True


def runs() -> list[int]:
    """Beginnings and ends (exclusive) of runs of such characters, in turn."""
    edges: list[int] = []
    inside = False
    for point in range(FIRST, 0x110000):
        if may_stand(point) != inside:
            edges.append(point)
            inside = not inside
    return edges


def main() -> None:
    """Write the module, each edge as its distance from the one before, in base 36."""
    edges = runs()
    steps = [edge - before for before, edge in zip([0, *edges], edges, strict=False)]
    digits = " ".join(_base36(step) for step in steps)
    sys.stdout.write(
        "// Made by tables/make_name_table.py from Python's frozen table of Unicode "
        f"{unicodedata.ucd_3_2_0.unidata_version}; do not edit.\n"
        "// Where runs of characters that may stand in a name begin and end, in turn, each as its\n"
        "// distance from the one before, in base 36. Characters below U+0080 have a rule of "
        "their own.\n\n"
        f'export const EDGES =\n  "{digits}";\n'
    )


def _base36(number: int) -> str:
    shown = ""
    while number or not shown:
        number, digit = divmod(number, 36)
        shown = "0123456789abcdefghijklmnopqrstuvwxyz"[digit] + shown
    return shown


if __name__ == "__main__":
    main()
