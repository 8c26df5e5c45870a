"""The command line and the browser must agree on every case: verdict, steps, items, messages."""

from __future__ import annotations

import io
import os
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from evidpack.verifying.bundle import Options, verify_bundle
from evidpack.verifying.report import Report, Verdict
from tests.bundles import VERIFIED_AT
from tests.reader.cases.case import Case, pem
from tests.reader.conftest import Run

# Steps whose faults the browser words as the command line does. In the others the words of the
# ASN.1 reader differ, so the item alone is compared there.
SAME_WORDS = (1, 2, 3, 4)


@pytest.fixture(scope="module")
def browser_answer(run: Run, cases: list[Case], case_folder: Path) -> dict[str, Any]:
    # Cases with the same certificates one after the other, so that they are given once.
    order = sorted(range(len(cases)), key=lambda number: _trust_of(cases[number]))
    asked = [
        {
            "file": str(case_folder / f"{number:04}.zip"),
            "anchors": pem(cases[number].trust.anchors),
            "tsaAnchors": pem(cases[number].trust.tsa_anchors),
            "accept": cases[number].accept_claimed_time,
        }
        for number in order
    ]
    answer = run("agreement.mjs", asked, timeout_s=1500)
    reports = dict(zip(order, answer["reports"], strict=True))
    return answer | {"reports": [reports[number] for number in range(len(cases))]}


def _trust_of(case: Case) -> str:
    trust = case.trust
    return f"{pem(trust.anchors)}|{pem(trust.tsa_anchors)}|{case.accept_claimed_time}"


def reference(case: Case) -> Report:
    """What the command line says, without step 8, which the browser does not run."""
    return verify_bundle(
        io.BytesIO(case.data),
        path=case.file_name,
        size=len(case.data),
        options=Options(
            now=VERIFIED_AT,
            trust=case.trust,
            accept_claimed_time=case.accept_claimed_time,
            recheck=False,
        ),
    )


def steps_of(report: dict[str, Any]) -> dict[int, str]:
    return {step["step"]: step["outcome"] for step in report["steps"]}


def faults_of(report: dict[str, Any], number: int) -> list[tuple[str, ...]]:
    for step in report["steps"]:
        if step["step"] == number:
            names = ("item", "message") if number in SAME_WORDS else ("item",)
            return [tuple(fault[name] for name in names) for fault in step["faults"]]
    return []


def test_every_case_has_a_name_of_its_own(cases: list[Case]) -> None:
    assert [name for name, times in Counter(case.name for case in cases).items() if times > 1] == []
    assert len(cases) > 700


def test_the_cases_hold_every_verdict_and_every_failing_step(cases: list[Case]) -> None:
    reports = [reference(case).to_json() for case in cases]
    assert {report["verdict"] for report in reports} == {verdict.value for verdict in Verdict}
    failing = {n for report in reports for n, how in steps_of(report).items() if how == "fails"}
    assert failing == {1, 2, 3, 4, 5, 6, 7}


def test_verdicts_and_steps_agree_on_every_case(
    cases: list[Case], browser_answer: dict[str, Any]
) -> None:
    differing = []
    rows = []
    for case, seen in zip(cases, browser_answer["reports"], strict=True):
        wanted = reference(case).to_json()
        fails = [number for number, how in steps_of(wanted).items() if how == "fails"]
        agree = (wanted["verdict"], steps_of(wanted)) == (seen["verdict"], steps_of(seen))
        rows.append((case.name, wanted["verdict"], fails, agree))
        if not agree:
            differing.append(
                f"{case.name}: {wanted['verdict']} {steps_of(wanted)} | "
                f"{seen['verdict']} {steps_of(seen)}"
            )
    _write_table(rows)
    assert differing == []


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
    cases: list[Case], browser_answer: dict[str, Any]
) -> None:
    differing = []
    for case, seen in zip(cases, browser_answer["reports"], strict=True):
        wanted = reference(case).to_json()
        for number in range(1, 8):
            one, other = faults_of(wanted, number), faults_of(seen, number)
            if one != other:
                differing.append(f"{case.name}, step {number}:\n  {one}\n  {other}")
    assert differing == []


def test_the_page_asks_the_network_for_nothing_and_reports_no_error(
    browser_answer: dict[str, Any],
) -> None:
    assert browser_answer["strangers"] == []
    assert browser_answer["errors"] == []


def test_certificates_and_digests_are_the_same(
    cases: list[Case], browser_answer: dict[str, Any]
) -> None:
    compared = 0
    for case, seen in zip(cases, browser_answer["reports"], strict=True):
        wanted = reference(case).to_json()
        assert wanted["statement_sha256"] == seen["statement_sha256"], case.name
        assert wanted["reference"] == seen["reference"], case.name
        assert wanted["certificates"] == [
            {name: one[name] for name in ("role", "subject", "fingerprint")}
            for one in seen["certificates"]
        ], case.name
        compared += len(seen["certificates"])
    assert compared > 1000
