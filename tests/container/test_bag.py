from __future__ import annotations

import hashlib
import io
import subprocess
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack import limits
from evidpack.container.bag import (
    BAGIT_TXT,
    BagFault,
    bag_info,
    hash_members,
    manifest,
    parse_manifest,
    require_bag,
)
from evidpack.errors import ContainerError
from tests.container.archives import TOP, opened, written

PAYLOAD = {
    "data/export/a.txt": b"alpha",
    "data/export/ä ö.bin": b"\0\1",
    "data/office/day.toml": b"",
}
TAGS = {"seal/ledger.jsonl": b"{}\n", "index.pdf": b"%PDF"}
DIGEST = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def sha256(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def listing(files: dict[str, bytes]) -> bytes:
    """The slow reference: lines as sha256sum prints them, in the order of their UTF-8 bytes."""
    lines = [
        hashlib.sha256(files[name]).hexdigest().encode() + b"  " + name.encode() + b"\n"
        for name in sorted(files, key=lambda name: name.encode())
    ]
    return b"".join(lines)


def bag(**changes: bytes | None) -> dict[str, bytes]:
    """A whole bag's files; `changes` are made before the tag manifest is, except to itself."""
    files: dict[str, bytes] = {**PAYLOAD, **TAGS}
    files["bagit.txt"] = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    files["bag-info.txt"] = (
        f"External-Identifier: {TOP}\nBagging-Date: 2026-05-14\nPayload-Oxum: 7.3\n".encode()
    )
    files["manifest-sha256.txt"] = listing(PAYLOAD)
    late = {name: data for name, data in changes.items() if name == "tagmanifest-sha256.txt"}
    for name, data in changes.items():
        if data is None:
            files.pop(name, None)
        elif name not in late:
            files[name] = data
    tags = {name: data for name, data in files.items() if not name.startswith("data/")}
    files["tagmanifest-sha256.txt"] = listing(tags)
    for name, data in late.items():
        if data is None:
            del files[name]
        else:
            files[name] = data
    return files


def faults(files: dict[str, bytes]) -> tuple[BagFault, ...]:
    archive = opened(written(list(files.items())))
    return require_bag(archive, hash_members(archive))


def fault(files: dict[str, bytes]) -> BagFault:
    (only,) = faults(files)
    return only


# What is accepted


def test_a_whole_bag_has_no_faults():
    assert faults(bag()) == ()


def test_an_independent_validator_accepts_the_bag(tmp_path: Path):
    import bagit

    with zipfile.ZipFile(io.BytesIO(written(list(bag().items())))) as archive:
        archive.extractall(tmp_path)
    loaded = bagit.Bag(str(tmp_path / TOP))
    assert loaded.version_info == (1, 0)
    assert loaded.validate()
    assert loaded.info["Payload-Oxum"] == "7.3"


def test_sha256sum_accepts_the_manifests(tmp_path: Path):
    with zipfile.ZipFile(io.BytesIO(written(list(bag().items())))) as archive:
        archive.extractall(tmp_path)
    for name in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
        done = subprocess.run(
            ["sha256sum", "--check", "--strict", name],
            cwd=tmp_path / TOP,
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout


def test_bag_info_and_bagit_txt_are_one_byte_sequence():
    # RFC 8493, section 2.1.1 gives bagit.txt; section 2.2.2 the elements of bag-info.txt.
    assert bag()["bagit.txt"] == BAGIT_TXT
    made = bag_info(top=TOP, payload_bytes=7, payload_files=3, bagging_date="2026-05-14")
    assert made == bag()["bag-info.txt"]


@pytest.mark.parametrize(
    "date", ["", "14.05.2026", "2026-5-14", "2026-02-30", "20260514", "2026-05-14\n"]
)
def test_bag_info_refuses_what_is_no_date(date: str):
    with pytest.raises(ContainerError, match="bagging date is no date"):
        bag_info(top=TOP, payload_bytes=0, payload_files=0, bagging_date=date)


@given(st.dictionaries(st.sampled_from(["a", "b/é", "B", "b.x", "日", "￿", "𐀀"]), st.binary()))
def test_manifests_are_sorted_by_their_utf8_bytes(files: dict[str, bytes]):
    assert manifest({name: sha256(data) for name, data in files.items()}) == listing(files)


@given(
    st.dictionaries(st.sampled_from(["a", "b/é", "B", "b.x", "日", "c d"]), st.binary(max_size=4))
)
def test_what_is_listed_is_parsed_back(files: dict[str, bytes]):
    digests = {name: sha256(data) for name, data in files.items()}
    parsed = parse_manifest(manifest(digests), path="m")
    assert parsed == digests
    assert manifest(parsed) == manifest(digests)


# Manifests that are refused


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (f"{DIGEST.upper()}  a", "not one of a manifest"),
        (f"{DIGEST} a", "not one of a manifest"),
        (f"{DIGEST} *a", "not one of a manifest"),
        (f"{DIGEST}\ta", "not one of a manifest"),
        (f"{DIGEST[1:]}  a", "not one of a manifest"),
        (f"{DIGEST}0  a", "not one of a manifest"),
        (f"{DIGEST}  ", "not one of a manifest"),
        ("", "not one of a manifest"),
        (f"\ufeff{DIGEST}  a", "not one of a manifest"),
        (f"{DIGEST}   a", "starts with a space"),
        (f"{DIGEST}  a\r", "U+000D"),
        (f"{DIGEST}  a%0A", "U+0025"),
        (f"{DIGEST}  ../a", "parent folder"),
        (f"{DIGEST}  /a", "absolute"),
        (f"{DIGEST}  ./a", "parent folder"),
        (f"{DIGEST}  a\\b", "U+005C"),
        (f"{DIGEST}  a\x0bb", "U+000B"),
        (f"{DIGEST}  a\u2028b", "U+2028"),
        (f"{DIGEST}  a\x85b", "U+0085"),
        (f"{DIGEST}  e\u0301", "not in form NFC"),
        (f"{DIGEST.replace('0', '٠')}  a", "not one of a manifest"),
        (f"{DIGEST}  0", "not sorted"),
        (f"{DIGEST}  1", "not sorted"),
    ],
)
def test_refuses_a_line(line: str, message: str):
    data = f"{DIGEST}  1\n{line}\n{DIGEST}  z\n".encode()
    with pytest.raises(ContainerError) as caught:
        parse_manifest(data, path="manifest-sha256.txt")
    assert message in caught.value.message
    assert (caught.value.path, caught.value.line) == ("manifest-sha256.txt", 2)


