"""A re-check under other versions than those that sealed (docs/format.md, step 8)."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest

from evidpack.checks import registry
from evidpack.verifying import recheck, versions
from evidpack.verifying.bundle import Options, verify_bundle
from evidpack.verifying.report import Report, StepOutcome, Verdict
from tests.bundles import VERIFIED_AT, verified
from tests.golden.cases import GOLDEN
from tests.sealed_days import SealedDay, make_authority, trusting


def golden_report() -> Report:
    data = (GOLDEN / "bundles/adverse-mph.zip").read_bytes()
    return verify_bundle(
        io.BytesIO(data),
        path="adverse-mph.zip",
        size=len(data),
        options=Options(now=VERIFIED_AT, trust=trusting(make_authority())),
    )


def with_first_check(monkeypatch: pytest.MonkeyPatch, **changes: object) -> str:
    """The first check as a later release might have it; its number."""
    first, *others = registry.CHECKS
    changed = (replace(first, **changes), *others)  # type: ignore[arg-type]
    monkeypatch.setattr(registry, "CHECKS", changed)
    monkeypatch.setattr(versions, "CHECKS", changed)
    return first.number


def saying_nothing(look: object, say: object) -> list[object]:
    """A check that has nothing to say."""
    del look, say
    return []


def test_a_check_whose_version_was_raised_is_listed_and_the_verdict_untouched(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    number = with_first_check(monkeypatch, version=99)
    report = golden_report()
    step = report.step(8)
    assert report.verdict is Verdict.VERIFIED
    assert step.outcome is StepOutcome.NOT_ESTABLISHED
    assert f"{number}:99" in step.examined
    assert "does not touch the verdict on integrity" in step.examined
    assert step.faults


def test_a_raised_check_that_says_something_else_is_listed_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with_first_check(monkeypatch, version=99, function=saying_nothing)
    report = golden_report()
    assert report.verdict is Verdict.VERIFIED
    assert report.step(8).outcome is StepOutcome.NOT_ESTABLISHED
    assert report.step(8).faults


def test_under_the_sealed_versions_another_result_is_a_failure(
    monkeypatch: pytest.MonkeyPatch, sealed_day: SealedDay
) -> None:
    assert verified(sealed_day.bundle, sealed_day.trust).step(8).outcome is StepOutcome.HOLDS
    with_first_check(monkeypatch, function=saying_nothing)
    report = verified(sealed_day.bundle, sealed_day.trust)
    assert report.step(8).outcome is StepOutcome.FAILS
    assert report.verdict is Verdict.DOES_NOT_VERIFY


def test_other_versions_that_make_no_difference_are_none(
    monkeypatch: pytest.MonkeyPatch, sealed_day: SealedDay
) -> None:
    real = versions.current_versions()
    monkeypatch.setattr(recheck, "current_versions", lambda: real | {"tzdata": "2099.1"})
    report = verified(sealed_day.bundle, sealed_day.trust)
    assert report.step(8).outcome is StepOutcome.HOLDS
    assert report.verdict is Verdict.VERIFIED


def test_pixels_that_differ_fail_whatever_the_checks_are(
    monkeypatch: pytest.MonkeyPatch, sealed_day: SealedDay
) -> None:
    """Only another decoder explains other pixels."""
    with_first_check(monkeypatch, version=99)
    facts = recheck.pixel_facts

    def other(*arguments: object, **more: object) -> object:
        return replace(facts(*arguments, **more), root=bytes(32))  # type: ignore[arg-type]

    monkeypatch.setattr(recheck, "pixel_facts", other)
    report = verified(sealed_day.bundle, sealed_day.trust)
    assert report.step(8).outcome is StepOutcome.FAILS
