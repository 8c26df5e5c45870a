"""The command line and the browser must agree on every case: verdict, steps, items, messages."""

from __future__ import annotations

import io
import os
from collections import Counter
from pathlib import Path
from typing import Any, BinaryIO

import pytest

from evidpack.container.aes_zip import decrypt_pack, is_encrypted
from evidpack.errors import ContainerError
from evidpack.verifying.any_file import unreadable, verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import Report, Verdict
from tests.bundles import VERIFIED_AT
from tests.reader.cases.case import Case, pem
from tests.reader.conftest import Run

# Steps whose faults the browser words as the command line does. In the others the words of the
# ASN.1 reader differ, so the item alone is compared there.
SAME_WORDS = (1, 2, 3, 4)


@pytest.fixture(scope="module")
def references(cases: list[Case]) -> list[dict[str, Any]]:
    """What the command line says of each case, without step 8, which the browser does not run."""
    return [reference(case).to_json() for case in cases]


@pytest.fixture(scope="module")
def browser_answer(
    run: Run, cases: list[Case], case_files: list[Path], references: list[dict[str, Any]]
) -> dict[str, Any]:
    asked = [
        {
            "file": str(file),
            "anchors": pem(case.trust.anchors),
            "tsaAnchors": pem(case.trust.tsa_anchors),
            "lists": pem(case.trust.revocation_lists),
            "accept": case.accept_claimed_time,
            "passphrase": case.passphrase,
        }
        for case, file in zip(cases, case_files, strict=True)
    ]
    # One of each way to end goes through the page as a person would use it.
    ways = {
        (one["kind"], one["verdict"], *failing(one)): number
        for number, one in enumerate(references)
        if cases[number].passphrase is None
    }
    told = run("agreement.mjs", {"cases": asked, "throughPage": sorted(ways.values())})
    assert isinstance(told, dict)
    return told


def reference(case: Case) -> Report:
    options = Options(
        now=VERIFIED_AT,
        trust=case.trust,
        accept_claimed_time=case.accept_claimed_time,
        recheck=False,
    )
    stream: BinaryIO = io.BytesIO(case.data)
    try:
        if case.passphrase is not None and is_encrypted(stream):
            inner = io.BytesIO()
            decrypt_pack(stream, inner, passphrase=case.passphrase, path=case.file_name)
            stream = inner
        return verify_file(stream, path=case.file_name, size=len(case.data), options=options)
    except ContainerError as error:
        return unreadable(error, path=case.file_name, size=len(case.data), options=options)


def steps_of(report: dict[str, Any]) -> dict[int, str]:
    return {step["step"]: step["outcome"] for step in report["steps"]}


def failing(report: dict[str, Any]) -> list[int]:
    return [number for number, how in steps_of(report).items() if how == "fails"]


def faults_of(report: dict[str, Any], number: int) -> list[tuple[str, ...]]:
    for step in report["steps"]:
        if step["step"] == number:
            names = ("item", "message") if number in SAME_WORDS else ("item",)
            return [tuple(fault[name] for name in names) for fault in step["faults"]]
    return []


def test_every_case_has_a_name_of_its_own(cases: list[Case]) -> None:
    assert [name for name, times in Counter(case.name for case in cases).items() if times > 1] == []
    assert len(cases) > 2600


def test_the_cases_hold_every_verdict_and_every_failing_step(
    references: list[dict[str, Any]],
) -> None:
    assert {report["verdict"] for report in references} == {verdict.value for verdict in Verdict}
    assert {number for report in references for number in failing(report)} == {
        1,
        2,
        3,
        4,
        5,
        6,
        7,
        9,
    }


def test_verdicts_and_steps_agree_on_every_case(
    cases: list[Case], references: list[dict[str, Any]], browser_answer: dict[str, Any]
) -> None:
    differing = []
    rows = []
    for case, wanted, seen in zip(cases, references, browser_answer["reports"], strict=True):
        agree = (wanted["verdict"], steps_of(wanted)) == (seen["verdict"], steps_of(seen))
        rows.append((case.name, wanted["verdict"], failing(wanted), agree))
        if not agree:
            differing.append(
                f"{case.name}: {wanted['verdict']} {steps_of(wanted)} | "
                f"{seen['verdict']} {steps_of(seen)}"
            )
    _write_table(rows)
    assert not differing, "\n".join(differing)


def _write_table(rows: list[tuple[str, str, list[int], bool]]) -> None:
    """The table of agreement, where AGREEMENT_TABLE names a file for it."""
    target = os.environ.get("AGREEMENT_TABLE")
    if target is None:
        return
    lines = ["| case | verdict | failing steps | both agree |", "|---|---|---|---|"]
    for name, verdict, fails, agree in rows:
        shown = name.replace("|", "\\|").replace("`", "'")
        failing = ", ".join(map(str, fails)) or "none"
        lines.append(f"| {shown} | {verdict} | {failing} | {'yes' if agree else 'NO'} |")
    Path(target).write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_every_fault_names_the_same_item_in_the_same_words(
    cases: list[Case], references: list[dict[str, Any]], browser_answer: dict[str, Any]
) -> None:
    differing = []
    for case, wanted, seen in zip(cases, references, browser_answer["reports"], strict=True):
        for number in range(1, 8):
            one, other = faults_of(wanted, number), faults_of(seen, number)
            if one != other:
                differing.append(f"{case.name}, step {number}:\n  {one}\n  {other}")
    assert not differing, "\n".join(differing)


def test_the_page_asks_the_network_for_nothing_and_reports_no_error(
    browser_answer: dict[str, Any],
) -> None:
    assert browser_answer["strangers"] == []
    assert browser_answer["errors"] == []


def test_the_page_shows_and_saves_what_its_engine_found(browser_answer: dict[str, Any]) -> None:
    assert len(browser_answer["shown"]) > 10
    for number, saved in browser_answer["shown"].items():
        found = browser_answer["reports"][int(number)]
        for name in found.keys() - {"sha256", "verified_at"}:
            assert saved[name] == found[name], (number, name)
        assert len(saved["sha256"]) == 64


def test_certificates_and_digests_are_the_same(
    cases: list[Case], references: list[dict[str, Any]], browser_answer: dict[str, Any]
) -> None:
    compared = 0
    for case, wanted, seen in zip(cases, references, browser_answer["reports"], strict=True):
        assert wanted["statement_sha256"] == seen["statement_sha256"], case.name
        assert wanted["reference"] == seen["reference"], case.name
        assert wanted["certificates"] == [
            {name: one[name] for name in ("role", "subject", "fingerprint")}
            for one in seen["certificates"]
        ], case.name
        compared += len(seen["certificates"])
    assert compared > 1000