def test_refuses_a_line_that_is_not_utf8():
    with pytest.raises(ContainerError, match="not one of a manifest") as caught:
        parse_manifest(DIGEST.encode() + b"  a\xff\n", path="m")
    assert caught.value.line == 1


def test_refuses_a_last_line_without_line_feed():
    with pytest.raises(ContainerError, match="no line feed") as caught:
        parse_manifest(f"{DIGEST}  a\n{DIGEST}  b".encode(), path="m")
    assert caught.value.line == 2


def test_lines_at_the_limit_and_one_past_it(monkeypatch):
    monkeypatch.setattr(limits, "MAX_MEMBERS", 2)
    lines = [f"{DIGEST}  {name}\n" for name in "abc"]
    assert len(parse_manifest("".join(lines[:2]).encode(), path="m")) == 2
    with pytest.raises(ContainerError, match="too many lines") as caught:
        parse_manifest("".join(lines).encode(), path="m")
    assert caught.value.line == 3


@given(st.binary(max_size=300))
def test_whatever_is_parsed_is_what_the_writer_makes(data: bytes):
    try:
        parsed = parse_manifest(data, path="m")
    except ContainerError:
        return
    assert manifest(parsed) == data


@given(st.integers(0, 1_000), st.integers(1, 255))
def test_any_changed_byte_of_a_manifest_is_found(at: int, change: int):
    data = bytearray(listing(PAYLOAD))
    data[at % len(data)] ^= change
    found = faults(bag(**{"manifest-sha256.txt": bytes(data)}))
    assert found
    assert all(
        fault.item in {*PAYLOAD, "manifest-sha256.txt"} or "missing" in fault.message
        for fault in found
    )


# Bags that are refused


@pytest.mark.parametrize("name", ["data/export/a.txt", "data/office/day.toml"])
def test_names_a_payload_file_that_is_missing(name: str):
    files = bag()
    del files[name]
    found = faults(files)
    assert found[0].item == name
    assert found[0].message == "is listed in manifest-sha256.txt but missing"


def test_names_a_payload_file_with_other_bytes():
    found = fault({**bag(), "data/export/a.txt": b"alphA"})
    assert (found.item, found.message) == (
        "data/export/a.txt",
        "has other bytes than manifest-sha256.txt lists",
    )
    assert found.expected == hashlib.sha256(b"alpha").hexdigest()
    assert found.observed == hashlib.sha256(b"alphA").hexdigest()


def test_names_a_payload_file_that_is_not_listed():
    found = faults({**bag(), "data/export/extra.txt": b"x"})
    assert [(fault.item, fault.message) for fault in found] == [
        ("data/export/extra.txt", "is not listed in manifest-sha256.txt"),
        ("bag-info.txt", "line 3 is not the one permitted"),
    ]
    assert found[1].expected == r"b'Payload-Oxum: 8.4\n'"
    assert found[1].observed == r"b'Payload-Oxum: 7.3\n'"


def test_names_a_tag_file_that_is_not_listed():
    # The usual validators accept this.
    found = fault({**bag(), "extra/notes.txt": b"x"})
    assert (found.item, found.message) == (
        "extra/notes.txt",
        "is not listed in tagmanifest-sha256.txt",
    )


