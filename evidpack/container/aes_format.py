"""The fixed layout of an encrypted pack: an AES ZIP with exactly one stored member, `NAME`.

The whole layout follows from the length of the file, so the reader trusts no number in it:
local header, salt, verifier, ciphertext, MAC, central header, end records.

Source: APPNOTE 6.3.10 as in `zip_format`, and WinZip's AE-2: method 99, bit 0 of the flags, CRC-32
zero, extra field 0x9901 (version 2, vendor "AE", strength 3, method 0: stored).  Version needed
is 5.1 (APPNOTE 4.4.3.2).  Where the stored size is 0xFFFFFFFF or more, ZIP64's extra field stands
before it with both sizes, alike in both headers.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, replace
from typing import Final

from evidpack.container import zip_format as fmt
from evidpack.container.layout import DECRYPTED_PACK
from evidpack.container.winzip_aes import MAC_BYTES, SALT_BYTES, VERIFIER_BYTES

NAME: Final = DECRYPTED_PACK.encode("ascii")
METHOD: Final = 99
OVERHEAD_BYTES: Final = SALT_BYTES + VERIFIER_BYTES + MAC_BYTES

_VERSION: Final = 51
_FLAGS: Final = fmt.FLAGS | 0x0001
_AES_EXTRA: Final = struct.pack("<HHH2sBH", 0x9901, 7, 2, b"AE", 3, fmt.STORED)


@dataclass(frozen=True, slots=True, kw_only=True)
class AesLayout:
    """Where everything stands in an encrypted pack, and the bytes of its headers.

    Attributes:
        size: of the pack inside, in bytes.
        local: the local header, at byte 0.
        central: the central header.
        end: the end records, behind it.
    """

    size: int
    local: bytes
    central: bytes
    end: bytes

    @property
    def stored_size(self) -> int:
        """Bytes of salt, verifier, ciphertext and MAC together."""
        return self.size + OVERHEAD_BYTES

    @property
    def central_at(self) -> int:
        """Offset of the central header."""
        return len(self.local) + self.stored_size

    @property
    def total(self) -> int:
        """Size of the whole file."""
        return self.central_at + len(self.central) + len(self.end)


def layout_for_size(size: int) -> AesLayout:
    """The layout around a pack of `size` bytes."""
    stored = size + OVERHEAD_BYTES
    extra = _AES_EXTRA
    shown_size, shown_stored = size, stored
    if stored >= fmt.FULL32:
        extra = struct.pack("<HHQQ", fmt.ZIP64_ID, 16, size, stored) + extra
        shown_size = shown_stored = fmt.FULL32
    # fmt: off
    local = fmt.LOCAL.pack(
        fmt.LOCAL_SIGNATURE, _VERSION, _FLAGS, METHOD, fmt.TIME, fmt.DATE, 0,
        shown_stored, shown_size, len(NAME), len(extra),
    ) + NAME + extra
    central = fmt.CENTRAL.pack(
        fmt.CENTRAL_SIGNATURE, fmt.HOST_UNIX | _VERSION, _VERSION, _FLAGS, METHOD, fmt.TIME,
        fmt.DATE, 0, shown_stored, shown_size, len(NAME), len(extra), 0, 0, 0, fmt.ATTRIBUTES, 0,
    ) + NAME + extra
    # fmt: on
    end = fmt.end_records(count=1, size=len(central), offset=len(local) + stored)
    return AesLayout(size=size, local=local, central=central, end=end)


def layout_for_total(total: int) -> AesLayout | None:
    """The layout of a file of `total` bytes, or None where no pack makes a file of that size."""
    # Without ZIP64; with its end records alone, where the header before the bytes tips the balance;
    # with its extra fields too.
    for sample in (0, fmt.FULL32 - OVERHEAD_BYTES - 1, fmt.FULL32):
        around = layout_for_size(sample)
        size = total - (around.total - around.size)
        if size >= 0 and layout_for_size(size).total == total:
            return layout_for_size(size)
    return None


_FAULTS: Final = {
    "flags": "are not 0x0801: encrypted, no data descriptor, name in UTF-8",
    "method": "is not 99: encrypted with AES",
    "CRC-32": "is not 0, as AE-2 has it",
    "stored size": "is not what the length of the file makes it",
    "size": "is not what the length of the file makes it",
    "length of the name": f"is not that of the one member, {NAME.decode()}",
    "length of the extra field": "is not that of the AES field, and ZIP64's where needed",
    "number of members on this disk": "is not 1: the finished pack and nothing else",
    "number of members": "is not 1: the finished pack and nothing else",
}


def _for_aes(fields: tuple[fmt.Field, ...]) -> tuple[fmt.Field, ...]:
    return tuple(replace(field, fault=_FAULTS.get(field.name, field.fault)) for field in fields)


LOCAL_FIELDS: Final = _for_aes(fmt.LOCAL_FIELDS)
CENTRAL_FIELDS: Final = _for_aes(fmt.CENTRAL_FIELDS)
END_FIELDS: Final = _for_aes(fmt.END_FIELDS)
END64_FIELDS: Final = _for_aes(fmt.END64_FIELDS)
LOCATOR_FIELDS: Final = fmt.LOCATOR_FIELDS
