"""The schedule of sensitive material: for the prosecutor alone, in a file of its own.

Nothing of it goes into a pack.  A schedule without items says so, and is signed all the same.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from evidpack.disclosure.decisions import Case
from evidpack.disclosure.plan import SensitiveItem

_WIDTH: Final = 96
_HEAD: Final = """\
SCHEDULE OF SENSITIVE MATERIAL
For the prosecutor only. Never to be given to the defence, and never put beside a pack.

Day:        {day}
Seal:       {statement}
Case:       {case}
Decided by: {by}
Decided at: {at}

In the pack each of these entries has the one neutral line that every withheld entry has.
"""
_NONE: Final = "\nThere is no sensitive material among the sealed entries of this day.\n"
_FOOT: Final = """
Number of items: {count}

Signed: ______________________________   Name: ______________________________

Date:   ______________________________
"""


def sensitive_schedule(case: Case, items: Sequence[SensitiveItem]) -> str:
    """The schedule as text: every item with its description, the reason, who decided and when."""
    head = _HEAD.format(
        day=case.day,
        statement=case.statement,
        case=case.case,
        by=case.decided_by,
        at=case.decided_at.isoformat(),
    )
    listed = "".join(_item(place, item) for place, item in enumerate(items, start=1))
    return head + (listed or _NONE) + _FOOT.format(count=len(items))


def _item(place: int, item: SensitiveItem) -> str:
    parts = (
        ("Item", f"{place}, entry {item.entry} ({item.kind})"),
        ("What it is", item.what),
        ("Why sensitive", item.why),
        ("Decided", f"{item.by}, {item.at}"),
    )
    return "\n" + "".join(
        textwrap.fill(f"{name + ':':<15}{text}", _WIDTH, subsequent_indent=" " * 15) + "\n"
        for name, text in parts
    )
