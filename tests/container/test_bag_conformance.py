"""The bag in a bundle against RFC 8493, rule by rule, with the `bagit` library as a second judge."""

from __future__ import annotations

import logging
from pathlib import Path

import bagit
import pytest

from evidpack.verifying.report import Verdict
from tests.bundles import failing_steps, fault_texts, in_order, put_together, taken_apart, verified
from tests.container.bag_rules import BROKEN, OTHER_FORMS, BrokenRule, Files
from tests.sealed_days import SealedDay


@pytest.fixture(scope="module")
def good(sealed_day: SealedDay) -> tuple[str, Files]:
    return taken_apart(sealed_day.bundle)


def named(one: BrokenRule) -> str:
    return f"{one.section} {one.rule}"


def others_accept(files: Files, folder: Path) -> bool:
    """What `bagit` says of the same files in a folder."""
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    logging.disable(logging.CRITICAL)
    try:
        return bool(bagit.Bag(str(folder)).validate(processes=1))
    except (bagit.BagError, LookupError, UnicodeError, ValueError):
        return False
    finally:
        logging.disable(logging.NOTSET)


def refused_by(top: str, files: Files, day: SealedDay) -> tuple[list[int], str]:
    report = verified(put_together(top, in_order(files)), day.trust, recheck=False)
    assert report.verdict is Verdict.DOES_NOT_VERIFY
    return failing_steps(report), fault_texts(report)


def test_both_judges_accept_the_bag_as_it_is(good: tuple[str, Files], tmp_path: Path) -> None:
    assert others_accept(good[1], tmp_path)


@pytest.mark.parametrize("one", BROKEN, ids=named)
def test_a_bag_that_breaks_a_rule_is_refused(
    one: BrokenRule, good: tuple[str, Files], sealed_day: SealedDay, tmp_path: Path
) -> None:
    top, files = good
    changed = one.applied(files)
    assert changed != files
    steps, why = refused_by(top, changed, sealed_day)
    assert one.step in steps, why
    assert others_accept(changed, tmp_path) == one.others_accept


@pytest.mark.parametrize("one", OTHER_FORMS, ids=named)
def test_a_bag_of_another_form_is_refused_where_format_1_allows_one_byte_sequence(
    one: BrokenRule, good: tuple[str, Files], sealed_day: SealedDay, tmp_path: Path
) -> None:
    top, files = good
    changed = one.applied(files)
    assert changed != files
    steps, why = refused_by(top, changed, sealed_day)
    assert one.step in steps, why
    assert others_accept(changed, tmp_path) == one.others_accept


def test_every_section_that_has_rules_for_a_bag_is_in_the_table() -> None:
    sections = {one.section for one in BROKEN}
    assert sections == {
        "2.1.1", "2.1.2", "2.1.3", "2.2.1", "2.2.2", "2.2.3", "2.3", "2.4", "3", "5.1",
    }  # fmt: skip
