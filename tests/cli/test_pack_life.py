"""The whole life of a pack, as a processor and a recipient run it: two captures decided by hand, two
issues, plain and encrypted, acknowledged by code and by signed receipt, compared, and checked later."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
)

from evidpack.trust.cms import sign_detached
from tests.cli.running import Ran, Run
from tests.disclosure.changed_days import changed_day, with_report
from tests.disclosure.deciding import with_entry
from tests.disclosure.packs import opened_bundle, parts
from tests.disclosure.pictures import large_still
from tests.disclosure.test_plan import number_of
from tests.sealed_days import SealedDay

BY_HAND = {
    'use = "undecided"': 'use = "unused"',
    'decision = "undecided"': 'decision = "withhold"',
}
CASE = {
    "case": "AB-12",
    "recipient": "Invented Defence",
    "decided_by": "C. Nobody",
    "decided_at": "2026-06-01T10:00:00+01:00",
}
_TABLE = re.compile(r"^\[\[(?:class|entry)\]\]\n(?:(?!\n?\[\[).*\n?)*", re.MULTILINE)


@pytest.fixture(scope="module")
def life_day(sealed_day: SealedDay, tmp_path_factory: pytest.TempPathFactory) -> SealedDay:
    """A day with stills large enough to be redacted, and a typed report that names a document."""

    def change(folder: Path) -> None:
        for name in ("C1_0001.jpg", "C2_0002.png"):
            large_still(name).save(folder / "export" / "stills" / name)
        (folder / "export" / "signed.txt").write_text("Signed by nobody.\n", encoding="utf-8")
        with_report("signed.txt")(folder)

    return changed_day(tmp_path_factory.mktemp("life") / "day", sealed_day, change)


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """The processor's folder, and a way to run commands there."""

    folder: Path
    run: Run
    day: SealedDay
    anchors: tuple[Path, Path]

    @property
    def bundle(self) -> Path:
        return self.folder / "bundle.zip"

    @property
    def decisions(self) -> Path:
        return self.folder / "decisions.toml"

    @property
    def signing(self) -> tuple[object, ...]:
        return (
            "--key", self.folder / "key.pem", "--cert", self.folder / "cert.pem",
            "--passphrase-file", self.folder / "passphrase.txt",
        )  # fmt: skip

    @property
    def trusting(self) -> tuple[object, ...]:
        anchor, tsa = self.anchors
        return "--anchor", anchor, "--tsa-anchor", tsa, "--accept-claimed-time"

    def disclose(self, output: str, *more: object) -> Ran:
        return self.run(
            "disclose", self.bundle, "--decisions", self.decisions, *self.signing,
            "-o", self.folder / output, *more,
        )  # fmt: skip

    def number(self, **values: object) -> int:
        return number_of(opened_bundle(self.day), **values)

    def edit(self, number: int, table: str) -> None:
        text = self.decisions.read_text(encoding="utf-8")
        self.decisions.write_text(with_entry(text, number, table), encoding="utf-8")


@pytest.fixture
def desk(life_day: SealedDay, run: Run, anchors: tuple[Path, Path], tmp_path: Path) -> Desk:
    (tmp_path / "bundle.zip").write_bytes(life_day.bundle)
    (tmp_path / "post").mkdir()
    signer = life_day.authority.signer
    (tmp_path / "key.pem").write_bytes(
        signer.key.private_bytes(
            Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"for tests")
        )
    )
    chain = (signer.certificate, *life_day.authority.intermediates)
    (tmp_path / "cert.pem").write_bytes(b"".join(one.public_bytes(Encoding.PEM) for one in chain))
    (tmp_path / "passphrase.txt").write_bytes(b"for tests\n")
    return Desk(folder=tmp_path, run=run, day=life_day, anchors=anchors)


def decided_by_hand(text: str) -> str:
    """The draft with the case filled in, and whatever is undecided withheld as unused, described."""
    for name, value in CASE.items():
        text = re.sub(rf'^{name} = "".*$', f'{name} = "{value}"', text, flags=re.MULTILINE)

    def decide(table: re.Match[str]) -> str:
        said = table[0]
        if 'decision = "undecided"' not in said:
            return said
        for old, new in BY_HAND.items():
            said = said.replace(old, new)
        described = "description" in said
        return said if described else f'{said.rstrip()}\ndescription = "Not about these."\n'

    return _TABLE.sub(decide, text)


def follow(advice: str, text: str) -> str:
    """Do exactly what a refusal says: take an entry out of its class, add the table it gives."""
    told = re.findall(r"take (\d+) out of entries, and add\n((?:        .*\n)+)", advice)
    assert told
    for number, table in told:
        lines = [line.strip() for line in table.splitlines()]
        assert lines[:2] == ["[[entry]]", f"entry = {number}"]
        text = with_entry(text, int(number), "\n".join(lines[2:]))
    return text


