"""Publishing a pack: encrypted or plain, with its slip, its line in the release log and, where
there is sensitive material, the prosecutor's schedule.

Slip, schedule and log line are there before the pack has its name: no pack stands without them.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final

from evidpack import __version__
from evidpack.container.layout import DECRYPTED_PACK
from evidpack.container.place import new_file
from evidpack.disclosure.decisions import Case, Decisions
from evidpack.disclosure.earlier import EarlierPack
from evidpack.disclosure.index_content import index_of_pack
from evidpack.disclosure.pack import MadePack, PackFacts, PackOrder, make_pack
from evidpack.disclosure.passphrase import new_passphrase
from evidpack.disclosure.release_lines import LogLine, Release
from evidpack.disclosure.releases import append_release, last_digest, read_releases, releases_in
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.disclosure.sensitive import sensitive_schedule
from evidpack.disclosure.targets import EncryptedTarget, PlainTarget
from evidpack.errors import EvidpackError, UsageError
from evidpack.index.slip import SlipContent, build_slip, slip_text
from evidpack.proof.disclosure_statement import EarlierVerification
from evidpack.sealing.order import Signer

RELEASES: Final = "releases.jsonl"
_SALT_BYTES: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """How a pack is to be published. `bundle` is where the bundle stands, and the release log beside
    it; `slip` is where the slip goes (with .pdf and .txt added) and None for a plain pack, and
    beside the pack only where `slip_beside` was asked for;
    `sensitive` where the prosecutor's schedule goes."""

    bundle: Path
    signer: Signer
    output: Path
    now: datetime
    random: Callable[[int], bytes]
    slip: Path | None = None
    slip_beside: bool = False
    sensitive: Path | None = None
    time_stamp: Callable[[bytes], bytes] | None = None
    verification: EarlierVerification | None = None
    earlier: EarlierPack | None = None
    index: Callable[[PackFacts], bytes] = index_of_pack


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """What was published: the pack, the digest (hex) and size of the file, and the slips.

    `passphrase` is the encrypted pack's, None for a plain one; it is on the slip and nowhere else.
    `same_issue` names packs that went out before as this issue, for this case and recipient.
    """

    pack: MadePack
    file_sha256: str
    file_size: int
    slips: tuple[Path, ...]
    same_issue: tuple[str, ...] = ()
    passphrase: str | None = field(default=None, repr=False)


def releases_beside(bundle: Path) -> Path:
    """Where the release log of a bundle stands."""
    return bundle.absolute().parent / RELEASES


def publish(bundle: SealedBundle, decisions: Decisions, publication: Publication) -> Published:
    """Make and publish a pack.

    Raises as `make_pack`, and UsageError where a file stands in the way or sensitive material has no
    schedule to go to; then no pack, slip or schedule is left.  UnsyncedError: all of them are there.
    """
    companions = _Companions(publication, decisions)
    on_record = read_releases(releases_beside(publication.bundle))
    order = PackOrder(
        signer=publication.signer,
        claimed_time=publication.now,
        random=publication.random,
        index=publication.index,
        time_stamp=publication.time_stamp,
        verification=publication.verification,
        release_log=last_digest(on_record),
        earlier=publication.earlier,
        before_publishing=companions.write,
        given_up=companions.take_back,
    )
    made = make_pack(bundle, decisions, order, companions.target())
    encrypted = made.encrypted
    return Published(
        pack=made,
        file_sha256=made.sha256 if encrypted is None else encrypted.sha256.hex(),
        file_size=made.size if encrypted is None else encrypted.size,
        slips=companions.slips,
        same_issue=_same_issue(releases_in(on_record), made),
        passphrase=companions.passphrase,
    )


def _same_issue(before: Iterable[Release], made: MadePack) -> tuple[str, ...]:
    said = made.statement
    return tuple(
        one.reference
        for one in before
        if (one.origin, one.case, one.recipient, one.issue)
        == (said.origin, said.case, said.recipient, said.issue)
    )


