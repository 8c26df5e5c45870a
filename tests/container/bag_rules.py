"""Bags broken one rule of RFC 8493 at a time.

Each case changes a good bag, given as its files by name, and names the section whose rule it
breaks.  Sections are those of the RFC as published (October 2018).  `others_accept` says what the
`bagit` library does: some rules it does not check, and then our own refusal stands alone.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

Files = dict[str, bytes]
Change = Callable[[Files], None]

MANIFEST: Final = "manifest-sha256.txt"
TAG_MANIFEST: Final = "tagmanifest-sha256.txt"
PAYLOAD: Final = "data/export/notes.txt"
_UTF8_BOM: Final = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokenRule:
    """A rule, where it stands, how it is broken, and whether the tag manifest is made right after.

    `step` is the step of verification that refuses it.
    """

    section: str
    rule: str
    change: Change
    others_accept: bool = False
    repair: bool = True
    step: int = 2

    def applied(self, files: Files) -> Files:
        """The files of a bag that breaks the rule, and no other one where that can be helped."""
        changed = dict(files)
        self.change(changed)
        if self.repair:
            changed[TAG_MANIFEST] = listing(
                {name: data for name, data in changed.items() if is_listed_tag(name)}
            )
        return changed


def is_listed_tag(name: str) -> bool:
    """Whether a tag manifest lists the file."""
    return not name.startswith(("data/", "tagmanifest-"))


def listing(files: Files, algorithm: str = "sha256") -> bytes:
    """A manifest of these files."""
    return b"".join(
        hashlib.new(algorithm, data).hexdigest().encode() + b"  " + name.encode() + b"\n"
        for name, data in sorted(files.items())
    )


def payload_of(files: Files) -> Files:
    """The files under data/."""
    return {name: data for name, data in files.items() if name.startswith("data/")}


def put(name: str, data: bytes) -> Change:
    """A file of other bytes, or a further one."""
    return lambda files: files.__setitem__(name, data)


def drop(name: str) -> Change:
    """A file less."""
    return lambda files: files.__delitem__(name) if name in files else None


def edit(name: str, old: bytes, new: bytes) -> Change:
    """Bytes replaced once, which must be there."""

    def change(files: Files) -> None:
        assert old in files[name], f"{name} does not hold {old!r}"
        files[name] = files[name].replace(old, new, 1)

    return change


def line_of(files: Files, name: str) -> bytes:
    """The line of a manifest that lists the file, without its line feed."""
    return next(line for line in files[MANIFEST].split(b"\n") if line.endswith(name.encode()))


def relist(rewrite: Callable[[bytes], bytes]) -> Change:
    """The payload manifest's line of one file written otherwise."""

    def change(files: Files) -> None:
        line = line_of(files, PAYLOAD)
        files[MANIFEST] = files[MANIFEST].replace(line, rewrite(line))

    return change


def also_listed(*lines: bytes, name: str = MANIFEST) -> Change:
    """Further lines at the end of a manifest."""

    def change(files: Files) -> None:
        files[name] += b"".join(line + b"\n" for line in lines)

    return change


def _no_payload(files: Files) -> None:
    for name in payload_of(files):
        del files[name]
    files[MANIFEST] = b""
    files["bag-info.txt"] = files["bag-info.txt"].split(b"Payload-Oxum")[0] + b"Payload-Oxum: 0.0\n"


def _second_manifest_lacks_one(files: Files) -> None:
    some = payload_of(files)
    del some[PAYLOAD]
    files["manifest-sha512.txt"] = listing(some, "sha512")


def _rename(old: str, new: str) -> Change:
    return lambda files: files.__setitem__(new, files.pop(old))


def _tag_manifest_of(change: Change) -> Change:
    def whole(files: Files) -> None:
        files[TAG_MANIFEST] = listing(
            {name: data for name, data in files.items() if is_listed_tag(name)}
        )
        change(files)

    return whole


_ZEROS: Final = b"0" * 64
_BAGIT: Final = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def case(
    section: str,
    rule: str,
    change: Change,
    *,
    others_accept: bool = False,
    repair: bool = True,
    step: int = 2,
) -> BrokenRule:
    """One row of the table."""
    return BrokenRule(
        section=section, rule=rule, change=change, others_accept=others_accept, repair=repair,
        step=step,
    )  # fmt: skip