@pytest.fixture
def decided_desk(desk: Desk) -> Desk:
    """Decided for two captures, after the one refusal that a processor meets."""
    drafted = desk.run(
        "decide", desk.bundle, "--capture", "C1", "--capture", "C2", "-o", desk.decisions
    )
    assert drafted.code == 0, drafted.err
    text = decided_by_hand(desk.decisions.read_text(encoding="utf-8"))
    desk.decisions.write_text(text, encoding="utf-8")
    refused = desk.disclose("refused.zip")
    assert refused.code == 2
    report = desk.number(record_kind="report")
    document = desk.number(path="export/signed.txt")
    assert f"field document of entry {report}: names what entry {document} withholds" in refused.err
    assert not (desk.folder / "refused.zip").exists()
    desk.decisions.write_text(follow(refused.err, text), encoding="utf-8")
    return desk


def passphrase(desk: Desk, slip: str) -> str:
    lines = (desk.folder / "post" / f"{slip}.txt").read_text(encoding="utf-8").splitlines()
    start = lines.index("Passphrase:")
    return "".join(line.strip() for line in lines[start + 1 : start + 4])


def second_issue(desk: Desk) -> dict[str, int]:
    """Something added, something withdrawn, something newly redacted."""
    numbers = {
        "added": desk.number(path="export/notes.txt"),
        "withdrawn": desk.number(record_kind="operator"),
        "redacted": desk.number(path="export/stills/C2_0002.png", item_kind="still"),
    }
    desk.edit(numbers["added"], 'use = "unused"\ndecision = "release"\nreason = "may-assist"')
    # The session's record named the note, which was withheld; now it may say so again.
    desk.edit(
        desk.number(record_kind="session"),
        'use = "relied on"\ndecision = "release"\nreason = "concerns-session"',
    )
    desk.edit(
        numbers["withdrawn"],
        'use = "not relevant"\ndecision = "withhold"\nreason = "earlier-by-mistake"',
    )
    desk.edit(
        numbers["redacted"],
        'use = "relied on"\ndecision = "redact"\nreason = "third-party"\n\n'
        f"[[redact]]\nentry = {numbers['redacted']}\nboxes = [[40, 2, 8, 4]]\n"
        'reason = "third-party"',
    )
    return numbers


