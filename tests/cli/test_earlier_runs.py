"""What earlier runs said, and notes, as the user of `check` and the reader of a bundle meet them."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pypdf
import pytest

from tests.cli.running import Run
from tests.small_day import write_small_day

TOO_FAR = "beyond"


@pytest.fixture
def day(tmp_path: Path) -> Path:
    return write_small_day(tmp_path / "day")


@pytest.fixture
def corrected(run: Run, day: Path) -> Path:
    """A day checked with a wrong range in its log, and put right since; its number of adverse
    findings has grown by other things in no way."""
    log = day.parent / "export" / "readings.csv"
    right = log.read_text()
    log.write_text(right.replace(right.splitlines()[1].split(",")[4], "1182.4", 1))
    assert "1182.4" in run("check", day).words
    log.write_text(right)
    return day


def test_a_first_run_speaks_of_no_earlier_one(run: Run, day: Path) -> None:
    ran = run("check", day)
    assert "earlier run" not in ran.words
    said = json.loads(run("check", day, "--json").out)
    assert len(said["earlier_runs"]) == 1
    assert said["superseded"] == []


def test_an_earlier_run_that_said_the_same_is_told_without_a_list(run: Run, day: Path) -> None:
    run("check", day)
    ran = run("check", day)
    assert "1 earlier run of the checks in the run log, superseded by this one." in ran.words
    assert "No adverse finding of theirs has gone." in ran.words


def test_what_was_put_right_is_listed_as_superseded(run: Run, corrected: Path) -> None:
    ran = run("check", corrected)
    assert "Adverse then and not said any more, 1 in all" in ran.words
    assert "- run 1, check 10, capture 1 (fail): " in ran.words
    assert "1182.4" in ran.words


def test_json_gives_runs_and_superseded_findings_whole(run: Run, corrected: Path) -> None:
    said = json.loads(run("check", corrected, "--json").out)
    assert [one["run"] for one in said["earlier_runs"]] == [1]
    (gone,) = said["superseded"]
    assert (gone["check"], gone["subject"], gone["outcome"]) == ("10", "capture 1", "fail")
    assert gone["runs"] == [1]
    assert "1182.4" in gone["sentence"]
    marked = [one for one in said["findings"] if one["sentence"].startswith("Superseded")]
    assert [
        (one["check"], one["subject"], one["undermines"], one["adverse"]) for one in marked
    ] == [("18", "capture 1", True, False)]


def test_superseded_findings_survive_any_number_of_runs(run: Run, corrected: Path) -> None:
    for _ in range(3):
        run("check", corrected)
    assert len(json.loads(run("check", corrected, "--json").out)["superseded"]) == 1


def test_a_log_of_the_older_form_is_said_not_to_tell(run: Run, day: Path) -> None:
    run("check", day)
    log = day.parent / "runs.jsonl"
    line = json.loads(log.read_bytes())
    for name in ("new", "gone", "left_out"):
        del line[name]
    log.write_text(json.dumps(line, sort_keys=True, separators=(",", ":")) + "\n")
    ran = run("check", day)
    assert "The run log does not say what 1 of them found." in ran.words
    assert ran.code == 1


def test_a_line_with_too_many_findings_keeps_what_fits_and_counts_the_rest(
    run: Run, day: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("evidpack.sealing.run_log._ROOM_BYTES", 900)
    ran = run("check", day)
    line = json.loads((day.parent / "runs.jsonl").read_bytes())
    assert 0 < len(line["new"]) < line["adverse"]
    assert line["left_out"] == line["adverse"] - len(line["new"])
    assert ran.code == 1


def note(folder: Path, subject: str, text: str) -> None:
    (folder / "notes.toml").write_text(
        f'[[note]]\nsubject = "{subject}"\nby = "B. Nobody"\ntime = "2026-05-14T17:00:00"\n'
        f'text = "{text}"\n'
    )


def test_a_note_about_what_could_not_be_determined_is_shown_there(run: Run, day: Path) -> None:
    note(day.parent, "check 13", "The reviewer is on leave until Monday.")
    ran = run("check", day)
    listed = ran.words.index("Could not be determined")
    assert ran.words.index("Note by B. Nobody") > listed
    assert "stand beside none" not in ran.words


def test_a_note_about_nothing_found_is_shown_by_itself(run: Run, day: Path) -> None:
    note(day.parent, "check 10, capture 77", "There is no such capture.")
    ran = run("check", day)
    assert "Notes that stand beside none of these:" in ran.words
    assert "about check 10, capture 77. Note by B. Nobody, 2026-05-14 17:00: There is" in ran.words


def test_json_gives_notes_beside_their_findings_and_all_of_them(run: Run, day: Path) -> None:
    note(day.parent, "check 4", "The closing tests are on a second card.")
    said = json.loads(run("check", day, "--json").out)
    beside = [one for one in said["findings"] if one["notes"]]
    assert {one["check"] for one in beside} == {"4"}
    (given,) = said["notes"]
    assert (given["by"], given["text"]) == ("B. Nobody", "The closing tests are on a second card.")
    assert given["source"].startswith("office/notes.toml")
    assert beside[0]["notes"] == [given]


def test_note_and_superseded_finding_are_sealed_verified_and_in_the_index(
    run: Run, corrected: Path, tmp_path: Path
) -> None:
    keys, bundle = tmp_path / "keys", tmp_path / "bundle.zip"
    assert run("key", "demo-authority", "-o", keys).code == 0
    note(corrected.parent, "check 4", "The closing tests are on a second card.")
    sealed = run(
        "seal", corrected, "-o", bundle, "--key", keys / "signer.key", "--cert",
        keys / "signer.pem", "--passphrase-file", keys / "passphrase.txt", "--no-time-stamp",
    )  # fmt: skip
    assert sealed.code == 0, sealed.words
    verified = run("verify", bundle, "--anchor", keys / "authority.pem")
    assert "8 re-check: HOLDS" in verified.words
    with zipfile.ZipFile(bundle) as archive:
        names = archive.namelist()
        index = next(name for name in names if name.endswith("/index.pdf"))
        reader = pypdf.PdfReader(io.BytesIO(archive.read(index)))
        openings = next(name for name in names if name.endswith("seal/openings.jsonl"))
        values = [json.loads(line) for line in archive.read(openings).splitlines()]
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "Note by B. Nobody, 2026-05-14 17:00: The closing tests are on a second card." in text
    assert "Superseded: check 10 said in run 1 (fail)" in text
    assert "Adverse findings of earlier runs" in text
    assert "past_finding" in json.dumps(values)


@pytest.mark.parametrize("columns", [40, 80])
def test_check_and_explain_keep_to_the_width_of_the_terminal(
    run: Run, corrected: Path, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    note(corrected.parent, "check 4", "The closing tests are on a second card.")
    shown = run("check", corrected).out
    shown += "".join(run("check", corrected, "--explain", n).out for n in ("2", "4", "10", "11"))
    words = {word for word in shown.split() if len(word) > columns - 6}  # paths are not broken
    long = [line for line in shown.splitlines() if len(line) > columns]
    assert all(any(word in line for word in words) for line in long), long
    assert "\x1b" not in shown


def test_lines_of_an_explanation_hang_under_their_beginning(run: Run, day: Path) -> None:
    lines = run("check", day, "--explain", "2").out.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("  calibrated ≤"))
    assert lines[start + 1].startswith("    ")
