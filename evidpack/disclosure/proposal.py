"""What may be proposed for an entry: the few proposals there are, each with its class and reason."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A proposal for one entry.

    `group` is the class under which it may be decided together with others; `use` and `what` are
    as in decisions.toml; `undecided` says that a person must decide; `marked` that it may undermine
    or assist and needs a decision of its own; `alone` that it is best looked at by itself; `close`
    names the fields that stay closed where `what` is redact.
    """

    group: str
    use: str
    what: str
    reason: str
    undecided: bool = False
    marked: bool = False
    alone: bool = False
    description: str | None = None
    close: tuple[str, ...] = ()


def _release(group: str, reason: str, *, use: str = "relied on") -> Proposal:
    return Proposal(group=group, use=use, what="release", reason=reason)


OTHERS: Final = Proposal(
    group="captures of other people", use="not relevant", what="withhold", reason="third-party"
)
RELATED: Final = Proposal(
    group="discarded captures to be considered",
    use="unused",
    what="release",
    reason="may-assist",
    undecided=True,
    marked=True,
)
# Hundreds belong to one clip: they are decided together, the clip by itself.
RELATED_FRAMES: Final = replace(
    RELATED, group="frame times of clips of discarded captures", marked=False
)
CAPTURE: Final = replace(_release("the captures of the case", "concerns-capture"), alone=True)
FRAMES: Final = _release("frame times of clips of the case", "concerns-capture")
DEVICE: Final = _release("meter, tests, clocks and certificates", "concerns-device")
SESSION_OF_CASE: Final = _release("the session and its site", "concerns-session")
NEEDED: Final = _release("profile and rule set", "needed-to-check", use="unused")
FINDING: Final = _release("findings that bear on the case", "concerns-capture", use="unused")
DAY_FINDING: Final = _release("findings about the whole day", "concerns-day", use="unused")
MIXED: Final = Proposal(
    group="files that mix people", use="unused", what="withhold", reason="mixed"
)
CLOSED: Final = Proposal(
    group="the note of the sealing",
    use="not relevant",
    what="withhold",
    reason="keeps-index-closed",
)
OTHER_SESSION: Final = Proposal(
    group="other sessions and what was used there",
    use="not relevant",
    what="withhold",
    reason="other-session",
    undecided=True,
)
NEITHER: Final = Proposal(
    group="the rest of the day",
    use="unused",
    what="release",
    reason="concerns-day",
    undecided=True,
)
