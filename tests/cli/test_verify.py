"""evidpack verify as its users meet it: exit codes, words, files."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pypdf
import pytest

from evidpack.container import layout
from tests.bundles import put_together, rebuilt, taken_apart
from tests.cli.running import Run
from tests.sealed_days import SealedDay, seal_day


def with_anchors(anchors: tuple[Path, Path]) -> list[object]:
    return ["--anchor", anchors[0], "--tsa-anchor", anchors[1]]


def test_a_good_bundle_ends_with_0_and_shows_steps_answers_and_what_is_not_proved(
    run: Run, sealed_day: SealedDay, anchors: tuple[Path, Path]
) -> None:
    ran = run("verify", sealed_day.path, *with_anchors(anchors))
    assert ran.code == 0, ran.out
    assert ran.out.startswith("VERIFIED: ")
    for number, title in enumerate(
        ("container", "bag", "ledger", "contents", "signature", "signer", "time", "re-check"), 1
    ):
        assert f"{number} {title}:" in ran.out
    assert "signature valid: yes signer known: yes time established: yes" in ran.words
    assert "Not proved by this or any seal" in ran.words
    assert "are not legal advice" in ran.words
    assert "revocation was not checked" in ran.words


def test_without_anchors_it_ends_with_3_and_says_what_to_ask_for_and_from_whom(
    run: Run, sealed_day: SealedDay
) -> None:
    from evidpack.trust.fingerprints import grouped
    from evidpack.trust.sheet import key_fingerprint

    ran = run("verify", sealed_day.path)
    assert ran.code == 3
    key = sealed_day.authority.signer.certificate.public_key()
    assert grouped(key_fingerprint(key)) in ran.words
    assert "Ask the sealer's unit for its fingerprint sheet" in ran.words
    assert "signer known: not established" in ran.words


def test_a_changed_bundle_ends_with_1_and_names_the_file(
    run: Run, sealed_day: SealedDay, anchors: tuple[Path, Path], tmp_path: Path
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    name = "data/export/readings.csv"
    members[name] = members[name].replace(b"41", b"91")
    (tmp_path / "b.zip").write_bytes(rebuilt(top, members))
    ran = run("verify", tmp_path / "b.zip", *with_anchors(anchors))
    assert ran.code == 1
    assert "DOES NOT VERIFY" in ran.out
    assert f"{name}: the file is not the one of entry" in ran.words
    assert "What to do: Keep this file as it is" in ran.words


@pytest.mark.parametrize("content", [b"", b"not a ZIP at all", b"PK\x05\x06" + bytes(18)])
def test_a_file_that_is_no_bundle_does_not_verify(run: Run, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "b.zip").write_bytes(content)
    ran = run("verify", tmp_path / "b.zip")
    assert ran.code == 1
    assert "1 container: FAILS" in ran.words
    assert "not examined: step 1 does not hold" in ran.words
    assert "Traceback" not in ran.err


def test_a_path_that_is_not_there_ends_with_2(run: Run, tmp_path: Path) -> None:
    ran = run("verify", tmp_path / "nothing.zip")
    assert ran.code == 2
    assert "nothing.zip" in ran.err


def test_an_anchor_that_is_no_certificate_ends_with_2_and_is_named(
    run: Run, sealed_day: SealedDay, tmp_path: Path
) -> None:
    (tmp_path / "anchor.pem").write_text("hello")
    ran = run("verify", sealed_day.path, "--anchor", tmp_path / "anchor.pem")
    assert ran.code == 2
    assert "anchor.pem" in ran.err


def test_json_gives_the_same_facts(
    run: Run, sealed_day: SealedDay, anchors: tuple[Path, Path]
) -> None:
    ran = run("verify", sealed_day.path, *with_anchors(anchors), "--json")
    said = json.loads(ran.out)
    assert said["verdict"] == "verified"
    assert said["exit_code"] == ran.code == 0
    assert [step["step"] for step in said["steps"]] == list(range(1, 10))
    assert said["statement_sha256"] == sealed_day.sealed.statement_sha256
    assert said["answers"]["sealer"]["signer_known"]["outcome"] == "holds"
    assert said["revocation_checked"] is False


def test_the_report_is_one_page_that_names_file_digest_anchors_and_answers(
    run: Run, sealed_day: SealedDay, anchors: tuple[Path, Path], tmp_path: Path
) -> None:
    import hashlib

    report = tmp_path / "report.pdf"
    ran = run("verify", sealed_day.path, *with_anchors(anchors), "--report", report)
    assert ran.code == 0
    reader = pypdf.PdfReader(io.BytesIO(report.read_bytes()))
    assert len(reader.pages) == 1
    text = "".join("".join(page.extract_text().split()) for page in reader.pages)
    assert hashlib.sha256(sealed_day.bundle).hexdigest() in text
    assert "Signerknown" in text
    assert "vouchesfornobody" in text


def test_a_report_is_never_written_over_another_file(
    run: Run, sealed_day: SealedDay, tmp_path: Path
) -> None:
    report = tmp_path / "report.pdf"
    report.write_text("mine")
    ran = run("verify", sealed_day.path, "--report", report)
    assert ran.code == 2
    assert report.read_text() == "mine"


def test_a_time_stamp_kept_apart_can_be_given(
    run: Run, sealed_day: SealedDay, anchors: tuple[Path, Path], tmp_path: Path
) -> None:
    from tests.sealed_days import stamped

    output = tmp_path / "b.zip"
    seal_day(sealed_day.folder / "day.toml", output, sealed_day.authority, time_stamp=None)
    _, members = taken_apart(output.read_bytes())
    token = tmp_path / "apart.tsr"
    token.write_bytes(stamped(members[layout.SIGNATURE], sealed_day.authority))
    assert run("verify", output, *with_anchors(anchors)).code == 3
    assert run("verify", output, *with_anchors(anchors), "--accept-claimed-time").code == 0
    ran = run("verify", output, *with_anchors(anchors), "--time-stamp", token)
    assert ran.code == 0
    token.write_bytes(stamped(b"another signature", sealed_day.authority))
    assert run("verify", output, *with_anchors(anchors), "--time-stamp", token).code == 1


def test_without_the_re_check_the_verdict_stands_and_step_8_says_so(
    run: Run, sealed_day: SealedDay, anchors: tuple[Path, Path]
) -> None:
    ran = run("verify", sealed_day.path, *with_anchors(anchors), "--no-recheck")
    assert ran.code == 0
    assert "8 re-check: NOT ESTABLISHED: the originals were not read again" in ran.words


def test_control_characters_in_names_never_reach_the_terminal(
    run: Run, sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = tmp_path / "red\x1b[31m.zip"
    bundle.write_bytes(sealed_day.bundle)
    ran = run("verify", bundle)
    assert "\x1b" not in ran.out + ran.err
    assert "\\u001b" in ran.out


def test_show_says_first_that_nothing_is_verified(
    run: Run, sealed_day: SealedDay, tmp_path: Path
) -> None:
    top, members = taken_apart(sealed_day.bundle)
    members["data/export/notes.txt"] += b"!"
    (tmp_path / "b.zip").write_bytes(put_together(top, members))
    ran = run("show", tmp_path / "b.zip")
    assert ran.code == 0
    assert ran.out.startswith("NOT VERIFIED")
    assert sealed_day.sealed.statement.day in ran.out
    entry = run("show", sealed_day.path, "--entry", 0)
    assert "export/notes.txt" in entry.out
    assert run("show", sealed_day.path, "--entry", 9999).code == 2
