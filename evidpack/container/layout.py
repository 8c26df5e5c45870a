"""Every name inside a bundle or a pack, in one place. See docs/format.md.

All are relative to the one top-level folder, which is named for the day reference.
"""

from __future__ import annotations

from typing import Final

FORMAT_VERSION: Final = 1

BAGIT: Final = "bagit.txt"
BAG_INFO: Final = "bag-info.txt"
MANIFEST: Final = "manifest-sha256.txt"
TAG_MANIFEST: Final = "tagmanifest-sha256.txt"

DATA: Final = "data/"
EXPORT: Final = "data/export/"
OFFICE: Final = "data/office/"

REDACTED: Final = "data/redacted/"
DERIVED: Final = "data/derived/"

LEDGER: Final = "seal/ledger.jsonl"
OPENINGS: Final = "seal/openings.jsonl"
STATEMENT: Final = "seal/statement.json"
SIGNATURE: Final = "seal/statement.p7s"
TOKEN: Final = "seal/statement.tsr"
INDEX: Final = "index.pdf"
VERIFY: Final = "VERIFY.txt"

ORIGIN_STATEMENT: Final = "origin/statement.json"
ORIGIN_SIGNATURE: Final = "origin/statement.p7s"
ORIGIN_TOKEN: Final = "origin/statement.tsr"
DISCLOSURE_LEAVES: Final = "disclosure/leaves.txt"
DISCLOSURE_ACCOUNTING: Final = "disclosure/accounting.jsonl"
DISCLOSURE_ENTRIES: Final = "disclosure/entries.jsonl"
DISCLOSURE_OPENINGS: Final = "disclosure/openings.jsonl"
DISCLOSURE_REDACTIONS: Final = "disclosure/redactions.jsonl"
DISCLOSURE_TILES: Final = "disclosure/tiles/"
DISCLOSURE_STATEMENT: Final = "disclosure/statement.json"
DISCLOSURE_SIGNATURE: Final = "disclosure/statement.p7s"
DISCLOSURE_TOKEN: Final = "disclosure/statement.tsr"

OFFICE_DAY: Final = "office/day.toml"
OFFICE_PROFILE: Final = "office/profile.toml"
OFFICE_RULES: Final = "office/rules.toml"
OFFICE_NOTES: Final = "office/notes.toml"
OFFICE_RUNS: Final = "office/runs.jsonl"
OFFICE_SEALING: Final = "office/sealing.json"
OFFICE_UNIT: Final = "office/unit/"

# The one member of an encrypted pack. No encrypted file may have this name: whoever unpacks one where
# it lies would put the pack in its place.
DECRYPTED_PACK: Final = "decrypted-pack.zip"

# The files that no ledger entry covers and that the seal statement pins by digest.
PINNED_BY_SEAL: Final = (LEDGER, OPENINGS, INDEX, VERIFY)
# The tag files of a bundle in the order in which the archive holds them, after the payload.
BUNDLE_TAG_ORDER: Final = (
    LEDGER,
    OPENINGS,
    INDEX,
    VERIFY,
    STATEMENT,
    SIGNATURE,
    TOKEN,
    MANIFEST,
    BAG_INFO,
    BAGIT,
    TAG_MANIFEST,
)
# The tag files of a pack in order, after the payload; the tile openings stand before the index.
PACK_TAG_ORDER: Final = (
    ORIGIN_STATEMENT,
    ORIGIN_SIGNATURE,
    ORIGIN_TOKEN,
    DISCLOSURE_LEAVES,
    DISCLOSURE_ACCOUNTING,
    DISCLOSURE_ENTRIES,
    DISCLOSURE_OPENINGS,
    DISCLOSURE_REDACTIONS,
    DISCLOSURE_TILES,
    INDEX,
    VERIFY,
    DISCLOSURE_STATEMENT,
    DISCLOSURE_SIGNATURE,
    DISCLOSURE_TOKEN,
    MANIFEST,
    BAG_INFO,
    BAGIT,
    TAG_MANIFEST,
)
# The files of a pack that its statement does not pin.
NOT_PINNED_BY_DISCLOSURE: Final = frozenset(
    {DISCLOSURE_STATEMENT, DISCLOSURE_SIGNATURE, DISCLOSURE_TOKEN, MANIFEST, TAG_MANIFEST}
)


def exhibit_picture(exhibit: int) -> str:
    """The redacted copy of a still."""
    return f"{REDACTED}exhibit-{exhibit}.png"


def exhibit_tiles(exhibit: int) -> str:
    """The tile openings of a redacted copy."""
    return f"{DISCLOSURE_TILES}exhibit-{exhibit}.txt"