def test_a_pack_is_made_verified_and_opened_plain_and_encrypted(
    decided_desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = decided_desk
    plain = desk.disclose("one.zip")
    assert plain.code == 0, plain.err
    assert "issue 1" in plain.words
    assert "release log has issue 1" not in plain.words
    verified = desk.run("verify", desk.folder / "one.zip", *desk.trusting)
    assert verified.code == 0, verified.words
    hidden = desk.disclose("hidden.zip", "--encrypt", "--slip", desk.folder / "post" / "slip")
    assert hidden.code == 0, hidden.err
    assert (
        "The release log has issue 1 for this case and recipient already: pack-1-" in hidden.words
    )
    monkeypatch.setenv("EVIDPACK_PACK_PASSPHRASE", passphrase(desk, "slip"))
    opened = desk.run("open", desk.folder / "hidden.zip", "-o", desk.folder / "out", *desk.trusting)
    assert opened.code == 0, opened.words
    (top,) = (desk.folder / "out").iterdir()
    for name, data in parts((desk.folder / "one.zip").read_bytes()).items():
        if name.startswith(("data/", "origin/")):
            assert (top / name).read_bytes() == data
    record = (top / "data/derived/report.csv").read_text(encoding="utf-8")
    assert "(closed)" in record
    assert "signed.txt" not in record


def test_a_second_issue_goes_on_from_the_encrypted_first(
    decided_desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = decided_desk
    slip = desk.folder / "post" / "slip"
    assert desk.disclose("one.zip", "--encrypt", "--slip", slip).code == 0
    numbers = second_issue(desk)
    monkeypatch.setenv("EVIDPACK_PACK_PASSPHRASE", passphrase(desk, "slip"))
    slip_2 = desk.folder / "post" / "slip-2"
    done = desk.disclose(
        "two.zip", "--encrypt", "--slip", slip_2, "--previous", desk.folder / "one.zip"
    )
    assert done.code == 0, done.err
    assert "issue 2" in done.words
    assert "Check 19: 1 redacted copy holds pixels and nothing else" in done.words
    monkeypatch.delenv("EVIDPACK_PACK_PASSPHRASE")
    both = desk.folder / "passphrases.txt"
    both.write_text(f"{passphrase(desk, 'slip')}\n{passphrase(desk, 'slip-2')}\n", "utf-8")
    pair = (desk.folder / "one.zip", desk.folder / "two.zip", "--passphrase-file", both)
    said = desk.run("compare", *pair)
    assert said.code == 0, said.err
    assert f"ADDED: entry {numbers['added']}" in said.words
    assert f"WITHDRAWN: entry {numbers['withdrawn']}, exhibit" in said.words
    assert "Operator: A. Nobody" in said.words
    assert f"NEWLY REDACTED: entry {numbers['redacted']}" in said.words
    assert "blacked out in part, in place of the original" in said.words
    facts = json.loads(desk.run("compare", *pair, "--json").out)
    assert facts["follows"] is True
    one_only = desk.folder / "passphrase-1.txt"
    one_only.write_text(passphrase(desk, "slip") + "\n", "utf-8")
    refused = desk.run("compare", *pair[:2], "--passphrase-file", one_only)
    assert refused.code != 0
    assert "two.zip" in refused.words
    assert "the passphrase does not open this pack" in refused.words


def test_receipt_by_code_and_by_signature_stand_in_the_release_log(
    decided_desk: Desk, life_day: SealedDay
) -> None:
    desk = decided_desk
    for output in ("one.zip", "other.zip"):
        assert desk.disclose(output).code == 0
    listed = desk.run("releases", desk.bundle)
    first, second = re.findall(r"its code is (\S+)", listed.words)
    assert first != second
    by = ("--by", "C. Nobody", *desk.signing)
    told = desk.run(
        "acknowledge", desk.bundle, "--code", first.lower(), "--who", "D. Nobody", "--how",
        "telephone", *by,
    )  # fmt: skip
    assert told.code == 0, told.err
    assert "issue 1, case AB-12, to Invented Defence." in told.words
    receipt, signature = desk.folder / "receipt.json", desk.folder / "receipt.p7s"
    opened = desk.run(
        "open", desk.folder / "other.zip", "-o", desk.folder / "out", "--receipt", receipt,
        "--received-by", "D. Nobody", *desk.trusting,
    )  # fmt: skip
    assert opened.code == 0, opened.words
    assert f"openssl cms -sign -binary -in {receipt}" in opened.words
    signer = life_day.authority.signer
    signature.write_bytes(
        sign_detached(
            receipt.read_bytes(),
            key=signer.key,
            certificate=signer.certificate,
            intermediates=life_day.authority.intermediates,
        )
    )
    changed = desk.folder / "changed.json"
    changed.write_bytes(receipt.read_bytes().replace(b"D. Nobody", b"E. Nobody"))
    refused = desk.run(
        "acknowledge", desk.bundle, "--receipt", changed, "--signature", signature, *by
    )  # fmt: skip
    assert refused.code != 0
    taken = desk.run(
        "acknowledge", desk.bundle, "--receipt", receipt, "--signature", signature,
        "--anchor", desk.anchors[0], *by,
    )  # fmt: skip
    assert taken.code == 0, taken.err
    after = desk.run("releases", desk.bundle, "--anchor", desk.anchors[0])
    assert after.code == 0, after.err
    assert "acknowledged by D. Nobody, telephone" in after.words
    assert "signed receipt by D. Nobody" in after.words
    assert "who is not judged here" in after.words
    assert "not acknowledged" not in after.words
    assert "4 lines, each signed and chained" in after.words


@pytest.mark.parametrize("option", [("--receipt", "r.json"), ("--received-by", "D. Nobody")])
def test_a_receipt_says_who_received_the_pack(
    decided_desk: Desk, option: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = decided_desk
    monkeypatch.chdir(desk.folder)
    assert desk.disclose("one.zip").code == 0
    done = desk.run("open", "one.zip", "-o", "out", *option, *desk.trusting)
    assert done.code == 2
    assert "a receipt says who received the pack" in done.words
    assert not (desk.folder / "out").exists()


def test_no_receipt_is_written_for_a_pack_that_does_not_verify(decided_desk: Desk) -> None:
    desk = decided_desk
    assert desk.disclose("one.zip").code == 0
    pack = bytearray((desk.folder / "one.zip").read_bytes())
    pack[len(pack) // 2] ^= 1
    (desk.folder / "bad.zip").write_bytes(pack)
    receipt = desk.folder / "receipt.json"
    done = desk.run(
        "open", desk.folder / "bad.zip", "-o", desk.folder / "out", "--receipt", receipt,
        "--received-by", "D. Nobody", *desk.trusting,
    )  # fmt: skip
    assert done.code == 1
    assert not receipt.exists()
    assert not (desk.folder / "out").exists()


def test_a_later_check_of_the_day_points_out_what_is_not_disclosed_yet(
    decided_desk: Desk, life_day: SealedDay
) -> None:
    """The calibration turns out to be two years older than it was typed."""
    desk = decided_desk
    pack, later = desk.folder / "one.zip", desk.folder / "later.json"
    assert desk.disclose("one.zip").code == 0
    unit = life_day.folder / "unit" / "unit.toml"
    before = unit.read_text(encoding="utf-8")
    try:
        unit.write_text(before.replace("2026-01-10", "2024-01-10"), encoding="utf-8")
        checked = desk.run("check", life_day.folder / "day.toml", "--json")
    finally:
        unit.write_text(before, encoding="utf-8")
    assert checked.code == 1, checked.err
    later.write_text(checked.out, encoding="utf-8")
    said = desk.run("compare", pack, pack, "--check", later, "--bundle", desk.bundle)
    assert said.code == 0, said.err
    assert "This is one and the same pack." in said.words
    new = re.search(
        r"NOT YET DISCLOSED: finding of check 2, session S1: fail\. The calibration of 2024-01-10 "
        r"[^)]*\)[^)]*\(new since the day was sealed\)",
        said.words,
    )
    assert new is not None, said.words
    assert "(sealed as entry " in said.words  # what was withheld by decision is told apart
    alone = desk.run("compare", pack, pack, "--check", later)
    assert "Which of these are new and which were sealed and withheld" in alone.words
    facts = json.loads(
        desk.run("compare", pack, pack, "--check", later, "--bundle", desk.bundle, "--json").out
    )
    fresh = [one for one in facts["not_yet_disclosed"] if one["sealed_entry"] is None]
    assert ("2", "fail") in {(one["check"], one["outcome"]) for one in fresh}


def test_compare_refuses_another_bundle(
    decided_desk: Desk, sealed_day: SealedDay, tmp_path: Path
) -> None:
    desk = decided_desk
    assert desk.disclose("one.zip").code == 0
    other, later = tmp_path / "other.zip", tmp_path / "later.json"
    other.write_bytes(sealed_day.bundle)
    later.write_text('{"findings": []}', encoding="utf-8")
    pack = desk.folder / "one.zip"
    done = desk.run("compare", pack, pack, "--check", later, "--bundle", other)
    assert done.code == 2
    assert "the packs were not made from this bundle" in done.words


def test_show_lists_what_a_pack_says_of_itself_and_one_entry(decided_desk: Desk) -> None:
    desk = decided_desk
    second_issue(desk)
    assert desk.disclose("one.zip").code == 0
    pack = desk.folder / "one.zip"
    said = desk.run("show", pack)
    assert said.code == 0, said.err
    assert said.out.startswith("NOT VERIFIED: ")
    for part in ("issue 1", "Case: AB-12", "To: Invented Defence", "Decided by C. Nobody"):
        assert part in said.words
    assert "export/stills/C1_0001.jpg" in said.words
    assert f"{len(parts(pack.read_bytes()))} files inside:" in said.words
    still = desk.number(path="export/stills/C2_0002.png", item_kind="still")
    entry = desk.run("show", pack, "--entry", still)
    assert f"Entry {still}, file, exhibit" in entry.words
    assert "Closed: modified, path, sha256, size" in entry.words
    assert "C2_0002" not in entry.words
    hidden = desk.number(path="office/sealing.json")
    assert "Not disclosed here" in desk.run("show", pack, "--entry", hidden).words
    facts = json.loads(desk.run("show", pack, "--entry", still, "--json").out)
    assert facts["verified"] is False
    assert facts["entry"]["became"] == "redacted"
    assert facts["entry"]["opened"]["width_px"] == 200
    shown = {one["entry"] for one in facts["exhibits"]}
    assert still in shown
    assert hidden not in shown
    for number in (-1, 9_999):
        refused = desk.run("show", pack, "--entry", number)
        assert refused.code == 2
        assert "there is no entry of that number" in refused.words


def test_show_of_an_encrypted_pack_asks_for_its_passphrase(
    decided_desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = decided_desk
    pack = desk.folder / "hidden.zip"
    assert desk.disclose(pack.name, "--encrypt", "--slip", desk.folder / "post" / "slip").code == 0
    monkeypatch.setenv("EVIDPACK_PACK_PASSPHRASE", passphrase(desk, "slip"))
    said = desk.run("show", pack)
    assert said.code == 0, said.err
    assert "Case: AB-12" in said.words
    file = desk.folder / "passphrase-of-pack.txt"
    file.write_text(passphrase(desk, "slip").replace("-", " ").lower(), encoding="utf-8")
    monkeypatch.delenv("EVIDPACK_PACK_PASSPHRASE")
    assert desk.run("show", pack, "--passphrase-file", file).out == said.out