class _Companions:
    """The files that go with a pack; they are new, or nothing is made."""

    def __init__(self, publication: Publication, decisions: Decisions) -> None:
        self._publication = publication
        self._case = decisions.case
        self.passphrase = new_passphrase(publication.random) if publication.slip else None
        self._written: list[tuple[Path, os.stat_result]] = []
        self._recorded: LogLine | None = None
        self.slips: tuple[Path, ...] = ()
        if publication.slip is not None:
            _require_other_name(publication.output)
            slip = publication.slip
            self.slips = (Path(f"{slip}.pdf"), Path(f"{slip}.txt"))
            if not publication.slip_beside:
                _require_apart(slip, publication.output, "slip")
        if publication.sensitive is not None:
            _require_apart(publication.sensitive, publication.output, "schedule")
        for path in (*self.slips, publication.sensitive):
            if path is not None and os.path.lexists(path):
                raise UsageError(
                    "something stands under this name already, and nothing is ever replaced",
                    path=str(path),
                    hint="Choose another name.",
                )

    def target(self) -> PlainTarget | EncryptedTarget:
        """Where the pack goes."""
        if self.passphrase is None:
            return PlainTarget(path=self._publication.output)
        return EncryptedTarget(
            path=self._publication.output,
            passphrase=self.passphrase,
            salt=self._publication.random(_SALT_BYTES),
        )

    def write(self, made: MadePack) -> None:
        """Schedule, slip and log line, in this order: the log line cannot be taken back."""
        self._write_schedule(made)
        if made.encrypted is not None and self.passphrase is not None:
            content = self._slip(made, self.passphrase)
            pdf, text = self.slips
            self._write(pdf, build_slip(content))
            self._write(text, slip_text(content))
        self._recorded = append_release(
            releases_beside(self._publication.bundle),
            _release(made, self._case),
            at=self._publication.now,
            by=self._case.decided_by,
            signer=self._publication.signer,
        )

    def take_back(self, error: BaseException) -> None:
        """Remove what was written; a line in the log stays, and the error then says so."""
        for path, begun in self._written:
            with suppress(OSError):
                # Not one that somebody else put there meanwhile.
                if os.path.samestat(path.lstat(), begun):
                    path.unlink()
        if self._recorded is not None and isinstance(error, EvidpackError):
            stays = (
                f"Line {self._recorded.number} of the release log records this pack, which was not "
                "made. Lines are never taken out: keep a note of it, and make the pack again."
            )
            error.hint = stays if error.hint is None else f"{error.hint}\n{stays}"

    def _write_schedule(self, made: MadePack) -> None:
        path, items = self._publication.sensitive, made.plan.sensitive
        if path is not None:
            self._write(path, sensitive_schedule(self._case, items).encode())
        elif items:
            raise UsageError(
                f"{len(items)} entries are sensitive, and there is no schedule for them to go to",
                hint="--sensitive PATH     the prosecutor's schedule, never beside the pack",
            )

    def _write(self, path: Path, data: bytes) -> None:
        with new_file(path) as placement:
            placement.write(data)
            # Before it has its name: an interrupt may come at any moment after.
            self._written.append((path, os.fstat(placement.stream.fileno())))
            placement.publish()

    def _slip(self, made: MadePack, passphrase: str) -> SlipContent:
        encrypted = made.encrypted
        if encrypted is None:
            raise ValueError("only an encrypted pack has a slip")
        return SlipContent(
            file_name=self._publication.output.name,
            sha256=encrypted.sha256,
            size=encrypted.size,
            reference=made.statement.pack,
            pack_sha256=bytes.fromhex(made.sha256),
            case=made.statement.case,
            recipient=made.statement.recipient,
            issue=made.statement.issue,
            made_at=self._publication.now,
            made_by=self._case.decided_by,
            passphrase=passphrase,
            evidpack_version=__version__,
        )


def _require_apart(path: Path, output: Path, what: str) -> None:
    """What lies in the pack's own folder is soon sent along with it."""
    if path.absolute().parent == output.absolute().parent:
        raise UsageError(
            f"the {what} would lie beside the pack",
            path=str(path),
            expected="another folder",
            observed=str(output.absolute().parent),
            hint=f"The {what} goes another way than the pack: give it a folder of its own.",
        )


def _require_other_name(output: Path) -> None:
    """Unpacked where it lies, the pack inside would take the encrypted one's place."""
    if output.name.casefold() == DECRYPTED_PACK:
        raise UsageError(
            "the pack inside an encrypted one has this name",
            path=str(output),
            expected=f"any name but {DECRYPTED_PACK}",
            hint="Choose another name for the encrypted file.",
        )


def _release(made: MadePack, case: Case) -> Release:
    statement, encrypted = made.statement, made.encrypted
    return Release(
        reference=statement.pack,
        pack=bytes.fromhex(made.sha256),
        encrypted=None if encrypted is None else encrypted.sha256,
        statement=bytes.fromhex(made.statement_sha256),
        origin=statement.origin,
        contents=made.contents,
        day=statement.day,
        case=case.case,
        recipient=case.recipient,
        issue=statement.issue,
    )
