"""The redacted copies of a pack: decoded, blacked out, tied to the sealed pixels tile by tile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidpack.disclosure.decisions import Case, RedactOrder
from evidpack.disclosure.jpeg_scans import require_redactable
from evidpack.disclosure.plan import Plan, Revealed
from evidpack.disclosure.reasons import reason_sentence
from evidpack.disclosure.redaction import redacted_copy, tile_openings
from evidpack.disclosure.regions import Shape, redacted_tiles, shapes_from
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.errors import ProofError
from evidpack.intake.pixels import decode_rgb, decoder_name
from evidpack.limits import MAX_STILL_BYTES
from evidpack.proof.accounting import Became
from evidpack.proof.entries import tile_key
from evidpack.proof.pack_parts import RedactionRecord
from evidpack.proof.tiles import pixel_root


@dataclass(frozen=True, slots=True, kw_only=True)
class RedactedStill:
    """A redacted copy: its PNG, salts of open tiles, leaf digests of closed ones, its record."""

    entry: int
    exhibit: int
    png: bytes
    salts: Mapping[int, bytes]
    closed: Mapping[int, bytes]
    record: RedactionRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class DecodedStill:
    """A sealed still's pixels: RGB rows without padding; `key` salts its tiles."""

    rgb: bytes
    width_px: int
    height_px: int
    key: bytes


def redact_stills(bundle: SealedBundle, plan: Plan, case: Case) -> Sequence[RedactedStill]:
    """Every still that the plan redacts, in ledger order.

    Raises ProofError where a still does not decode here to the pixels that were sealed, UsageError
    where a region lies outside.
    """
    return [
        _redact(bundle, one, plan.redactions[one.number], case)
        for one in plan.revealed
        if one.line.kind == "file" and one.line.became is Became.REDACTED
    ]


def _redact(bundle: SealedBundle, one: Revealed, order: RedactOrder, case: Case) -> RedactedStill:
    still = decode_sealed(bundle, one.number)
    tiles = redacted_tiles(shapes_of(order), still.width_px, still.height_px)
    openings = tile_openings(still.rgb, still.width_px, still.height_px, still.key, tiles)
    exhibit = one.line.exhibit or 0
    record = RedactionRecord(
        entry=one.number,
        exhibit=exhibit,
        boxes=order.boxes,
        polygons=order.polygons,
        tiles=sorted(tiles),
        reason=reason_sentence(order.reason),
        by=order.by or case.decided_by,
        at=(order.at or case.decided_at).isoformat(),
    )
    return RedactedStill(
        entry=one.number,
        exhibit=exhibit,
        png=redacted_copy(still.rgb, still.width_px, still.height_px, tiles),
        salts=openings.salts,
        closed=openings.closed,
        record=record,
    )


def shapes_of(order: RedactOrder) -> Sequence[Shape]:
    """The regions of a ``[[redact]]`` table."""
    return shapes_from(order.boxes, order.polygons)


def decode_sealed(bundle: SealedBundle, number: int) -> DecodedStill:
    """Decode a sealed still and compare it with its pixel commitment.

    Raises ProofError where it differs, naming both decoders: two JPEG decoders may differ in the
    last bit, and then no redacted copy made here would be proved.  UsageError for a JPEG whose blocks
    are smoothed over when it is decoded: what is beside a region would tell what is inside.
    """
    entry = bundle.entry(number)
    path = str(entry.values["path"])
    data = bundle.read_file(path, limit=MAX_STILL_BYTES)
    require_redactable(data, path=path)
    rgb, width_px, height_px, form = decode_rgb(data, path=path)
    key = tile_key(entry.key)
    root = pixel_root(rgb, width_px, height_px, key).hex()
    if root != entry.values.get("pixel_root"):
        raise ProofError(
            f"entry {number} does not decode here to the pixels that were sealed",
            path=path,
            expected=f"the pixels by {entry.values.get('decoder')}",
            observed=f"others by {decoder_name(form)}",
            hint="Make the pack where that decoder is installed; the bundle is not at fault.",
        )
    return DecodedStill(rgb=rgb, width_px=width_px, height_px=height_px, key=key)
