"""Verifying a pack: the same numbered steps, for the seal it comes from and for its discloser."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from evidpack import __version__
from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.errors import ContainerError, EvidpackError, ProofError
from evidpack.limits import (
    MAX_DISCLOSURE_STATEMENT_BYTES,
    MAX_STATEMENT_BYTES,
)
from evidpack.proof.accounting import Became
from evidpack.proof.digests import sha256
from evidpack.proof.disclosure_statement import DisclosureStatement, parse_disclosure_statement
from evidpack.proof.statement import SealStatement, parse_statement
from evidpack.verifying.bundle import (
    ASK_AGAIN,
    Options,
    examine_bag,
    next_after,
    one_reading,
    stopped,
)
from evidpack.verifying.pack_contents import (
    PackContents,
    examine_accounting,
    examine_leaves,
    examine_revealed,
)
from evidpack.verifying.pack_files import examine_files
from evidpack.verifying.pack_recheck import recheck_pack
from evidpack.verifying.pack_signing import examine_both
from evidpack.verifying.report import Fault, Report, Step, StepOutcome, fault_from


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedPack:
    """A pack after steps 1 to 4 and 9: what was signed, what it accounts for and reveals."""

    archive: Archive
    statement: DisclosureStatement | None
    statement_bytes: bytes
    origin: SealStatement | None
    origin_bytes: bytes
    contents: PackContents
    steps: tuple[Step, ...]
    accounting: Step

    def required_statement(self) -> DisclosureStatement:
        """The disclosure statement. Raises ProofError where it cannot be read."""
        if self.statement is None:
            raise ProofError("the disclosure statement cannot be read", path=self.archive.path)
        return self.statement


def verify_pack(archive: Archive, *, path: str, size: int, options: Options) -> Report:
    """Verify a pack from an archive whose structure was checked. Faults are in the report."""
    opened = open_pack(archive, path=path, on_bytes=options.on_bytes)
    if isinstance(opened, Step):
        return stopped(opened, path=path, size=size, options=options)
    signing = examine_both(opened, options)
    return Report(
        path=path,
        size=size,
        sha256=options.file_sha256,
        kind="pack",
        reference=archive.top,
        statement_sha256=sha256(opened.statement_bytes).hex(),
        origin_sha256=sha256(opened.origin_bytes).hex(),
        verified_at=options.now,
        evidpack_version=__version__,
        steps=(*opened.steps, *signing.steps, _recheck(opened, options), opened.accounting),
        answers=signing.answers,
        certificates=signing.certificates,
        accept_claimed_time=options.accept_claimed_time,
        revocation_checked=bool(options.trust.revocation_lists),
    )


def open_pack(
    archive: Archive, *, path: str, on_bytes: Callable[[int], None] | None = None
) -> OpenedPack | Step:
    """Steps 1 to 4 and 9. A failed step 1 is returned alone."""
    try:
        require_pack_order(archive)
        statement_bytes = archive.read(
            layout.DISCLOSURE_STATEMENT, limit=MAX_DISCLOSURE_STATEMENT_BYTES
        )
        origin_bytes = archive.read(layout.ORIGIN_STATEMENT, limit=MAX_STATEMENT_BYTES)
    except ContainerError as error:
        return Step(
            number=1,
            outcome=StepOutcome.FAILS,
            examined="the file is no pack of this format, so nothing in it was examined",
            faults=(fault_from(error, path),),
            next_step=ASK_AGAIN,
        )
    step_1 = one_reading(archive)
    digests, step_2 = examine_bag(archive, on_bytes)
    contents = PackContents()
    statement, origin = _read_statements(archive, statement_bytes, origin_bytes, contents)
    if origin is not None:
        examine_leaves(contents, archive, origin)
        examine_accounting(contents, archive, origin, statement)
    if statement is not None:
        _compare_pinned(contents, statement, digests)
    if not contents.accounting_faults and not contents.ledger_faults:
        _examine_contents(contents, archive, digests)
    return OpenedPack(
        archive=archive,
        statement=statement,
        statement_bytes=statement_bytes,
        origin=origin,
        origin_bytes=origin_bytes,
        contents=contents,
        steps=(step_1, step_2, _ledger_step(contents), _content_step(contents)),
        accounting=_accounting_step(contents, origin),
    )


def require_pack_order(archive: Archive) -> None:
    """Payload by name, then the other files in the order of the format, and no stranger.

    Raises ContainerError.
    """
    names = [member.name for member in archive.members]
    order = {name: place for place, name in enumerate(layout.PACK_TAG_ORDER)}

    def place_of(name: str) -> tuple[int, str]:
        if name.startswith(layout.DATA):
            return -1, name
        group = layout.DISCLOSURE_TILES if name.startswith(layout.DISCLOSURE_TILES) else name
        if group not in order:
            raise ContainerError(
                "a pack of this format holds no such file",
                path=archive.path,
                expected="the files that the format names",
                observed=name,
            )
        return order[group], name

    for found, expected in zip(names, sorted(names, key=place_of), strict=True):
        if found != expected:
            raise ContainerError(
                "the members are not in the order of the format",
                path=archive.path,
                expected=expected,
                observed=found,
            )


def _read_statements(
    archive: Archive, statement_bytes: bytes, origin_bytes: bytes, contents: PackContents
) -> tuple[DisclosureStatement | None, SealStatement | None]:
    statement: DisclosureStatement | None = None
    origin: SealStatement | None = None
    try:
        origin = parse_statement(origin_bytes, path=layout.ORIGIN_STATEMENT)
    except ProofError as error:
        contents.ledger_faults.append(fault_from(error, layout.ORIGIN_STATEMENT))
    try:
        statement = parse_disclosure_statement(statement_bytes, path=layout.DISCLOSURE_STATEMENT)
        for what, named, found in (
            ("the seal statement", statement.origin.hex(), sha256(origin_bytes).hex()),
            ("the archive's folder", statement.pack, archive.top),
            ("the day", statement.day, statement.day if origin is None else origin.day),
        ):
            if named != found:
                raise ProofError(
                    f"{what} is not the one that the disclosure statement names",
                    path=layout.DISCLOSURE_STATEMENT,
                    expected=named,
                    observed=found,
                )
    except ProofError as error:
        contents.content_faults.append(fault_from(error, layout.DISCLOSURE_STATEMENT))
    return statement, origin


def _compare_pinned(
    contents: PackContents, statement: DisclosureStatement, digests: Mapping[str, bytes]
) -> None:
    """Every other file of the pack is pinned by the statement, and nothing else is."""
    found = {
        name: digest
        for name, digest in digests.items()
        if name not in layout.NOT_PINNED_BY_DISCLOSURE
    }
    for name in sorted(found.keys() | statement.pinned.keys()):
        if found.get(name) != statement.pinned.get(name):
            signed, there = statement.pinned.get(name), found.get(name)
            contents.content_faults.append(
                Fault(
                    item=name,
                    message="the file is not the one whose digest was signed",
                    expected="no such file" if signed is None else signed.hex(),
                    observed="missing" if there is None else there.hex(),
                )
            )


def _examine_contents(
    contents: PackContents, archive: Archive, digests: Mapping[str, bytes]
) -> None:
    try:
        examine_revealed(contents, archive)
        examine_files(contents, archive, digests)
    except EvidpackError as error:
        contents.content_faults.append(fault_from(error, archive.top))


def _ledger_step(contents: PackContents) -> Step:
    faults = tuple(contents.ledger_faults)
    return Step(
        number=3,
        outcome=StepOutcome.FAILS if faults else StepOutcome.HOLDS,
        examined="the leaf digests are not those of the seal"
        if faults
        else f"{len(contents.leaves)} leaf digests give the chain head and the tree root that were "
        "sealed",
        faults=faults,
        next_step=next_after(faults),
    )


def _content_step(contents: PackContents) -> Step:
    faults = tuple(contents.content_faults)
    if not faults and (contents.ledger_faults or contents.accounting_faults):
        return Step(
            number=4,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined="contents were not examined: leaf digests or accounting do not hold",
        )
    files = sum(one.line.kind == "file" for one in contents.revealed)
    return Step(
        number=4,
        outcome=StepOutcome.FAILS if faults else StepOutcome.HOLDS,
        examined=f"{len(contents.revealed)} entries are the sealed ones and open as they were "
        f"committed; {files} of them are files, each the original or a redacted copy of it",
        faults=faults,
        next_step=next_after(faults),
    )


def _accounting_step(contents: PackContents, origin: SealStatement | None) -> Step:
    faults = tuple(contents.accounting_faults)
    if origin is None:
        return Step(
            number=9,
            outcome=StepOutcome.NOT_ESTABLISHED,
            examined="the accounting was not examined: the seal statement cannot be read",
        )
    counts = dict.fromkeys(Became, 0)
    for line in contents.lines:
        counts[line.became] += 1
    said = ", ".join(f"{count} {became.value}" for became, count in counts.items() if count)
    return Step(
        number=9,
        outcome=StepOutcome.FAILS if faults else StepOutcome.HOLDS,
        examined=f"{origin.entry_count} sealed entries: {said}; each once, with a reason. "
        + findings_sentence(contents, origin),
        faults=faults,
        next_step=next_after(faults),
    )


def findings_sentence(contents: PackContents, origin: SealStatement) -> str:
    """How many findings were sealed by outcome, and how many of each are opened here."""
    opened: dict[str, int] = {}
    for one in contents.revealed:
        outcome = one.opened.get("outcome")
        if one.line.kind == "finding" and isinstance(outcome, str):
            opened[outcome] = opened.get(outcome, 0) + 1
    told = [
        f"{opened.get(outcome, 0)} of {count} {outcome}"
        for outcome, count in origin.findings.items()
        if count
    ]
    return "Findings disclosed: " + (", ".join(told) or "none were sealed")


def _recheck(opened: OpenedPack, options: Options) -> Step:
    origin = opened.origin
    if not options.recheck:
        why = "the revealed rows were not read again (--no-recheck)"
    elif origin is None or opened.contents.content_faults or opened.contents.accounting_faults:
        why = "the re-check was not run: contents or accounting do not hold"
    else:
        return recheck_pack(opened.archive, opened.contents, origin)
    return Step(number=8, outcome=StepOutcome.NOT_ESTABLISHED, examined=why)
