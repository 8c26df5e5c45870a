"""The proposals for a whole day: each entry by itself, then what depends on others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evidpack.disclosure.concern import Concern
from evidpack.disclosure.mixed_files import mixed_file
from evidpack.disclosure.proposal import MIXED, Proposal
from evidpack.disclosure.proposing import logs_without_others, propose
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.disclosure.withheld_names import closing_names_of_withheld
from evidpack.model.records import ItemKind


@dataclass(slots=True, kw_only=True)
class _Files:
    """The files of a day, and the records that were read from each."""

    kinds: dict[int, str] = field(default_factory=dict)
    logs: list[SealedEntry] = field(default_factory=list)
    rows: dict[int, list[int]] = field(default_factory=dict)
    row_kinds: dict[int, set[str]] = field(default_factory=dict)

    def take(self, entry: SealedEntry) -> None:
        """Note a file, or the file of a record."""
        source = entry.values.get("source_entry")
        if entry.kind == "file":
            self.kinds[entry.number] = str(entry.values.get("item_kind"))
            if self.kinds[entry.number] == ItemKind.LOG.value:
                self.logs.append(entry)
        elif entry.kind == "record" and isinstance(source, int):
            self.rows.setdefault(source, []).append(entry.number)
            kind = str(entry.values.get("record_kind"))
            self.row_kinds.setdefault(source, set()).add(kind)


def propose_all(bundle: SealedBundle, concern: Concern) -> Mapping[int, Proposal]:
    """A proposal for every entry.

    Logs without other people's rows are looked at twice, and again where a row of one keeps fields
    closed, since then it is not released whole.
    """
    found: dict[int, Proposal] = {}
    files = _Files()
    for entry in bundle.entries():
        found[entry.number] = propose(entry, concern, frozenset())
        files.take(entry)
    of_logs = {log.number: tuple(files.rows.get(log.number, ())) for log in files.logs}
    whole = logs_without_others(found, of_logs)
    while True:
        for log in files.logs:
            found[log.number] = propose(log, concern, whole)
        found.update(closing_names_of_withheld(bundle, found))
        still_whole = logs_without_others(found, of_logs)
        if still_whole == whole:  # it only ever becomes smaller
            break
        whole = still_whole
    mixed = [number for number, proposal in found.items() if proposal is MIXED]
    for number in mixed:
        found[number] = mixed_file(files.kinds[number], files.row_kinds.get(number, ()))
    return found
