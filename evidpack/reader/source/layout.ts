// Every name inside a bundle, the same as evidpack/container/layout.py; a test compares the two.
// All are relative to the one top folder.

export const BAGIT = "bagit.txt";
export const BAG_INFO = "bag-info.txt";
export const MANIFEST = "manifest-sha256.txt";
export const TAG_MANIFEST = "tagmanifest-sha256.txt";

export const DATA = "data/";

export const LEDGER = "seal/ledger.jsonl";
export const OPENINGS = "seal/openings.jsonl";
export const STATEMENT = "seal/statement.json";
export const SIGNATURE = "seal/statement.p7s";
export const TOKEN = "seal/statement.tsr";
export const INDEX = "index.pdf";
export const VERIFY = "VERIFY.txt";

export const OFFICE_RULES = "office/rules.toml";

/** The files that no ledger entry covers and that the seal statement pins by digest. */
export const PINNED_BY_SEAL: readonly string[] = [LEDGER, OPENINGS, INDEX, VERIFY];

/** The files outside the payload in the order in which the archive holds them. */
export const BUNDLE_TAG_ORDER: readonly string[] = [
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
];

export const EXPORT = "data/export/";
export const REDACTED = "data/redacted/";
export const DERIVED = "data/derived/";

export const ORIGIN_STATEMENT = "origin/statement.json";
export const ORIGIN_SIGNATURE = "origin/statement.p7s";
export const ORIGIN_TOKEN = "origin/statement.tsr";
export const DISCLOSURE_LEAVES = "disclosure/leaves.txt";
export const DISCLOSURE_ACCOUNTING = "disclosure/accounting.jsonl";
export const DISCLOSURE_ENTRIES = "disclosure/entries.jsonl";
export const DISCLOSURE_OPENINGS = "disclosure/openings.jsonl";
export const DISCLOSURE_REDACTIONS = "disclosure/redactions.jsonl";
export const DISCLOSURE_TILES = "disclosure/tiles/";
export const DISCLOSURE_STATEMENT = "disclosure/statement.json";
export const DISCLOSURE_SIGNATURE = "disclosure/statement.p7s";
export const DISCLOSURE_TOKEN = "disclosure/statement.tsr";

/** The one member of an encrypted pack. */
export const DECRYPTED_PACK = "decrypted-pack.zip";

/** The files of a pack outside the payload in order; those under the tiles' folder sorted by name. */
export const PACK_TAG_ORDER: readonly string[] = [
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
];

/** The files of a pack that its statement does not pin, sorted. */
export const NOT_PINNED_BY_DISCLOSURE: readonly string[] = [
  DISCLOSURE_STATEMENT,
  DISCLOSURE_SIGNATURE,
  DISCLOSURE_TOKEN,
  MANIFEST,
  TAG_MANIFEST,
];