BROKEN: Final = (
    # 2.1.1 Bag declaration
    case("2.1.1", "bagit.txt is there", drop("bagit.txt")),
    case("2.1.1", "two lines: not one", put("bagit.txt", _BAGIT.split(b"\n")[0] + b"\n")),
    case("2.1.1", "two lines: not three", put("bagit.txt", _BAGIT + b"More: text\n"), others_accept=True),
    case("2.1.1", "in this order", put("bagit.txt", b"\n".join(_BAGIT.split(b"\n")[1::-1]) + b"\n"), others_accept=True),
    case("2.1.1", "no byte-order mark", put("bagit.txt", _UTF8_BOM + _BAGIT)),
    case("2.1.1", "encoded in UTF-8", put("bagit.txt", _BAGIT.decode().encode("utf-16"))),
    case("2.1.1", "a version M.N", edit("bagit.txt", b"1.0", b"one")),
    case("2.1.1", "the version of these rules", edit("bagit.txt", b"1.0", b"2.0")),
    case("2.1.1", "these labels", edit("bagit.txt", b"BagIt-Version", b"Bag-Version")),
    case("2.1.1", "an encoding that is one", edit("bagit.txt", b"UTF-8", b"NONE-8")),
    # 2.1.2 Payload directory: an archive without folder members has it by having files in it
    case("2.1.2", "the payload folder is there", _no_payload, step=4),
    # 2.1.3 Payload manifest
    case("2.1.3", "a payload manifest is there", drop(MANIFEST)),
    case("2.1.3", "every payload file is listed", relist(lambda line: b"")),
    case("2.1.3", "exactly once", lambda files: also_listed(line_of(files, PAYLOAD))(files)),
    case("2.1.3", "exactly once: not with two digests", also_listed(_ZEROS + b"  " + PAYLOAD.encode())),
    case("2.1.3", "no file outside the payload", also_listed(_ZEROS + b"  index.pdf")),
    case("2.1.3", "no folder", also_listed(_ZEROS + b"  data/export")),
    case("2.1.3", "a checksum in hexadecimal", relist(lambda line: b"g" + line[1:])),
    case("2.1.3", "a checksum of the algorithm's length", relist(lambda line: line[2:])),
    case("2.1.3", "white space after the checksum", relist(lambda line: line.replace(b"  ", b""))),
    case("2.1.3", "a slash between folders", relist(lambda line: line.replace(b"/", b"\\"))),
    case("2.1.3", "a line end in a name is percent-encoded", relist(lambda line: line + b"\rx"), others_accept=True),
    case("2.1.3", "a name relative to the base folder", relist(lambda line: line.replace(b"data/", b""))),
    case("2.1.3", "a name of the form manifest-….txt", _rename(MANIFEST, "manifest-sha256.md")),
    # 2.2.1 Tag manifest
    case("2.2.1", "the payload manifests are listed",
         _tag_manifest_of(lambda files: files.__setitem__(TAG_MANIFEST, b"\n".join(
             line for line in files[TAG_MANIFEST].split(b"\n") if not line.endswith(MANIFEST.encode())
         ))), repair=False, others_accept=True),
    case("2.2.1", "no payload file is listed",
         _tag_manifest_of(lambda files: also_listed(line_of(files, PAYLOAD), name=TAG_MANIFEST)(files)),
         repair=False),
    case("2.2.1", "no tag manifest is listed",
         _tag_manifest_of(also_listed(_ZEROS + b"  " + TAG_MANIFEST.encode(), name=TAG_MANIFEST)),
         repair=False),
    case("2.2.1", "a checksum that is the file's",
         _tag_manifest_of(put("index.pdf", b"%PDF other")), repair=False),
    # 2.2.2 Bag metadata
    case("2.2.2", "a label, a colon, a space, a value", also_listed(b"no colon", name="bag-info.txt")),
    case("2.2.2", "no white space before a label", put("bag-info.txt", b" External-Identifier: x\n"), others_accept=True),
    case("2.2.2", "Payload-Oxum once", also_listed(b"Payload-Oxum: 1.1", name="bag-info.txt"), others_accept=True),
    case("2.2.2", "Payload-Oxum as octets.streams", edit("bag-info.txt", b"Payload-Oxum: ", b"Payload-Oxum: about ")),
    case("2.2.2", "Payload-Oxum that is the payload's", edit("bag-info.txt", b"Payload-Oxum: ", b"Payload-Oxum: 9")),
    # 2.2.3 Fetch file
    case("2.2.3", "what is to be fetched is listed", put("fetch.txt", b"https://example.org/x 1 data/export/x\n"), others_accept=True),
    case("2.2.3", "no tag file is to be fetched", put("fetch.txt", b"https://example.org/x 1 index.pdf\n"), others_accept=True),
    case("2.2.3", "an address, a length, a name", put("fetch.txt", b"data/export/notes.txt\n")),
    # 2.3 Text tag file format
    case("2.3", "every line ends", lambda files: files.__setitem__(MANIFEST, files[MANIFEST][:-1]), others_accept=True),
    case("2.3", "no byte-order mark", lambda files: files.__setitem__(MANIFEST, _UTF8_BOM + files[MANIFEST]), others_accept=True),
    case("2.3", "in the encoding that is declared", relist(lambda line: line.replace(b"notes", b"n\xf6tes"))),
    # 2.4 Checksum algorithms
    case("2.4", "the algorithm's name in small letters", _rename(MANIFEST, "manifest-SHA256.txt")),
    case("2.4", "the algorithm's name without punctuation", _rename(MANIFEST, "manifest-sha-256.txt")),
    case("2.4", "an algorithm that there is", put("manifest-sha999.txt", b""), others_accept=True),
    # 3 Complete and valid
    case("3", "every listed payload file is there", drop(PAYLOAD)),
    case("3", "every listed tag file is there", _tag_manifest_of(drop("index.pdf")), repair=False),
    case("3", "every payload file in every payload manifest", _second_manifest_lacks_one, others_accept=True),
    case("3", "every payload checksum is the file's", put(PAYLOAD, b"other bytes\n")),
    # 5.1 Special directory characters
    case("5.1", "nothing outside: absolute", also_listed(_ZEROS + b"  /etc/hostname")),
    case("5.1", "nothing outside: parent", also_listed(_ZEROS + b"  data/../../outside.txt")),
    case("5.1", "nothing outside: home", also_listed(_ZEROS + b"  ~root/outside.txt")),
    case("5.1", "nothing outside: drive", also_listed(_ZEROS + b"  C:\\outside.txt")),
    case("5.1", "nothing outside: namespace", also_listed(_ZEROS + b"  \\\\?\\C:\\outside.txt")),
)  # fmt: skip


