"""evidpack check, seal, describe, key and rules as their users meet them."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from tests.cli.running import Run
from tests.small_day import write_small_day


@pytest.fixture
def day(tmp_path: Path) -> Path:
    return write_small_day(tmp_path / "day")


@pytest.fixture
def keys(run: Run, tmp_path: Path) -> Path:
    folder = tmp_path / "keys"
    assert run("key", "demo-authority", "-o", folder).code == 0
    return folder


def signing(keys: Path) -> list[object]:
    return [
        "--key", keys / "signer.key", "--cert", keys / "signer.pem",
        "--passphrase-file", keys / "passphrase.txt",
    ]  # fmt: skip


# check


def test_check_names_what_is_adverse_and_ends_accordingly(run: Run, day: Path) -> None:
    ran = run("check", day)
    # The small day lacks clock checks, closing tests and a full certificate.
    assert ran.code == 1
    assert "FAIL check 4" in ran.words
    assert "What to do:" in ran.words
    assert ran.words.index("FAIL") < ran.words.index("not determinable")


def test_each_check_adds_a_chained_line_to_the_run_log(run: Run, day: Path) -> None:
    run("check", day)
    run("check", day)
    lines = (day.parent / "runs.jsonl").read_bytes().splitlines()
    import hashlib

    first, second = (json.loads(line) for line in lines)
    assert (first["run"], second["run"]) == (1, 2)
    assert first["previous"] == "00" * 32
    assert second["previous"] == hashlib.sha256(lines[0]).hexdigest()


def test_check_json_gives_every_finding(run: Run, day: Path) -> None:
    ran = run("check", day, "--json")
    said = json.loads(ran.out)
    assert said["exit_code"] == ran.code
    assert sum(said["counts"].values()) == len(said["findings"]) > 5
    assert {"check", "subject", "outcome", "sentence", "measured", "limit", "source"} <= set(
        said["findings"][0]
    )


def test_a_day_with_guesses_left_is_refused_with_their_lines(run: Run, day: Path) -> None:
    text = day.read_text().replace(
        'zone = "Europe/London"\nexport', 'zone = "confirm: UTC"\nexport'
    )
    day.write_text(text)
    ran = run("check", day)
    assert ran.code == 2
    line = text.splitlines().index('zone = "confirm: UTC"') + 1
    assert f"day.toml:{line}" in ran.words or f"line {line}" in ran.words


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ('record = "reading"', 'record = "raeding"', "raeding"),
        ('format = "%d/%m/%Y %H:%M:%S"', 'format = ""', "format"),
        ('unit = "mph"', 'unit = "knots"', "knots"),
        ("[captures]", "[captured]", "captured"),
        ('zone = "Europe/London"\nexport', 'zone = "Europe/Nowhere"\nexport', "Nowhere"),
    ],
)
def test_a_wrong_day_toml_is_refused_with_line_and_example(
    run: Run, day: Path, old: str, new: str, named: str
) -> None:
    text = day.read_text()
    assert old in text
    day.write_text(text.replace(old, new, 1))
    ran = run("check", day)
    assert ran.code == 2
    assert "day.toml:" in ran.words
    assert named in ran.words
    assert "what to do:" in ran.words
    assert "Traceback" not in ran.words


def test_a_day_toml_that_is_no_toml_is_refused_with_its_line(run: Run, day: Path) -> None:
    day.write_text(day.read_text() + "\nthis is not TOML\n")
    ran = run("check", day)
    assert ran.code == 2
    assert "day.toml:" in ran.words


# seal


def test_seal_asks_for_a_choice_about_the_time_stamp(run: Run, day: Path, keys: Path) -> None:
    ran = run("seal", day, *signing(keys), "-o", day.parent / "b.zip")
    assert ran.code == 2
    assert "--tsa URL" in ran.err
    assert "--no-time-stamp" in ran.err
    assert not (day.parent / "b.zip").exists()


def test_seal_then_verify(run: Run, day: Path, keys: Path) -> None:
    bundle = day.parent / "b.zip"
    ran = run("seal", day, *signing(keys), "--no-time-stamp", "-o", bundle, "--json")
    assert ran.code == 0, ran.err
    said = json.loads(ran.out)
    verified = run(
        "verify", bundle, "--anchor", keys / "authority.pem", "--accept-claimed-time", "--json"
    )
    assert verified.code == 0
    assert json.loads(verified.out)["statement_sha256"] == said["statement_sha256"]


def test_an_authority_that_cannot_be_reached_stops_the_seal_and_offers_a_way(
    run: Run, day: Path, keys: Path
) -> None:
    bundle = day.parent / "b.zip"
    # Port 9 of this machine: nothing answers there.
    ran = run("seal", day, *signing(keys), "--tsa", "http://127.0.0.1:9/", "-o", bundle)
    assert ran.code == 2
    assert "--no-time-stamp" in ran.err
    assert not bundle.exists()
    assert not list(day.parent.glob(".*part*"))


def test_a_wrong_passphrase_is_refused_and_never_shown(
    run: Run, day: Path, keys: Path, tmp_path: Path
) -> None:
    (tmp_path / "wrong").write_text("open sesame, please\n")
    ran = run(
        "seal", day, "--key", keys / "signer.key", "--cert", keys / "signer.pem",
        "--passphrase-file", tmp_path / "wrong", "--no-time-stamp", "-o", day.parent / "b.zip",
    )  # fmt: skip
    assert ran.code == 2
    assert "passphrase" in ran.err
    assert "sesame" not in ran.words


def test_a_key_of_another_certificate_is_refused(
    run: Run, day: Path, keys: Path, tmp_path: Path
) -> None:
    run("key", "demo-authority", "-o", tmp_path / "other")
    ran = run(
        "seal", day, "--key", keys / "signer.key", "--cert", tmp_path / "other" / "signer.pem",
        "--passphrase-file", keys / "passphrase.txt", "--no-time-stamp", "-o", tmp_path / "b.zip",
    )  # fmt: skip
    assert ran.code == 2
    assert "does not belong to the certificate" in ran.words


def test_a_folder_is_sealed_undescribed_and_described_later(
    run: Run, day: Path, keys: Path
) -> None:
    early, later = day.parent / "early.zip", day.parent / "later.zip"
    ran = run(
        "seal", day.parent / "export", "--undescribed", "--reference", "EARLY-1", *signing(keys),
        "--no-time-stamp", "-o", early, "--json",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    digest = json.loads(ran.out)["statement_sha256"]
    ran = run("seal", day, "--describes", early, *signing(keys), "--no-time-stamp", "-o", later)
    assert ran.code == 0, ran.err
    shown = json.loads(run("show", later, "--json").out)
    assert shown["statement"]["previous"]["statement"] == digest
    assert shown["statement"]["previous"]["relation"] == "description"


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--corrects", "BUNDLE"], "say why, with --reason"),
        (["--reason", "because"], "--reason goes with"),
        (["--corrects", "BUNDLE", "--supplements", "BUNDLE", "--reason", "x"], "only one of"),
    ],
)
def test_relations_to_an_earlier_seal_need_one_bundle_and_a_reason(
    run: Run, day: Path, keys: Path, options: list[str], message: str
) -> None:
    bundle = day.parent / "b.zip"
    run("seal", day, *signing(keys), "--no-time-stamp", "-o", bundle)
    given = [str(bundle) if option == "BUNDLE" else option for option in options]
    ran = run("seal", day, *signing(keys), "--no-time-stamp", *given, "-o", day.parent / "c.zip")
    assert ran.code == 2
    assert message in ran.words


def test_a_folder_without_undescribed_is_refused_with_the_way_on(
    run: Run, day: Path, keys: Path
) -> None:
    ran = run(
        "seal", day.parent / "export", *signing(keys), "--no-time-stamp", "-o", day.parent / "b.zip"
    )
    assert ran.code == 2
    assert "evidpack describe" in ran.words


# describe, key, rules


def test_describe_marks_its_guesses_and_check_refuses_them(
    run: Run, day: Path, tmp_path: Path
) -> None:
    draft = day.parent / "draft.toml"
    ran = run("describe", day.parent / "export", "--unit", day.parent / "unit", "-o", draft)
    assert ran.code == 0
    assert "confirm: " in draft.read_text()
    refused = run("check", draft)
    assert refused.code == 2
    assert "confirm" in refused.words
    assert run("describe", day.parent / "export", "-o", draft).code == 2


@pytest.mark.skipif(os.name == "nt", reason="modes mean something else on Windows")
def test_a_new_key_is_encrypted_and_readable_by_its_owner_alone(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVIDPACK_PASSPHRASE", "four unrelated words here")
    ran = run("key", "new", "--name", "Puddlewick Test Unit", "-o", tmp_path / "k")
    assert ran.code == 0, ran.err
    key = tmp_path / "k" / "signer.key"
    assert b"ENCRYPTED PRIVATE KEY" in key.read_bytes()
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert b"CERTIFICATE REQUEST" in (tmp_path / "k" / "signer.csr").read_bytes()
    sheet = (tmp_path / "k" / "fingerprint.txt").read_text()
    assert "Puddlewick Test Unit" in sheet
    assert "four unrelated words" not in ran.words + sheet
    again = run("key", "new", "--name", "x", "-o", tmp_path / "k")
    assert again.code == 2


def test_a_short_passphrase_leaves_nothing(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVIDPACK_PASSPHRASE", "abc")
    assert run("key", "new", "--name", "x", "-o", tmp_path / "k").code == 2
    assert not (tmp_path / "k").exists()


def test_rules_can_be_listed_shown_edited_and_validated(run: Run, tmp_path: Path) -> None:
    assert "general" in run("rules", "list").out
    text = run("rules", "show", "general").out
    (tmp_path / "ours.toml").write_text(text)
    assert run("rules", "validate", tmp_path / "ours.toml").code == 0
    (tmp_path / "ours.toml").write_text(text + "\n[values.no_such_rule]\nvalue = 1\n")
    refused = run("rules", "validate", tmp_path / "ours.toml")
    assert refused.code == 2
    assert "ours.toml:" in refused.words
    assert run("rules", "show", "nothing").code == 2


def test_a_real_time_stamp_authority_is_asked_and_its_token_verifies(
    run: Run, day: Path, keys: Path, tmp_path: Path
) -> None:
    """An authority made with `openssl ts`, behind a small HTTP server of this machine."""
    from tests.tools import require_program
    from tests.trust.openssl_authority import running_authority

    require_program("openssl")
    folder = tmp_path / "tsa"
    folder.mkdir()
    bundle = day.parent / "b.zip"
    with running_authority(folder) as authority:
        sealed = run("seal", day, *signing(keys), "--tsa", authority.url, "-o", bundle)
    assert sealed.code == 0, sealed.err
    assert "Time stamp:" in sealed.out
    anchors = ["--anchor", keys / "authority.pem", "--tsa-anchor", authority.anchor_path]
    assert run("verify", bundle, *anchors).code == 0
    stranger = ["--anchor", keys / "authority.pem", "--tsa-anchor", keys / "tsa-authority.pem"]
    refused = run("verify", bundle, *stranger)
    assert refused.code == 1
    assert "7 time: FAILS" in refused.words


def test_a_note_is_shown_beside_its_finding_and_removes_nothing(run: Run, day: Path) -> None:
    before = run("check", day)
    (day.parent / "notes.toml").write_text(
        '[[note]]\nsubject = "check 4"\nby = "B. Nobody"\ntime = "2026-05-14T17:00:00"\n'
        'text = "The closing tests are on a second card."\n'
    )
    after = run("check", day)
    assert after.code == before.code == 1
    assert "FAIL check 4" in after.words
    assert "Note by B. Nobody, 2026-05-14 17:00: The closing tests are on" in after.words
    assert "Note by" not in before.words


def test_events_that_came_later_are_checked_only_when_they_are_given(
    run: Run, day: Path, tmp_path: Path
) -> None:
    rules = tmp_path / "mph.toml"
    rules.write_text(run("rules", "show", "example_mph").out)
    later = tmp_path / "later"
    later.mkdir()
    empty = run("check", day, "--rules", rules, "--later", later)
    assert empty.code == 2
    assert "[[event]]" in empty.err
    (later / "events.toml").write_text(
        '[[event]]\ncapture = "C1"\nevent = "notice served"\ndate = 2026-06-20\n'
        'typed_by = "office"\ntyped_from = "copy of the notice"\n'
    )
    without = json.loads(run("check", day, "--rules", rules, "--json").out)
    given = json.loads(run("check", day, "--rules", rules, "--later", later, "--json").out)

    def outcomes(said: dict[str, list[dict[str, str]]]) -> set[str]:
        return {one["outcome"] for one in said["findings"] if one["check"] == "20"}

    assert outcomes(without) == {"not applicable"}
    assert "fail" in outcomes(given)


def test_a_check_can_be_explained_with_its_numbers_and_source(run: Run, day: Path) -> None:
    ran = run("check", day, "--explain", "10")
    assert ran.code == 0
    assert "182.4" in ran.words or "C1" in ran.words
    assert run("check", day, "--explain", "99").code == 2
