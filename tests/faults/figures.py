"""How many points each test of a failing machine must try, and what is left after each fault.

These are the figures in docs/threat-model.md.  They are lower bounds: how many calls a seal makes
changes with the code, and a test that tries fewer than is said there fails.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

AT_LEAST: Final = {
    "seal killed": 20,
    "seal killed at a byte": 10,
    "seal killed, no hard links": 5,
    "seal stopped by SIGINT": 5,
    "seal stopped by SIGTERM": 2,
    "seal stopped by SIGHUP": 2,
    "power cut": 20,
    "target fails, EIO": 20,
    "target fails, ENOSPC": 20,
    "target cannot be read back": 10,
    "export cannot be read": 50,
    "card pulled out, ENOENT": 10,
    "card pulled out, ENODEV": 10,
    "file grows": 3,
    "file shrinks": 3,
    "file is rewritten": 3,
    "disclose killed, plain": 10,
    "disclose killed, encrypted": 15,
    "disclose fails, plain": 10,
    "disclose fails, encrypted": 8,
    "bundle cannot be read to disclose": 6,
    "another file killed": 4,
    "another file fails": 4,
    "check killed": 3,
    "run log fails": 3,
}

_WHOLE_OR_NOTHING: Final = "a whole, verified bundle under its name, or nothing under it"
_NOTHING: Final = "nothing under the name, nothing beside it"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One row: the fault, how it is made, what is left, where it is tested, which figures count."""

    fault: str
    made_by: str
    left: str
    tested_in: str
    figures: tuple[str, ...] = ()

    @property
    def tried(self) -> str:
        """So many points, or an empty text where the test is one case."""
        count = sum(AT_LEAST[name] for name in self.figures)
        return f"{count} or more" if count else ""


FAULTS: Final = (
    Fault(
        fault="power loss",
        made_by="a copy of a small ext4 at every call that changes it, holding what has reached "
        "the disk by then; mounted and looked at",
        left=f"{_WHOLE_OR_NOTHING}; once `seal` has said *sealed*, the bundle",
        tested_in="test_power_loss.py",
        figures=("power cut",),
    ),
    Fault(
        fault="kill",
        made_by="SIGKILL instead of every call that changes the disk; death at chosen bytes of the "
        "bundle",
        left=f"{_WHOLE_OR_NOTHING}; at most one `.NAME.….part`, readable by its owner only, which "
        "the next seal to that name removes",
        tested_in="test_seal_killed.py",
        figures=("seal killed", "seal killed at a byte"),
    ),
    Fault(
        fault="kill, on a disk without hard links",
        made_by="link refused as on FAT",
        left="the same. Where the disk can neither link nor rename without replacing: for a moment "
        "an empty file under the name, which does not verify",
        tested_in="test_seal_killed.py",
        figures=("seal killed, no hard links",),
    ),
    Fault(
        fault="Ctrl-C, shutdown, terminal closed",
        made_by="SIGINT, SIGTERM and SIGHUP at calls that change the disk",
        left=f"{_NOTHING}, or the whole bundle; exit code 130, 143, 129",
        tested_in="test_seal_killed.py",
        figures=("seal stopped by SIGINT", "seal stopped by SIGTERM", "seal stopped by SIGHUP"),
    ),
    Fault(
        fault="full disk",
        made_by="too small a disk; a disk filled by somebody else amid the seal; ENOSPC from every "
        "call on; a file that may not grow",
        left=f"{_NOTHING} (a disk that takes no change at all keeps the `.part`)",
        tested_in="test_real_disks.py, test_seal_errors.py, test_seal_killed.py",
        figures=("target fails, ENOSPC",),
    ),
    Fault(
        fault="failing target disk",
        made_by="EIO at every call that changes it, and at reads of what was just written",
        left=f"{_NOTHING}. Where the name was given, not confirmed, and cannot be taken back: the "
        "whole bundle, and the error says so",
        tested_in="test_seal_errors.py",
        figures=("target fails, EIO", "target cannot be read back"),
    ),
    Fault(
        fault="unreadable sector",
        made_by="EIO at reads, listings, opens and looks at the export",
        left=f"{_NOTHING}; the error names the file",
        tested_in="test_seal_errors.py",
        figures=("export cannot be read",),
    ),
    Fault(
        fault="vanished card",
        made_by="ENOENT or ENODEV for the export from some look on",
        left=f"{_NOTHING}, or the whole bundle where all had been read",
        tested_in="test_seal_errors.py",
        figures=("card pulled out, ENOENT", "card pulled out, ENODEV"),
    ),
    Fault(
        fault="read-only target; read-only card",
        made_by="mounts that can only be read",
        left=f"{_NOTHING}. A day on a read-only card is sealed; `check` asks for a place where it "
        "can record its run",
        tested_in="test_real_disks.py",
    ),
    Fault(
        fault="file that grows, shrinks or is rewritten",
        made_by="a change before looks at it, early to late",
        left=f"{_NOTHING}, or a whole bundle with the bytes of one moment",
        tested_in="test_seal_errors.py",
        figures=("file grows", "file shrinks", "file is rewritten"),
    ),
    Fault(
        fault="clock set back",
        made_by="after its first reading, by a second to 400 days; behind a time-stamp authority",
        left="a bundle with one claimed time, read once; no bundle whose claimed time is after its "
        "time stamp",
        tested_in="test_clock.py",
    ),
    Fault(
        fault="two seals of one day at once",
        made_by="both at once; one held while the other begins and ends",
        left="the bundle of the one that was first to name it; the other says so and leaves nothing",
        tested_in="test_two_at_once.py",
    ),
    Fault(
        fault="the same while disclosing",
        made_by="SIGKILL, ENOSPC, SIGINT and SIGTERM at calls that change the disk; EIO from the "
        "bundle",
        left="a whole pack with its line in the release log and, if encrypted, its slip; or no "
        "pack, and perhaps a line for a pack that was not made, which the error names",
        tested_in="test_disclose.py",
        figures=(
            "disclose killed, plain",
            "disclose killed, encrypted",
            "disclose fails, plain",
            "disclose fails, encrypted",
            "bundle cannot be read to disclose",
        ),
    ),
    Fault(
        fault="other files that commands write: drafts, descriptions, reports",
        made_by="SIGKILL and ENOSPC at calls that change the disk",
        left="the whole file under its name, or nothing under it",
        tested_in="test_other_files.py",
        figures=("another file killed", "another file fails"),
    ),
    Fault(
        fault="run log, while `check` adds to it",
        made_by="the same; two checks at once; a line cut short",
        left="the log as it was, or with one whole line more. A line that a power cut left torn is "
        "kept and sealed as unreadable, and the next run says so",
        tested_in="test_run_log.py",
        figures=("check killed", "run log fails"),
    ),
    Fault(
        fault="release log with a torn last line",
        made_by="a line cut at three places",
        left="every command that reads the log refuses it, names the line, and says what to do",
        tested_in="test_disclose.py",
    ),
)


def require_tried(what: str, count: int) -> None:
    """Fails where fewer points were tried than docs/threat-model.md says."""
    assert count >= AT_LEAST[what], (
        f"{what}: {count} points were tried, and docs/threat-model.md says {AT_LEAST[what]} or "
        "more; correct tests/faults/figures.py and run `python -m tests.faults.table --write`"
    )
