// Every size and count limit, the same numbers as evidpack/limits.py; a test compares the two.

const KIB = 1024;
const MIB = 1024 * KIB;
const GIB = 1024 * MIB;

export const MAX_ARCHIVE_BYTES = 1024 * GIB;
export const MAX_MEMBERS = 1_000_000;
export const MAX_FOLDERS = 100_000;
export const MAX_DIRECTORY_BYTES = 512 * MIB;
export const MAX_NAME_BYTES = 1_024;
export const MAX_NAME_PART_BYTES = 255;
export const MAX_PATH_DEPTH = 32;
export const MAX_REFERENCE_CHARACTERS = 64;
export const MAX_TAG_FILE_BYTES = 512 * MIB;

export const MAX_JSON_DEPTH = 32;
export const MAX_LEDGER_LINE_BYTES = 4 * MIB;
export const MAX_STATEMENT_BYTES = 64 * KIB;
export const MAX_DISCLOSURE_STATEMENT_BYTES = 64 * MIB;
export const MAX_ENTRIES = 2_000_000;
export const MAX_SAFE_INTEGER = 2 ** 53 - 1;

export const FIRST_YEAR = 1970;
export const LAST_YEAR = 9000;

export const MAX_STILL_PIXELS = 200_000_000;
export const MAX_STILL_BYTES = 512 * MIB;
export const TILE_EDGE_PX = 32;

export const MAX_SIGNATURE_BYTES = 256 * KIB;
export const MAX_TOKEN_BYTES = 256 * KIB;
export const MAX_CERTIFICATE_BYTES = 64 * KIB;
export const MAX_PEM_BYTES = 4 * MIB;
export const MIN_RSA_BITS = 3_072;
