"""Every attack is refused by the step that must refuse it; the good files they start from are not."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from evidpack.verifying.report import Verdict
from tests.attacks import table
from tests.attacks.attack import Attack, complaint, report_on
from tests.attacks.corpus import write_corpus
from tests.attacks.families import FAMILIES, attacks_of
from tests.attacks.good import PASSPHRASE, good
from tests.attacks.signing import Forger
from tests.trust.certificate_maker import authority, make
from tests.trust.test_revocation import crl

# What issue and documentation promise at least.
AT_LEAST = {"archive": 300, "trust": 150, "content": 100, "pack": 100, "encrypted": 50}


@pytest.fixture(scope="module")
def results() -> dict[str, list[table.Result]]:
    """Every attack, run once for all tests."""
    return {family: table.run(attacks_of(family)) for family in FAMILIES}


@pytest.mark.parametrize("family", FAMILIES)
def test_every_attack_is_refused_by_its_step_and_the_item_is_named(
    family: str, results: dict[str, list[table.Result]]
) -> None:
    wrong = [f"{one.attack.title}: {one.complaint}" for one in results[family] if one.complaint]
    assert not wrong, "\n".join(wrong)
    assert len(results[family]) >= AT_LEAST[family]


@pytest.mark.parametrize("family", FAMILIES)
def test_no_attack_is_told_twice(family: str, results: dict[str, list[table.Result]]) -> None:
    names = Counter((one.attack.kind, one.attack.name) for one in results[family])
    assert [name for name, times in names.items() if times > 1] == []


def test_the_table_in_the_threat_model_is_that_of_now(
    results: dict[str, list[table.Result]],
) -> None:
    now = table.text([one for found in results.values() for one in found])
    document = table.DOCUMENT.read_text(encoding="utf-8")
    assert table.in_document(document) == now, "python -m tests.attacks.table --write"


def _as_attack(data: bytes, **more: object) -> Attack:
    return Attack(
        family="good", kind="good", name="good", data=data, step=1, trust=good().day.trust,
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


@pytest.mark.parametrize("which", ["bundle", "pack", "encrypted"])
def test_the_good_files_verify_so_that_the_tests_above_mean_something(which: str) -> None:
    data = {"bundle": good().day.bundle, "pack": good().pack, "encrypted": good().encrypted}[which]
    attack = _as_attack(data, passphrase=PASSPHRASE, recheck=True)
    report = report_on(attack)
    assert report.verdict is Verdict.VERIFIED
    assert complaint(attack, report) == "ends as 'verified'; []"


def test_the_forger_makes_a_good_signer_and_good_lists() -> None:
    root = authority()
    branch = authority("Invented County Branch", issuer=root, path_length=0)
    lists = [crl(root), crl(branch)]
    forger = Forger(good=good())
    attack = forger.signed_by("", "", 6, make(issuer=branch), [branch], root, lists=lists)
    assert report_on(attack).verdict is Verdict.VERIFIED


def test_a_refusal_by_another_step_or_without_the_words_is_a_complaint() -> None:
    attack = next(attacks_of("encrypted"))
    report = report_on(attack)
    assert complaint(attack, report) is None
    assert "step 5 does not refuse it" in str(complaint(replace(attack, step=5), report))
    assert "no fault says" in str(complaint(replace(attack, words="a sandwich"), report))


def test_the_corpus_is_written_with_all_that_another_reader_needs(tmp_path: Path) -> None:
    attacks = [next(attacks_of(family)) for family in FAMILIES]
    write_corpus(tmp_path, attacks)
    listed = json.loads((tmp_path / "cases.json").read_text(encoding="utf-8"))
    assert [one["family"] for one in listed] == list(FAMILIES)
    for one, attack in zip(listed, attacks, strict=True):
        assert (tmp_path / one["file"]).read_bytes() == attack.data
        command = [
            sys.executable,
            "-m",
            "evidpack",
            "verify",
            one["file"],
            "--no-recheck",
            "--json",
        ]
        for option, name in (
            ("--anchor", "anchors"),
            ("--tsa-anchor", "tsa_anchors"),
            ("--crl", "crls"),
        ):
            command += [option, one[name]] if one[name] else []
        if one["passphrase"]:
            (tmp_path / "passphrase").write_text(one["passphrase"])
            command += ["--passphrase-file", "passphrase"]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode == one["exit_code"] == 1, done.stderr
        steps = {step["step"]: step["outcome"] for step in json.loads(done.stdout)["steps"]}
        assert steps[one["step"]] == "fails"
