"""The demo's disclosure, and drafts about its rich day."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from pathlib import Path

import pytest

from evidpack.cli import main
from evidpack.cli.trust_options import load_trust
from evidpack.container import layout
from evidpack.container.aes_zip import decrypt_pack
from evidpack.disclosure.decisions import load_decisions, parse_ranges
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.leak_refusal import require_no_leak
from evidpack.disclosure.plan import NO_EARLIER_ISSUE, make_plan
from evidpack.disclosure.sealed_bundle import SealedBundle, open_sealed_bundle
from evidpack.errors import UsageError
from evidpack.verifying.report import Verdict
from tests.bundles import fault_texts
from tests.disclosure.deciding import filled, with_entry
from tests.disclosure.packs import parts, verified_pack
from tests.disclosure.test_independent import VERIFIER
from tests.tools import require_program


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "demo"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["evidpack", "demo", str(folder)])
        with pytest.raises(SystemExit) as exited:
            main.main()
    assert not exited.value.code
    return folder


@pytest.fixture(scope="module")
def bundle(demo: Path) -> SealedBundle:
    return open_sealed_bundle(io.BytesIO((demo / "bundle.zip").read_bytes()), path="bundle.zip")


def entries(bundle: SealedBundle, **values: object) -> list[int]:
    return [
        entry.number
        for entry in bundle.entries()
        if all(entry.values.get(name) == value for name, value in values.items())
    ]


def table_of(text: str, number: int) -> str:
    """The table of a draft that decides an entry."""
    for table in re.findall(r"^\[\[(?:class|entry)\]\]\n(?:(?!\n\[\[).*\n?)*", text, re.MULTILINE):
        listed = re.search(r'^entries = "(.*)"$', table, re.MULTILINE)
        single = re.search(r"^entry = (\d+)$", table, re.MULTILINE)
        if (listed and number in parse_ranges(listed[1])) or (single and int(single[1]) == number):
            return table
    raise AssertionError(number)


def test_the_demo_makes_decisions_both_forms_of_the_pack_and_the_slip(demo: Path) -> None:
    phrase = (demo / "slip" / "pack-slip.txt").read_text(encoding="utf-8")
    lines = [line.strip() for line in phrase.splitlines()]
    start = lines.index("Passphrase:")
    plain = io.BytesIO()
    with (demo / "pack.zip").open("rb") as stream:
        decrypt_pack(stream, plain, passphrase="".join(lines[start + 1 : start + 4]), path="p")
    assert plain.getvalue() == (demo / "pack-open.zip").read_bytes()
    assert (demo / "slip" / "pack-slip.pdf").read_bytes().startswith(b"%PDF-")
    assert load_decisions((demo / "decisions.toml").read_bytes(), path="d").redactions


@pytest.mark.parametrize("capture", ["C001", "C029", "C033", "C034", "C035", "C036"])
def test_a_pack_can_be_made_of_all_proposals_for_a_capture(
    bundle: SealedBundle, capture: str
) -> None:
    """Among them those beside which a discarded capture is to be considered, and that one itself."""
    text = draft_decisions(bundle, [capture])
    decisions = load_decisions(filled(text).encode(), path="decisions.toml")
    plan = make_plan(bundle, decisions, earlier=NO_EARLIER_ISSUE, profile=lambda: None)
    require_no_leak(bundle, plan, decisions)
    discarded = [
        entry.number
        for entry in bundle.entries()
        if "C035" in (entry.values.get("capture"), str(entry.values.get("still"))[:4])
    ]
    assert len(discarded) == 5  # reading, capture, still, data strip, review
    beside = capture in ("C034", "C036")
    for number in discarded:
        assert (plan.lines[number].exhibit is not None) is (beside or capture == "C035")
        assert ('marked = "may undermine or assist"' in table_of(text, number)) is beside


def test_the_demos_pack_verifies_and_redacts_the_other_vehicle(demo: Path) -> None:
    keys = demo / "keys"
    trust = load_trust((keys / "authority.pem",), (keys / "tsa-authority.pem",), ())
    pack = (demo / "pack-open.zip").read_bytes()
    report = verified_pack(pack, trust)
    assert report.verdict is Verdict.VERIFIED, fault_texts(report)
    members = parts(pack)
    assert [name for name in members if name.startswith(layout.REDACTED)]
    assert not [name for name in members if name.startswith("data/export/stills/")]


def test_the_independent_verifier_accepts_the_demos_plain_pack(demo: Path) -> None:
    require_program("openssl")
    done = subprocess.run(
        [
            sys.executable,
            str(VERIFIER),
            str(demo / "pack-open.zip"),
            str(demo / "keys" / "authority.pem"),
            str(demo / "keys" / "tsa-authority.pem"),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("VERIFIED")


def test_a_discarded_capture_near_one_of_the_case_is_left_undecided(bundle: SealedBundle) -> None:
    text = draft_decisions(bundle, ["C034"])
    (reading,) = entries(bundle, record_kind="reading", capture="C035")
    table = table_of(text, reading)
    assert table.startswith("[[entry]]")
    assert 'marked = "may undermine or assist"' in table
    assert 'decision = "undecided"' in table
    far = table_of(draft_decisions(bundle, ["C001"]), reading)
    assert 'decision = "withhold"' in far


def test_a_discarded_capture_near_one_of_the_case_is_not_decided_as_a_class(
    bundle: SealedBundle,
) -> None:
    (reading,) = entries(bundle, record_kind="reading", capture="C035")
    text = filled(draft_decisions(bundle, ["C034"]))
    text = text.replace(table_of(text, reading), "")
    text += (
        f'\n[[class]]\nclass = "x"\nentries = "{reading}"\nuse = "not relevant"\n'
        'decision = "withhold"\nreason = "third-party"\n'
    )
    with pytest.raises(UsageError, match=f"entry {reading} may undermine or assist"):
        make_plan(
            bundle,
            load_decisions(text.encode(), path="d"),
            earlier=NO_EARLIER_ISSUE,
            profile=lambda: None,
        )


def test_what_the_draft_proposes_about_a_capture(bundle: SealedBundle) -> None:
    text = draft_decisions(bundle, ["C033"])
    ours = entries(bundle, path="export/clips/C033.mp4") + entries(
        bundle, path="export/stills/C033_0018.jpg"
    )
    ours += entries(bundle, record_kind="reading", capture="C033")
    ours += entries(bundle, record_kind="device_test") + entries(bundle, record_kind="clock_check")
    ours += entries(bundle, item_kind="certificate") + entries(bundle, item_kind="profile")
    ours += entries(bundle, item_kind="rules") + entries(bundle, record_kind="site", id="TM-21")
    ours += entries(bundle, record_kind="session", id="S2")
    for number in ours:
        assert 'decision = "release"' in table_of(text, number), number
    theirs = entries(bundle, record_kind="reading", capture="C001") + entries(
        bundle, path="export/stills/C001_9981.jpg"
    )
    for number in theirs:
        assert 'decision = "withhold"' in table_of(text, number), number
        assert 'reason = "third-party"' in table_of(text, number), number
    opaque = entries(bundle, item_kind="report") + entries(bundle, item_kind="document")
    for number in opaque:
        assert 'decision = "undecided"' in table_of(text, number), number
    (log,) = entries(bundle, path="export/logs/readings.csv", item_kind="log")
    assert 'reason = "mixed"' in table_of(text, log)


def test_one_file_of_decisions_for_two_captures(bundle: SealedBundle) -> None:
    text = filled(draft_decisions(bundle, ["C024", "33"]))
    for number in entries(bundle, outcome="query"):
        text = with_entry(
            text,
            number,
            'use = "unused"\ndecision = "redact"\nclose = ["sentence", "measured", "limit"]\n'
            'reason = "may-assist"\ndescription = "A reading of another capture"',
        )
    plan = make_plan(
        bundle,
        load_decisions(text.encode(), path="d"),
        earlier=NO_EARLIER_ISSUE,
        profile=lambda: None,
    )
    shown = {str(one.opened.get("capture")) for one in plan.revealed if "capture" in one.opened}
    assert shown == {"C024", "C033"}
