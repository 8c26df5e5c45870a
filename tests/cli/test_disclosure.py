"""The commands about packs, as their users would run them."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
)

from evidpack.container import layout
from tests.cli.running import Ran, Run
from tests.disclosure.deciding import filled, with_entry
from tests.disclosure.packs import parts
from tests.sealed_days import SealedDay
from tests.tools import require_program


@pytest.fixture
def office(sealed_day: SealedDay, tmp_path: Path) -> Path:
    """A folder with the bundle, the key and its certificate, as a processor has them."""
    folder = tmp_path / "office"
    folder.mkdir()
    (folder / "bundle.zip").write_bytes(sealed_day.bundle)
    signer = sealed_day.authority.signer
    (folder / "key.pem").write_bytes(
        signer.key.private_bytes(
            Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"for tests")
        )
    )
    chain = (signer.certificate, *sealed_day.authority.intermediates)
    (folder / "cert.pem").write_bytes(b"".join(one.public_bytes(Encoding.PEM) for one in chain))
    (folder / "passphrase.txt").write_bytes(b"for tests\n")
    return folder


@pytest.fixture
def decided_office(office: Path, run: Run, sealed_day: SealedDay) -> Path:
    """The same with a decisions.toml that a person went through."""
    draft = office / "draft.toml"
    done = run("decide", office / "bundle.zip", "--capture", "C1", "-o", draft)
    assert done.code == 0, done.err
    text = filled(draft.read_text(encoding="utf-8"))
    (office / "decisions.toml").write_text(text, encoding="utf-8")
    return office


def disclose(run: Run, office: Path, output: Path, *more: object) -> Ran:
    return run(
        "disclose", office / "bundle.zip", "--decisions", office / "decisions.toml",
        "--key", office / "key.pem", "--cert", office / "cert.pem",
        "--passphrase-file", office / "passphrase.txt", "-o", output, *more,
    )  # fmt: skip


def trusting(anchors: tuple[Path, Path]) -> tuple[object, ...]:
    return "--anchor", anchors[0], "--tsa-anchor", anchors[1], "--accept-claimed-time"


def passphrase_on(slip: Path) -> str:
    lines = slip.with_name(slip.name + ".txt").read_text(encoding="utf-8").splitlines()
    start = lines.index("Passphrase:")
    return "".join(line.strip() for line in lines[start + 1 : start + 4])


def test_a_draft_is_refused_and_what_is_undecided_is_listed(
    office: Path, run: Run, tmp_path: Path
) -> None:
    run("decide", office / "bundle.zip", "--capture", "C1", "-o", office / "decisions.toml")
    done = disclose(run, office, tmp_path / "pack.zip")
    assert done.code == 2
    assert "case is empty" in done.words
    assert not (tmp_path / "pack.zip").exists()


def test_a_draft_is_never_written_over_anything(office: Path, run: Run) -> None:
    (office / "draft.toml").write_text("mine", encoding="utf-8")
    done = run("decide", office / "bundle.zip", "--capture", "C1", "-o", office / "draft.toml")
    assert done.code == 2
    assert "nothing is ever replaced" in done.words
    assert (office / "draft.toml").read_text(encoding="utf-8") == "mine"


def test_a_plain_pack_is_made_and_verified(
    decided_office: Path, run: Run, anchors: tuple[Path, Path], tmp_path: Path
) -> None:
    report = tmp_path / "report.json"
    said = run("verify", decided_office / "bundle.zip", *trusting(anchors), "--json")
    report.write_text(said.out, encoding="utf-8")
    pack = tmp_path / "pack.zip"
    done = disclose(run, decided_office, pack, "--verified", report)
    assert done.code == 0, done.err
    checked = run("verify", pack, *trusting(anchors))
    assert checked.code == 0, checked.words
    assert "VERIFIED, TIME ONLY AS CLAIMED" in checked.out
    assert "Three answers for the discloser" in checked.out
    statement = json.loads(parts(pack.read_bytes())[layout.DISCLOSURE_STATEMENT])
    assert statement["verification"]["verdict"] == "verified"
    assert run("verify", pack).code == 3
    facts = json.loads(run("verify", pack, *trusting(anchors), "--json").out)
    assert facts["kind"] == "pack"
    assert set(facts["answers"]) == {"sealer", "discloser"}


def test_an_encrypted_pack_is_opened_only_with_its_passphrase(
    decided_office: Path,
    run: Run,
    anchors: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "post").mkdir()
    pack, slip = tmp_path / "pack.zip", tmp_path / "post" / "slip"
    done = disclose(run, decided_office, pack, "--encrypt", "--slip", slip)
    assert done.code == 0, done.err
    phrase = passphrase_on(slip)
    assert phrase not in done.words
    assert phrase.encode() not in pack.read_bytes()
    for name in ("releases.jsonl", "decisions.toml"):
        assert phrase not in (decided_office / name).read_text(encoding="utf-8")
    monkeypatch.setenv("EVIDPACK_PACK_PASSPHRASE", phrase)
    opened = run("open", pack, "-o", tmp_path / "opened", *trusting(anchors))
    assert opened.code == 0, opened.words
    (top,) = (tmp_path / "opened").iterdir()
    assert (top / "index.pdf").read_bytes().startswith(b"%PDF-")
    assert (top / "data/export/stills/C1_0001.jpg").exists()
    assert run("verify", pack, *trusting(anchors)).code == 0
    mistyped = ("A" if phrase[0] != "A" else "B") + phrase[1:]
    monkeypatch.setenv("EVIDPACK_PACK_PASSPHRASE", mistyped)
    wrong = run("verify", pack)
    assert wrong.code == 2
    assert "not typed as it stands on the slip" in wrong.words
    assert mistyped not in wrong.words


def test_seven_zip_opens_an_encrypted_pack(decided_office: Path, run: Run, tmp_path: Path) -> None:
    program = require_program("7z")
    (tmp_path / "post").mkdir()
    pack, slip = tmp_path / "pack.zip", tmp_path / "post" / "slip"
    assert disclose(run, decided_office, pack, "--encrypt", "--slip", slip).code == 0
    encrypted = pack.read_bytes()
    # Where it lies, and without an answer to any question: nothing there may be in its way.
    done = subprocess.run(
        [program, "x", f"-p{passphrase_on(slip)}", pack.name],
        cwd=tmp_path,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout
    assert pack.read_bytes() == encrypted
    inside = tmp_path / "decrypted-pack.zip"
    assert layout.DISCLOSURE_STATEMENT in parts(inside.read_bytes())


def test_an_encrypted_pack_is_not_given_the_name_of_the_pack_inside(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    (tmp_path / "post").mkdir()
    slip = tmp_path / "post" / "slip"
    taken = tmp_path / "Decrypted-Pack.zip"
    done = disclose(run, decided_office, taken, "--encrypt", "--slip", slip)
    assert done.code == 2
    assert "the pack inside an encrypted one has this name" in done.words
    assert not taken.exists()
    assert list(slip.parent.iterdir()) == []
    assert disclose(run, decided_office, taken).code == 0  # plain, it may


def test_a_tampered_encrypted_pack_does_not_verify_and_nothing_is_unpacked(
    decided_office: Path,
    run: Run,
    anchors: tuple[Path, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "post").mkdir()
    pack, slip = tmp_path / "pack.zip", tmp_path / "post" / "slip"
    assert disclose(run, decided_office, pack, "--encrypt", "--slip", slip).code == 0
    monkeypatch.setenv("EVIDPACK_PACK_PASSPHRASE", passphrase_on(slip))
    data = bytearray(pack.read_bytes())
    data[len(data) // 2] ^= 1
    pack.write_bytes(data)
    done = run("open", pack, "-o", tmp_path / "opened", *trusting(anchors))
    assert done.code == 1
    assert "Nothing was unpacked" in done.out
    assert not (tmp_path / "opened").exists()


def test_a_pack_that_does_not_verify_is_not_unpacked(
    decided_office: Path, run: Run, anchors: tuple[Path, Path], tmp_path: Path
) -> None:
    from tests.disclosure.packs import repaired

    pack = tmp_path / "pack.zip"
    assert disclose(run, decided_office, pack).code == 0
    members = parts(pack.read_bytes())
    top = json.loads(members[layout.DISCLOSURE_STATEMENT])["pack"]
    members["data/export/stills/C1_0001.jpg"] += b"x"
    pack.write_bytes(repaired(top, members))
    done = run("open", pack, "-o", tmp_path / "opened", *trusting(anchors))
    assert done.code == 1
    assert not (tmp_path / "opened").exists()


def test_a_bundle_is_not_unpacked(office: Path, run: Run, tmp_path: Path) -> None:
    done = run("open", office / "bundle.zip", "-o", tmp_path / "opened")
    assert done.code == 2
    assert "this is no pack" in done.words


def test_the_slip_is_refused_beside_the_pack(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    done = disclose(
        run, decided_office, tmp_path / "pack.zip", "--encrypt", "--slip", tmp_path / "slip"
    )
    assert done.code == 2
    assert "the slip would lie beside the pack" in done.words
    assert list(tmp_path.iterdir()) == [decided_office]


def test_the_slip_lies_beside_the_pack_where_that_was_asked_for(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    slip = ["--encrypt", "--slip", tmp_path / "slip", "--slip-beside"]
    done = disclose(run, decided_office, tmp_path / "pack.zip", *slip)
    assert done.code == 0, done.words
    assert (tmp_path / "slip.txt").exists()
    assert (tmp_path / "slip.pdf").exists()


@pytest.mark.parametrize("options", [["--encrypt"], ["--slip", "elsewhere"]])
def test_encryption_and_slip_go_together(
    decided_office: Path, run: Run, tmp_path: Path, options: list[str]
) -> None:
    done = disclose(run, decided_office, tmp_path / "pack.zip", *options)
    assert done.code == 2
    assert "an encrypted pack and its slip go together" in done.words


def test_sensitive_material_needs_a_schedule_which_is_no_part_of_the_pack(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    path = decided_office / "decisions.toml"
    text = path.read_text(encoding="utf-8")
    number = int(re.findall(r'class = "captures of other people"\nentries = "(\d+)', text)[0])
    secret = (
        'use = "unused"\ndecision = "withhold"\nreason = "x"\ndescription = "who told us"\n'
        'sensitive = true\nsensitive_reason = "names a source"'
    )
    path.write_text(with_entry(text, number, secret), encoding="utf-8")
    refused = disclose(run, decided_office, tmp_path / "pack.zip")
    assert refused.code == 2
    assert "1 entries are sensitive, and there is no schedule" in refused.words
    assert not (decided_office / "releases.jsonl").exists()
    beside = disclose(run, decided_office, tmp_path / "pack.zip", "--sensitive", tmp_path / "s.txt")
    assert beside.code == 2
    assert "the schedule would lie beside the pack" in beside.words
    (tmp_path / "prosecutor").mkdir()
    schedule = tmp_path / "prosecutor" / "schedule.txt"
    done = disclose(run, decided_office, tmp_path / "pack.zip", "--sensitive", schedule)
    assert done.code == 0, done.err
    written = schedule.read_text(encoding="utf-8")
    assert "For the prosecutor only" in written
    assert "names a source" in written
    assert f"entry {number} (" in written
    pack = (tmp_path / "pack.zip").read_bytes()
    for word in (b"who told us", b"names a source"):
        assert all(word not in data for data in parts(pack).values())


def test_a_report_about_another_seal_is_refused(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    report = tmp_path / "report.json"
    report.write_text(
        json.dumps(
            {
                "statement_sha256": "00" * 32,
                "verdict": "verified",
                "verified_at": "2026-06-01T00:00:00+00:00",
            }
        ),
        encoding="utf-8",
    )
    done = disclose(run, decided_office, tmp_path / "pack.zip", "--verified", report)
    assert done.code == 2
    assert "the report is about another seal" in done.words


def test_releases_and_acknowledgements_are_kept_and_shown(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    bundle = decided_office / "bundle.zip"
    assert "No pack was made" in run("releases", bundle).words
    assert disclose(run, decided_office, tmp_path / "pack.zip").code == 0
    shown = run("releases", bundle)
    assert "issue 1, case AB-12, to Invented Defence" in shown.words
    code = re.search(r"its code is (\S+)", shown.words)
    assert code is not None
    signing = (
        "--key", decided_office / "key.pem", "--cert", decided_office / "cert.pem",
        "--passphrase-file", decided_office / "passphrase.txt", "--by", "C. Nobody",
    )  # fmt: skip
    done = run(
        "acknowledge", bundle, "--code", code[1], "--who", "D. Nobody", "--how", "telephone",
        *signing,
    )  # fmt: skip
    assert done.code == 0, done.err
    assert "acknowledged by D. Nobody, telephone" in run("releases", bundle).words
    listed = json.loads(run("releases", bundle, "--json").out)
    assert [line["kind"] for line in listed["lines"]] == ["release", "acknowledgement"]
    wrong = run(
        "acknowledge", bundle, "--code", "2222-2222", "--who", "x", "--how", "y", *signing
    )  # fmt: skip
    assert wrong.code == 2
    log = decided_office / "releases.jsonl"
    log.write_bytes(log.read_bytes().replace(b"AB-12", b"AB-13"))
    assert run("releases", bundle).code == 2


def test_the_code_on_the_index_is_the_one_of_the_release_log(
    decided_office: Path, run: Run, tmp_path: Path
) -> None:
    import io

    from pypdf import PdfReader

    pack = tmp_path / "pack.zip"
    assert disclose(run, decided_office, pack).code == 0
    said = run("releases", decided_office / "bundle.zip").words
    code = re.search(r"its code is (\S+)", said)
    assert code is not None
    reader = PdfReader(io.BytesIO(parts(pack.read_bytes())[layout.INDEX]))
    assert code[1] in reader.pages[0].extract_text()


def test_two_issues_are_compared(decided_office: Path, run: Run, tmp_path: Path) -> None:
    one, two = tmp_path / "one.zip", tmp_path / "two.zip"
    assert disclose(run, decided_office, one).code == 0
    path = decided_office / "decisions.toml"
    text = path.read_text(encoding="utf-8")
    number = int(re.findall(r'class = "a document, [^\n]*"\nentries = "(\d+)"', text)[0])
    table = 'use = "unused"\ndecision = "release"\nreason = "may-assist"'
    path.write_text(with_entry(text, number, table), encoding="utf-8")
    assert disclose(run, decided_office, two, "--previous", one).code == 0
    done = run("compare", one, two)
    assert done.code == 0, done.err
    assert "Issue 1 → issue 2." in done.out
    assert f"ADDED: entry {number}" in done.words
    later = tmp_path / "later.json"
    finding = {"check": "2c", "subject": "meter ZZ-0001", "outcome": "fail", "adverse": True}
    later.write_text(json.dumps({"findings": [finding]}), encoding="utf-8")
    assert "NOT YET DISCLOSED: finding of check 2c, meter ZZ-0001: fail" in (
        run("compare", one, two, "--check", later).words
    )
    assert run("compare", two, one).code == 2
    facts = json.loads(run("compare", one, two, "--json").out)
    assert facts["follows"] is True
    assert [change["how"] for change in facts["changes"]] == ["added"]


def test_a_redaction_is_previewed(office: Path, run: Run, tmp_path: Path) -> None:
    preview = tmp_path / "preview.png"
    done = run(
        "redact", office / "bundle.zip", "export/stills/C1_0001.jpg",
        "--boxes", "10,10,5,5", "--polygon", "1,1 9,1 5,9", "-o", preview,
    )  # fmt: skip
    assert done.code == 0, done.err
    assert preview.read_bytes().startswith(b"\x89PNG")
    assert "boxes = [[10, 10, 5, 5]]" in done.out
    assert "polygons = [[[1, 1], [9, 1], [5, 9]]]" in done.out
    again = run(
        "redact", office / "bundle.zip", "export/stills/C1_0001.jpg",
        "--boxes", "10,10,5,5", "-o", preview,
    )  # fmt: skip
    assert again.code == 2


@pytest.mark.parametrize(
    ("item", "options", "message"),
    [
        ("export/readings.csv", ["--boxes", "1,1,2,2"], "there is no such still"),
        ("export/stills/C1_0001.jpg", ["--boxes", "1,1,2"], "a box is x, y, width and height"),
        ("export/stills/C1_0001.jpg", ["--polygon", "1,1 2"], "a polygon is points x,y"),
        ("export/stills/C1_0001.jpg", ["--boxes", "900,900,2,2"], "lies outside the picture"),
        ("export/stills/C1_0001.jpg", [], "there is no region to redact"),
    ],
)
def test_what_cannot_be_previewed_is_said(
    office: Path, run: Run, tmp_path: Path, item: str, options: list[str], message: str
) -> None:
    done = run("redact", office / "bundle.zip", item, *options, "-o", tmp_path / "p.png")
    assert done.code == 2
    assert message in done.words
    assert not (tmp_path / "p.png").exists()
