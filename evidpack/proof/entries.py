"""Which values each kind of ledger entry commits to, and in which order entries stand.

The order is part of the format (docs/format.md, Ledger): files by the bytes of their path;
records by the number of the file entry they came from, then line, kind, place and values;
findings in the order of the checks.  The sealer writes in this order and the re-check expects it.
"""

from __future__ import annotations

import hmac
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from evidpack.errors import ProofError
from evidpack.model.fields import RecordKind
from evidpack.model.records import Item, Record
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.digests import TILE

RAW_PREFIX = "raw:"


@dataclass(frozen=True, slots=True, kw_only=True)
class PixelFacts:
    """What a still's file entry says of its decoded picture (docs/format.md, Pixel commitment)."""

    root: bytes
    width_px: int
    height_px: int
    decoder: str


def utc_text(moment: datetime) -> str:
    """RFC 3339 in UTC with a Z, microseconds only where there are any."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def tile_key(entry_key: bytes) -> bytes:
    """The key that salts a still's tiles: HMAC-SHA256(entry key, 0x04).

    A field's salt is keyed by a name, and no field of a file entry is named U+0004.
    """
    return hmac.digest(entry_key, TILE, "sha256")


def file_values(item: Item, *, sha256: bytes, pixels: PixelFacts | None) -> dict[str, JsonValue]:
    """The values of a `file` entry."""
    values: dict[str, JsonValue] = {
        "item_kind": item.kind.value,
        "modified": utc_text(item.modified),
        "origin": item.origin,
        "path": item.path,
        "sha256": sha256.hex(),
        "size": item.size,
    }
    if item.original_name is not None:
        values["original_name"] = item.original_name
    if pixels is not None:
        values["decoder"] = pixels.decoder
        values["height_px"] = pixels.height_px
        values["pixel_root"] = pixels.root.hex()
        values["width_px"] = pixels.width_px
    return values


def record_values(record: Record, *, source_entry: int) -> dict[str, JsonValue]:
    """The values of a `record` entry: raw cells under ``raw:<column>`` beside the normalised.

    Raises ProofError where a value has the name of one of the entry's own.
    """
    values: dict[str, JsonValue] = {
        "record_kind": record.kind.value,
        "source_entry": source_entry,
        "source_line": record.source.line,
        "place": record.source.place,
    }
    for column, cell in record.raw.items():
        values[RAW_PREFIX + column] = cell
    for name, value in record.values.items():
        if name in values:
            raise ProofError("two values of one record have the same name", observed=name)
        values[name] = value
    return values


_KIND_ORDER = {kind: place for place, kind in enumerate(RecordKind)}


def ordered_records(
    records: Iterable[Record], entry_of: Mapping[str, int]
) -> Sequence[tuple[int, Record]]:
    """Records with the number of their source's file entry, in ledger order.

    `entry_of` maps a path to the number of its file entry.  A record whose source is not a file
    of the day would be a defect of intake and raises KeyError.
    """
    keyed = [
        (
            (entry_of[record.source.path], record.source.line or 0, _KIND_ORDER[record.kind]),
            record,
        )
        for record in records
    ]
    keyed.sort(key=lambda pair: (*pair[0], pair[1].source.place))
    return [(key[0], record) for key, record in _settle_ties(keyed)]


def _settle_ties(
    keyed: list[tuple[tuple[int, int, int], Record]],
) -> list[tuple[tuple[int, int, int], Record]]:
    """Where line, kind and place are equal, the canonical values decide (rare, so done apart)."""
    settled: list[tuple[tuple[int, int, int], Record]] = []
    run: list[tuple[tuple[int, int, int], Record]] = []
    for pair in keyed:
        if run and (run[0][0], run[0][1].source.place) != (pair[0], pair[1].source.place):
            settled.extend(_sorted_run(run))
            run = []
        run.append(pair)
    settled.extend(_sorted_run(run))
    return settled


def _sorted_run(
    run: list[tuple[tuple[int, int, int], Record]],
) -> list[tuple[tuple[int, int, int], Record]]:
    if len(run) < 2:
        return run
    return sorted(run, key=lambda pair: canonical_bytes(dict(pair[1].values)))
