"""Which fields of a revealed entry stay closed: those a person named, their twins, and what names
or confirms a redacted still."""

from __future__ import annotations

from collections.abc import Callable

from evidpack.disclosure.decisions import Decision, Decisions, RedactOrder
from evidpack.disclosure.redacted_names import CLOSED_OF_FILE, names_of_redacted
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.disclosure.twins import PLACE_FIELDS, with_twins
from evidpack.errors import UsageError
from evidpack.intake.description import DayDescription
from evidpack.model.records import ItemKind


class Closing:
    """Says of entry after entry what stays closed. `profile` is asked only where a record has
    closed fields."""

    def __init__(
        self,
        bundle: SealedBundle,
        decisions: Decisions,
        profile: Callable[[], DayDescription | None],
    ) -> None:
        self._bundle = bundle
        self._decisions = decisions
        self._profile = profile
        self._redacted = names_of_redacted(bundle, decisions)

    def closed(self, decision: Decision, entry: SealedEntry) -> frozenset[str]:
        """The fields that stay closed. Raises UsageError where it cannot be done as decided."""
        order = self._decisions.redactions.get(entry.number)
        if entry.kind == "file":
            return self._of_file(decision, entry, order)
        if order is not None:
            raise self.cannot(decision, "only stills are redacted in regions")
        unknown = [name for name in decision.close if name not in entry.values]
        if unknown:
            raise self.cannot(
                decision,
                f"entry {entry.number} has no field {', '.join(unknown)}; it has "
                + ", ".join(sorted(entry.values)),
            )
        if decision.what == "redact" and not decision.close:
            raise self.cannot(decision, "to redact a record or finding, say what to close")
        closed = self._redacted.fields_in(entry).union(decision.close)
        if closed & PLACE_FIELDS:
            raise self.cannot(decision, "where a record stood cannot be closed")
        if entry.kind != "record" or not closed:
            return closed
        source = self._bundle.entry(int(str(entry.values["source_entry"])))
        return with_twins(
            closed,
            entry.values,
            source_path=str(source.values["path"]),
            description=self._profile(),
        )

    def _of_file(
        self, decision: Decision, entry: SealedEntry, order: RedactOrder | None
    ) -> frozenset[str]:
        if entry.values.get("item_kind") == ItemKind.SEALING.value:
            raise self.cannot(decision, "the note of the sealing is never disclosed")
        if decision.what == "release":
            if order is not None:
                raise self.cannot(decision, "it is released whole, yet a [[redact]] names it")
            return frozenset()
        if decision.close:
            raise self.cannot(decision, "close is for records and findings")
        if order is None:
            raise self.cannot(decision, "to redact a still, say where, with [[redact]]")
        if "pixel_root" not in entry.values:
            raise self.cannot(
                decision, "its pixels were not committed to, so a redacted copy proves nothing"
            )
        return CLOSED_OF_FILE & entry.values.keys()

    def cannot(self, decision: Decision, why: str) -> UsageError:
        """The refusal of a decision that cannot be carried out."""
        return UsageError(
            f"entry {decision.entry} cannot be disclosed as decided: {why}",
            path=self._decisions.path,
            line=decision.line,
            hint="docs/disclosure.md says what each decision needs.",
        )
