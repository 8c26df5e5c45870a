from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from evidpack.container.names import safe_name
from evidpack.errors import ExportChangedError, IntakeError
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.source import FolderSource
from tests.intake.untidy import write


def test_files_and_empty_folders_are_listed_by_path(tmp_path: Path) -> None:
    write(tmp_path / "b/z.txt", "1")
    write(tmp_path / "a.txt", "22")
    (tmp_path / "void/inner").mkdir(parents=True)
    source = FolderSource(tmp_path)
    assert [(entry.path, entry.size) for entry in source.entries()] == [
        ("export/a.txt", 2),
        ("export/b/z.txt", 1),
    ]
    assert source.empty_folders() == ("export/void/inner",)


def test_every_link_is_refused_by_name(tmp_path: Path) -> None:
    write(tmp_path / "outside.txt", "secret")
    write(tmp_path / "export/a.txt", "1")
    (tmp_path / "export/link.txt").symlink_to(tmp_path / "outside.txt")
    (tmp_path / "export/folder").symlink_to(tmp_path)
    with pytest.raises(IntakeError) as caught:
        FolderSource(tmp_path / "export")
    assert "2 link(s)" in caught.value.message
    assert "folder (link); link.txt (link)" in caught.value.message
    assert caught.value.hint


def test_a_pipe_and_a_socket_are_refused_by_name(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "sock"))
        with pytest.raises(IntakeError, match=r"pipe \(not a plain file\); sock \(not a plain"):
            FolderSource(tmp_path)


def test_a_missing_folder_is_an_intake_error(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="can't be read"):
        FolderSource(tmp_path / "none")


def test_a_file_in_place_of_a_folder_is_refused(tmp_path: Path) -> None:
    write(tmp_path / "export", "no folder")
    with pytest.raises(IntakeError, match="not a folder"):
        FolderSource(tmp_path / "export")


def test_a_file_that_grew_since_the_listing_is_not_opened(tmp_path: Path) -> None:
    write(tmp_path / "log.csv", "1")
    source = FolderSource(tmp_path)
    write(tmp_path / "log.csv", "12")
    with pytest.raises(ExportChangedError) as caught:
        source.open("export/log.csv")
    assert caught.value.path == "export/log.csv"
    assert str(caught.value.expected).startswith("1 bytes")
    assert str(caught.value.observed).startswith("2 bytes")


def test_a_file_rewritten_with_the_same_size_is_noticed(tmp_path: Path) -> None:
    write(tmp_path / "log.csv", "1")
    source = FolderSource(tmp_path)
    write(tmp_path / "log.csv", "2")
    os.utime(tmp_path / "log.csv", ns=(1, 1))
    with pytest.raises(ExportChangedError, match="changed while"):
        source.require_unchanged()


def test_a_file_swapped_for_a_link_is_not_followed(tmp_path: Path) -> None:
    write(tmp_path / "export/log.csv", "1")
    source = FolderSource(tmp_path / "export")
    (tmp_path / "export/log.csv").rename(tmp_path / "moved.csv")
    (tmp_path / "export/log.csv").symlink_to(tmp_path / "moved.csv")
    with pytest.raises(IntakeError):
        source.open("export/log.csv")


@pytest.mark.parametrize(("change", "message"), [("add", "has come into"), ("remove", "is gone")])
def test_a_file_added_or_removed_is_noticed(tmp_path: Path, change: str, message: str) -> None:
    write(tmp_path / "a", "1")
    source = FolderSource(tmp_path)
    source.require_unchanged()
    if change == "add":
        write(tmp_path / "b", "1")
    else:
        (tmp_path / "a").unlink()
    with pytest.raises(ExportChangedError, match=message):
        source.require_unchanged()


def test_nothing_outside_the_listing_can_be_opened(tmp_path: Path) -> None:
    write(tmp_path / "secret", "1")
    (tmp_path / "export").mkdir()
    with pytest.raises(IntakeError, match="no such file"):
        FolderSource(tmp_path / "export").open("export/../secret")


def test_reading_writes_nothing_on_a_read_only_card(tmp_path: Path) -> None:
    write(tmp_path / "card/a.txt", "1")
    before = sorted((tmp_path / "card").iterdir())
    (tmp_path / "card").chmod(0o555)
    try:
        with FolderSource(tmp_path / "card").open("export/a.txt") as stream:
            assert stream.read() == b"1"
    finally:
        (tmp_path / "card").chmod(0o755)
    assert sorted((tmp_path / "card").iterdir()) == before


def test_a_name_that_is_not_utf8_needs_a_safe_one(tmp_path: Path) -> None:
    Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.txt")).write_bytes(b"1")
    with pytest.raises(IntakeError, match="not UTF-8"):
        FolderSource(tmp_path)
    (entry,) = FolderSource(tmp_path, safe_name=safe_name).entries()
    assert entry.original_name == "hex:" + b"caf\xe9.txt".hex()
    assert entry.path.startswith("export/caf")


def test_a_name_made_safe_does_not_take_that_of_a_file_that_has_it(tmp_path: Path) -> None:
    write(tmp_path / "a?.jpg", "odd")
    write(tmp_path / "a_.jpg", "plain")
    entries = {entry.path: entry for entry in FolderSource(tmp_path, safe_name=safe_name).entries()}
    assert entries["export/a_.jpg"].original_name is None
    (other,) = (entry for entry in entries.values() if entry.path != "export/a_.jpg")
    assert other.original_name == "a?.jpg"


def test_twins_that_differ_in_case_get_two_paths(tmp_path: Path) -> None:
    write(tmp_path / "IMG.jpg", "1")
    write(tmp_path / "img.jpg", "22")
    source = FolderSource(tmp_path, safe_name=safe_name)
    paths = [entry.path for entry in source.entries()]
    assert len({path.casefold() for path in paths}) == 2
    sizes = {entry.path: entry.size for entry in source.entries()}
    for path in paths:
        with source.open(path) as stream:
            assert len(stream.read()) == sizes[path]


def test_an_error_of_the_disk_names_the_file() -> None:
    with pytest.raises(IntakeError) as caught, disk_errors("export/a.jpg"):
        raise OSError(5, "Input/output error")
    assert caught.value.path == "export/a.jpg"
    assert "Input/output error" in caught.value.message
