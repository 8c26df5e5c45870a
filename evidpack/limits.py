"""Every size and count limit, in one place.

A limit is there so that a file handed over by somebody with an interest in the outcome costs a
bounded amount of time and memory.  Each is generous for a real day and is tested at the limit
and one past it.
"""

from typing import Final

KIB: Final = 1024
MIB: Final = 1024 * KIB
GIB: Final = 1024 * MIB

# Containers
MAX_ARCHIVE_BYTES: Final = 1024 * GIB
MAX_MEMBERS: Final = 1_000_000
MAX_FOLDERS: Final = 100_000
MAX_DIRECTORY_BYTES: Final = 512 * MIB
MAX_NAME_BYTES: Final = 1_024
MAX_NAME_PART_BYTES: Final = 255
MAX_PATH_DEPTH: Final = 32
MAX_REFERENCE_CHARACTERS: Final = 64
# Of a name's bytes and parts, so many are kept for the folders that stand before an item.
NAME_BYTES_KEPT: Final = 64
NAME_PARTS_KEPT: Final = 2
MAX_TAG_FILE_BYTES: Final = 512 * MIB

# JSON, ledgers, descriptions
MAX_JSON_DEPTH: Final = 32
MAX_LEDGER_LINE_BYTES: Final = 4 * MIB
MAX_STATEMENT_BYTES: Final = 64 * KIB
MAX_DISCLOSURE_STATEMENT_BYTES: Final = 64 * MIB
MAX_ENTRIES: Final = 2_000_000
MAX_DESCRIPTION_BYTES: Final = 4 * MIB
MAX_DESCRIPTION_FAULTS: Final = 1_000
MAX_SAFE_INTEGER: Final = 2**53 - 1

# Times that a statement claims: beyond them neither an offset nor a deadline can be counted.
FIRST_YEAR: Final = 1970
LAST_YEAR: Final = 9000

# Logs
MAX_LOG_BYTES: Final = 1 * GIB
MAX_ROW_BYTES: Final = 1 * MIB
MAX_CELL_CHARACTERS: Final = 256 * KIB
MAX_COLUMNS: Final = 1_024
MAX_ROW_LINES: Final = 1_000
MAX_PROFILE_TABLES: Final = 1_000
MAX_JSON_LOG_BYTES: Final = 64 * MIB
MAX_RUN_LOG_BYTES: Final = 64 * MIB
MAX_UNREADABLE_EXCERPT_CHARACTERS: Final = 4_096

# Stills
MAX_STILL_PIXELS: Final = 200_000_000
MAX_STILL_BYTES: Final = 512 * MIB
TILE_EDGE_PX: Final = 32

# The only formats of pictures that are ever decoded. Pillow would read many more, and hands one of
# them (EPS) to another program, which runs what is in it.
PICTURE_FORMATS: Final = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")

# Clips: more than two hours at 25 frames a second, whose times still fit a ledger line
MAX_CLIP_FRAMES: Final = 200_000
MAX_CLIP_BOXES: Final = 10_000
MAX_CLIP_SECONDS: Final = 7 * 86_400

# Trust
MAX_SIGNATURE_BYTES: Final = 256 * KIB
MAX_TOKEN_BYTES: Final = 256 * KIB
MAX_CERTIFICATE_BYTES: Final = 64 * KIB
MAX_PEM_BYTES: Final = 4 * MIB
MAX_KEY_ROUNDS: Final = 10_000_000
MAX_KEY_MEMORY_BYTES: Final = 256 * MIB
MIN_RSA_BITS: Final = 3_072

# Input and output buffers
COPY_BUFFER_BYTES: Final = 256 * KIB