# Good bags of another form, which the RFC allows (MAY) and format 1 does not: one byte sequence.
OTHER_FORMS: Final = (
    case("2.1.3", "checksums in capital letters",
         lambda files: files.__setitem__(MANIFEST, b"".join(
             line[:64].upper() + line[64:] for line in files[MANIFEST].splitlines(keepends=True)
         )), others_accept=True),
    case("2.1.3", "a tab after the checksum", relist(lambda line: line.replace(b"  ", b"\t")), others_accept=True),
    case("2.1.3", "lines in another order",
         lambda files: files.__setitem__(MANIFEST, b"".join(files[MANIFEST].splitlines(keepends=True)[::-1])),
         others_accept=True),
    case("2.1.3", "a second payload manifest",
         lambda files: files.__setitem__("manifest-sha512.txt", listing(payload_of(files), "sha512")),
         others_accept=True),
    case("2.2.1", "no tag manifest", drop(TAG_MANIFEST), others_accept=True, repair=False),
    case("2.2.2", "no bag-info.txt", drop("bag-info.txt"), others_accept=True),
    case("2.2.2", "further metadata", also_listed(b"Contact-Name: A. Nobody", name="bag-info.txt"), others_accept=True),
    case("2.2.4", "a tag file that no tag manifest lists",
         _tag_manifest_of(put("more.txt", b"more\n")), others_accept=True, repair=False),
    case("2.3", "lines that end in CR LF",
         lambda files: files.__setitem__(MANIFEST, files[MANIFEST].replace(b"\n", b"\r\n")), others_accept=True),
    case("2.1.1", "an older version", edit("bagit.txt", b"1.0", b"0.97"), others_accept=True),
)  # fmt: skip
