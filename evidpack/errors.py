"""The one exception root, and what every error carries.

An error says what was wrong, where (path, line or byte offset), what was expected, what was
found, and what to do next.  Library code raises these and never prints or exits; the command
line alone turns them into text and an exit code.
"""

from __future__ import annotations


class EvidpackError(Exception):
    """Base of every error that evidpack raises on purpose."""

    def __init__(
        self,
        message: str,
        *,
        path: str | None = None,
        line: int | None = None,
        offset: int | None = None,
        expected: str | None = None,
        observed: str | None = None,
        hint: str | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.path = path
        self.line = line
        self.offset = offset
        self.expected = expected
        self.observed = observed
        self.hint = hint

    @property
    def place(self) -> str:
        """Where it happened: ``file:line``, ``file`` with a byte offset, or an empty string."""
        if self.path is None:
            return "" if self.offset is None else f"at byte {self.offset}"
        if self.line is not None:
            return f"{self.path}:{self.line}"
        if self.offset is not None:
            return f"{self.path}, at byte {self.offset}"
        return self.path

    def __str__(self) -> str:
        parts = [self.message]
        if self.place:
            parts.insert(0, f"{self.place}:")
        if self.expected is not None:
            parts.append(f"(expected {self.expected}; found {self.observed})")
        return " ".join(parts)


class UsageError(EvidpackError):
    """The command was asked for something that cannot be done as asked, or a path cannot be read."""


class DescriptionError(EvidpackError):
    """day.toml, a profile, a unit file or a rule set is wrong; `hint` holds a correct example."""


class IntakeError(EvidpackError):
    """The export cannot be taken in: a link, a special file, an unreadable sector, a limit."""


class ExportChangedError(IntakeError):
    """A file of the export changed while it was being read, so nothing can be sealed."""


class ProofError(EvidpackError):
    """Bytes are not what a digest, a commitment, the chain or the tree says they are."""


class ContainerError(EvidpackError):
    """An archive, or the bag in it, can be read in more than one way or not at all."""


class TrustError(EvidpackError):
    """A key, a certificate, a signature or a time-stamp token is not acceptable."""


class TimeStampUnavailableError(TrustError):
    """The time-stamp authority could not be reached or refused the request."""


class SealError(EvidpackError):
    """The bundle could not be made; nothing stands under its name."""


class UnsyncedError(SealError):
    """The whole file stands under its name, but the disk did not confirm that it will stay."""