def test_names_a_tag_file_with_other_bytes():
    found = fault({**bag(), "index.pdf": b"%PDG"})
    assert (found.item, found.message) == (
        "index.pdf",
        "has other bytes than tagmanifest-sha256.txt lists",
    )


@pytest.mark.parametrize("name", ["bagit.txt", "bag-info.txt", "manifest-sha256.txt"])
def test_names_a_tag_file_that_is_missing(name: str):
    found = fault(bag(**{name: None}))
    assert (found.item, found.message) == (name, "is missing from the archive")


def test_names_a_missing_tag_manifest():
    # The usual validators accept this too.
    found = fault(bag(**{"tagmanifest-sha256.txt": None}))
    assert (found.item, found.message) == ("tagmanifest-sha256.txt", "is missing from the archive")


@pytest.mark.parametrize(
    ("name", "data", "line"),
    [
        ("bagit.txt", BAGIT_TXT.replace(b"1.0", b"0.97"), 1),
        ("bagit.txt", b"\xef\xbb\xbf" + BAGIT_TXT, 1),
        ("bagit.txt", BAGIT_TXT.replace(b"UTF-8", b"UTF-16"), 2),
        ("bagit.txt", BAGIT_TXT.replace(b"\n", b"\r\n"), 1),
        ("bagit.txt", BAGIT_TXT[:-1], 2),
        ("bagit.txt", BAGIT_TXT + b"\n", 3),
        ("bagit.txt", b"", 1),
        ("bag-info.txt", bag()["bag-info.txt"].replace(b"Oxum: 7", b"Oxum: 8"), 3),
        ("bag-info.txt", bag()["bag-info.txt"].replace(TOP.encode(), b"other"), 1),
        ("bag-info.txt", bag()["bag-info.txt"] + b"Contact-Name: x\n", 4),
        ("bag-info.txt", b"Bagging-Date: 2026-05-14\n", 1),
    ],
)
def test_names_the_line_of_a_tag_file_that_is_not_as_permitted(name: str, data: bytes, line: int):
    found = fault(bag(**{name: data}))
    assert (found.item, found.message) == (name, f"line {line} is not the one permitted")


@pytest.mark.parametrize("date", [b"2026-13-01", b"14 May 2026", b"", b"2026-05-14 "])
def test_names_a_bagging_date_that_is_none(date: bytes):
    found = fault(bag(**{"bag-info.txt": bag()["bag-info.txt"].replace(b"2026-05-14", date)}))
    assert (found.item, found.message) == ("bag-info.txt", "has no line with the bagging date")


@pytest.mark.parametrize(
    "name", ["fetch.txt", "manifest-sha512.txt", "tagmanifest-md5.txt", "Manifest-SHA1.txt"]
)
def test_names_a_second_list_of_contents(name: str):
    found = fault(bag(**{name: b""}))
    assert (found.item, found.message) == (name, "is a second list of contents")


def test_a_list_deeper_down_is_a_file_as_any_other():
    assert faults(bag(**{"seal/fetch.txt": b""})) == ()


@pytest.mark.parametrize("name", ["manifest-sha256.txt", "tagmanifest-sha256.txt"])
def test_names_the_line_of_a_manifest_that_cannot_be_read(name: str):
    found = faults(bag(**{name: b"x\n"}))
    assert [(fault.item, fault.message) for fault in found] == [
        (name, "line 1: the line is not one of a manifest")
    ]


def test_collects_every_fault_in_the_stated_order():
    files = bag(**{"fetch.txt": b"", "bagit.txt": b"x"})
    files["data/export/a.txt"] = b"alphA"
    del files["data/office/day.toml"]
    files["index.pdf"] = b""
    assert [fault.item for fault in faults(files)] == [
        "bagit.txt",
        "fetch.txt",
        "data/export/a.txt",
        "data/office/day.toml",
        "bag-info.txt",
        "index.pdf",
    ]


def test_a_bag_without_payload_lists_nothing():
    files = bag(**{"manifest-sha256.txt": b""})
    for name in PAYLOAD:
        del files[name]
    found = fault(files)
    assert (found.item, found.expected) == ("bag-info.txt", r"b'Payload-Oxum: 0.0\n'")


def test_a_manifest_at_the_limit_and_one_past_it(monkeypatch):
    files = bag()
    size = max(len(files["manifest-sha256.txt"]), len(files["tagmanifest-sha256.txt"]))
    monkeypatch.setattr(limits, "MAX_TAG_FILE_BYTES", size)
    assert faults(files) == ()
    monkeypatch.setattr(limits, "MAX_TAG_FILE_BYTES", size - 1)
    (found,) = faults(files)
    assert found.message == "is too large"
    assert found.observed == f"{size} bytes"
