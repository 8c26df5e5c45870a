"""Faulty packs made from one that is sound, and check 19 about the copies that lie in a pack."""

from __future__ import annotations

from evidpack.container import layout
from evidpack.disclosure.pack import MadePack
from evidpack.disclosure.soundness import ReleasedCopy, redaction_findings
from evidpack.model.findings import Finding
from evidpack.proof.pack_parts import parse_redaction
from tests.disclosure.packs import parts
from tests.faulty.packs import Members, PackFault

WithBox = tuple[MadePack, bytes, int]  # a pack with one redacted still, and that still's entry


def faulty_pack(one: PackFault | None, with_box: WithBox) -> tuple[Members, int]:
    """The members of a pack with this fault (None: as it was made), and the still's exhibit."""
    made, pack, entry = with_box
    exhibit = made.plan.lines[entry].exhibit
    if exhibit is None:
        raise ValueError("the redacted still has no exhibit number")
    members = parts(pack)
    if one is not None and one.edit is not None:
        one.edit(members, exhibit)
    return members, exhibit


def about_copies(members: Members) -> tuple[Finding, ...]:
    """Check 19 about the copies as they lie in a pack."""
    copies = []
    for number, line in enumerate(members[layout.DISCLOSURE_REDACTIONS].splitlines(), 1):
        record = parse_redaction(line, path=layout.DISCLOSURE_REDACTIONS, number=number)
        data = members[layout.exhibit_picture(record.exhibit)]
        copies.append(ReleasedCopy(exhibit=record.exhibit, data=data, record=record))
    return redaction_findings(copies)
