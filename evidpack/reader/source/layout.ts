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

export const DISCLOSURE_STATEMENT = "disclosure/statement.json";

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
