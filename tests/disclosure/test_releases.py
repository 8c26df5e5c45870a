"""The release log: every line chained and signed, acknowledgements and receipts checked."""

from __future__ import annotations

import base64
import json
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Thread

import pytest
from cryptography.hazmat.primitives.serialization import Encoding
from hypothesis import given
from hypothesis import strategies as st

from evidpack.container import layout
from evidpack.disclosure import releases
from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.receipts import Receipt, check_receipt
from evidpack.disclosure.release_lines import Acknowledgement, LogLine, Release, SignedReceipt
from evidpack.disclosure.releases import (
    acknowledge,
    acknowledgement_code,
    append_release,
    last_digest,
    parse_releases,
    read_code,
    read_releases,
    record_receipt,
    releases_in,
)
from evidpack.errors import ProofError, TrustError, UsageError
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.digests import sha256
from evidpack.sealing.order import Signer
from evidpack.trust.authority import DemoAuthority
from evidpack.trust.cms import sign_detached
from tests.disclosure.deciding import filled
from tests.disclosure.packs import make, opened_bundle, parts
from tests.sealed_days import SEALED_AT, FixedRandom, SealedDay
from tests.tools import require_program

AT = SEALED_AT + timedelta(days=20)
PACK = Release(
    reference="pack-1-0a1b2c3d4e5f",
    pack=sha256(b"pack 1"),
    encrypted=sha256(b"encrypted 1"),
    statement=sha256(b"statement 1"),
    origin=sha256(b"origin"),
    contents=sha256(b"contents 1"),
    day="TRU-2026-05-14-A",
    case="TM/2026/0417",
    recipient="Quillfeather & Moss",
    issue=1,
)
SECOND = replace(
    PACK, reference="pack-2-0a1b2c3d4e5f", pack=sha256(b"pack 2"), contents=sha256(b"contents 2"),
    statement=sha256(b"statement 2"), encrypted=None, issue=2,
)  # fmt: skip


@pytest.fixture(scope="session")
def signer(authority: DemoAuthority) -> Signer:
    return Signer(
        key=authority.signer.key,
        certificate=authority.signer.certificate,
        chain=authority.intermediates,
    )


@pytest.fixture
def log(tmp_path: Path, signer: Signer) -> Path:
    """A log of two packs, the first acknowledged."""
    path = tmp_path / "releases.jsonl"
    append_release(path, PACK, at=AT, by="H. Undersedge", signer=signer)
    acknowledge(
        path, code=acknowledgement_code(PACK.contents), who="R. Moss", how="telephone", when=AT,
        at=AT + timedelta(hours=1), by="H. Undersedge", signer=signer,
    )  # fmt: skip
    append_release(path, SECOND, at=AT + timedelta(days=3), by="H. Undersedge", signer=signer)
    return path


def test_a_log_that_is_not_there_has_no_lines(tmp_path: Path) -> None:
    assert read_releases(tmp_path / "releases.jsonl") == ()
    assert last_digest(()) is None


def test_lines_are_read_back_as_they_were_said(log: Path, authority: DemoAuthority) -> None:
    lines = read_releases(log, anchors=[authority.root.certificate])
    assert [type(line.said) for line in lines] == [Release, Acknowledgement, Release]
    assert lines[0].said == PACK
    assert lines[1].said == Acknowledgement(
        pack=PACK.pack, code=acknowledgement_code(PACK.contents), who="R. Moss", how="telephone",
        when=AT,
    )  # fmt: skip
    assert releases_in(lines) == (PACK, SECOND)
    assert [line.by for line in lines] == ["H. Undersedge"] * 3
    assert lines[2].at == AT + timedelta(days=3)


def test_each_line_names_the_digest_of_the_line_before(log: Path) -> None:
    raw = log.read_bytes().split(b"\n")
    lines = read_releases(log)
    assert [line.previous for line in lines] == [None, sha256(raw[0]), sha256(raw[1])]
    assert last_digest(lines) == sha256(raw[2])


def test_openssl_verifies_a_line(log: Path, authority: DemoAuthority, tmp_path: Path) -> None:
    line = json.loads(log.read_bytes().split(b"\n")[0])
    (tmp_path / "line.json").write_bytes(canonical_bytes(line["statement"]))
    (tmp_path / "line.p7s").write_bytes(base64.b64decode(line["signature"]))
    anchor = tmp_path / "anchor.pem"
    anchor.write_bytes(authority.root.certificate.public_bytes(Encoding.PEM))
    subprocess.run(
        [require_program("openssl"), "cms", "-verify", "-binary", "-inform", "DER",
         "-in", tmp_path / "line.p7s", "-content", tmp_path / "line.json", "-CAfile", anchor,
         "-attime", str(int(AT.timestamp())), "-out", tmp_path / "out"],
        check=True, capture_output=True,
    )  # fmt: skip


def test_a_new_log_can_be_read_by_its_owner_alone(log: Path) -> None:
    assert log.stat().st_mode & 0o077 == 0


def test_what_stands_in_the_log_is_never_rewritten(log: Path, signer: Signer) -> None:
    before = log.read_bytes()
    third = replace(SECOND, pack=sha256(b"pack 3"), issue=3)
    append_release(log, third, at=AT, by="H. Undersedge", signer=signer)
    assert log.read_bytes().startswith(before)


def test_the_same_pack_is_not_put_on_record_twice(log: Path, signer: Signer) -> None:
    before = log.read_bytes()
    with pytest.raises(UsageError, match="has this pack already"):
        append_release(log, PACK, at=AT, by="H. Undersedge", signer=signer)
    assert log.read_bytes() == before


def test_two_who_write_at_once_leave_one_chain(tmp_path: Path, signer: Signer) -> None:
    path = tmp_path / "releases.jsonl"

    def write(number: int) -> None:
        release = replace(PACK, pack=sha256(b"%d" % number))
        append_release(path, release, at=AT, by="H. Undersedge", signer=signer)

    threads = [Thread(target=write, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(read_releases(path)) == 6


# Changes


def lines_of(log: Path) -> list[dict[str, dict[str, object]]]:
    return [json.loads(line) for line in log.read_bytes().splitlines()]


def written(lines: list[dict[str, dict[str, object]]]) -> bytes:
    return b"".join(canonical_bytes(line) + b"\n" for line in lines)


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("recipient", "Somebody else"),
        ("case", "TM/2026/0418"),
        ("issue", 7),
        ("pack", "00" * 32),
        ("encrypted", None),
        ("contents", "00" * 32),
        ("at", "2026-06-09T18:00:00+00:00"),
        ("by", "Nobody"),
    ],
)
def test_a_changed_member_is_found(log: Path, member: str, value: object) -> None:
    lines = lines_of(log)
    assert lines[2]["statement"][member] != value or member == "encrypted"
    lines[0]["statement"][member] = value
    with pytest.raises(TrustError):
        parse_releases(written(lines), path="releases.jsonl")


@pytest.mark.parametrize("number", [0, 1])
def test_a_line_taken_out_is_found(log: Path, number: int) -> None:
    lines = lines_of(log)
    del lines[number]
    with pytest.raises(ProofError, match="was changed, taken out or put in") as caught:
        parse_releases(written(lines), path="releases.jsonl")
    assert caught.value.line == number + 1
    assert caught.value.path == "releases.jsonl"


def test_lines_in_another_order_are_found(log: Path) -> None:
    lines = lines_of(log)
    lines[1], lines[2] = lines[2], lines[1]
    with pytest.raises(ProofError, match="was changed, taken out or put in"):
        parse_releases(written(lines), path="releases.jsonl")


def test_a_line_put_in_twice_is_found(log: Path) -> None:
    lines = lines_of(log)
    with pytest.raises(ProofError, match="was changed, taken out or put in") as caught:
        parse_releases(written([*lines, lines[2]]), path="releases.jsonl")
    assert caught.value.line == 4


def test_another_signature_for_the_line_before_breaks_the_chain(log: Path, signer: Signer) -> None:
    """The same statement signed once more: the chain is over the whole line."""
    lines = lines_of(log)
    content = canonical_bytes(lines[0]["statement"])
    again = sign_detached(
        content, key=signer.key, certificate=signer.certificate, intermediates=signer.chain
    )
    lines[0]["signature"] = base64.b64encode(again).decode()  # type: ignore[assignment]
    with pytest.raises(ProofError, match="was changed, taken out or put in") as caught:
        parse_releases(written(lines), path="releases.jsonl")
    assert caught.value.line == 2


def test_a_log_signed_by_somebody_unknown_is_refused_where_anchors_are_given(log: Path) -> None:
    other = DemoAuthority.create(name="Another", now=SEALED_AT)
    assert read_releases(log)
    with pytest.raises(TrustError):
        read_releases(log, anchors=[other.root.certificate])


def test_an_acknowledgement_without_its_pack_is_refused(log: Path, signer: Signer) -> None:
    line = LogLine(
        number=1, previous=None, at=AT, by="H. Undersedge", signature=b"",
        said=Acknowledgement(pack=PACK.pack, code="K7QM-2XHP", who="R. Moss", how="post", when=AT),
    )  # fmt: skip
    signature = sign_detached(
        line.statement_bytes(), key=signer.key, certificate=signer.certificate,
        intermediates=signer.chain,
    )  # fmt: skip
    data = replace(line, signature=signature).to_bytes() + b"\n"
    with pytest.raises(ProofError, match="acknowledges a pack that the log has not before it"):
        parse_releases(data, path="releases.jsonl")


CUT: list[tuple[Callable[[bytes], bytes], str]] = [
    (lambda data: data[:-1], "the last line of the release log is not whole"),
    (lambda data: data[:-40], "the last line of the release log is not whole"),
    (lambda data: b"\n" + data, "JSON|canonical|empty"),
    (lambda data: data.replace(b'{"signature"', b'{ "signature"', 1), "canonical"),
    (lambda data: b"\xef\xbb\xbf" + data, "BOM|byte order"),
]


@pytest.mark.parametrize("number", range(len(CUT)))
def test_a_log_of_another_form_is_refused(log: Path, number: int) -> None:
    change, message = CUT[number]
    with pytest.raises(ProofError, match=message) as caught:
        parse_releases(change(log.read_bytes()), path="releases.jsonl")
    assert caught.value.path == "releases.jsonl"
    assert caught.value.line is not None


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda line: line["statement"].update(more=1), "members that this format does not know"),
        (lambda line: line.update(more=1), "members that this format does not know"),
        (lambda line: line["statement"].pop("day"), 'lacks "day"'),
        (lambda line: line["statement"].update(type="promise"), '"type"'),
        (lambda line: line["statement"].update(version=2), '"version"'),
        (lambda line: line["statement"].update(case=" "), '"case"'),
        (lambda line: line["statement"].update(case="x" * 501), '"case"'),
        (lambda line: line["statement"].update(pack="AB" * 32), '"pack"'),
        (lambda line: line["statement"].update(at="2026-06-03 18:00"), '"at"'),
        (lambda line: line.update(signature="####"), '"signature"'),
        (lambda line: line.update(signature="QQ="), '"signature"'),
        (lambda line: line.update(signature="QR=="), '"signature"'),
    ],
)
def test_a_line_of_another_form_is_refused(
    log: Path, change: Callable[[object], object], message: str
) -> None:
    lines = lines_of(log)
    change(lines[0])
    with pytest.raises(ProofError, match=message) as caught:
        parse_releases(written(lines), path="releases.jsonl")
    assert caught.value.line == 1


def test_any_changed_byte_of_the_log_is_found(
    tmp_path: Path, signer: Signer, authority: DemoAuthority
) -> None:
    """With an anchor, since without one nobody vouches for the certificate inside a signature."""
    anchors = [authority.root.certificate]
    path = tmp_path / "releases.jsonl"
    append_release(path, PACK, at=AT, by="H. Undersedge", signer=signer)
    whole = path.read_bytes()
    for at in range(len(whole)):
        changed = bytearray(whole)
        changed[at] ^= 1 << at % 8
        with pytest.raises((ProofError, TrustError)):
            parse_releases(bytes(changed), path="releases.jsonl", anchors=anchors)


def test_a_log_that_cannot_be_read_is_said(tmp_path: Path, signer: Signer) -> None:
    with pytest.raises(UsageError, match="cannot be read or written: Is a directory") as caught:
        read_releases(tmp_path)
    assert caught.value.path == str(tmp_path)
    with pytest.raises(UsageError, match="cannot be read or written: Is a directory"):
        append_release(tmp_path, PACK, at=AT, by="H. Undersedge", signer=signer)


def test_a_log_at_the_limit_is_read_and_one_past_it_refused(
    log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    size = log.stat().st_size
    monkeypatch.setattr(releases, "MAX_LOG_BYTES", size)
    assert len(read_releases(log)) == 3
    monkeypatch.setattr(releases, "MAX_LOG_BYTES", size - 1)
    with pytest.raises(ProofError, match="the release log is too large"):
        read_releases(log)


# Acknowledgement codes


def test_the_same_disclosed_to_two_recipients_has_two_codes(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    """Else a code that one of them reads back would be put on record for the other."""
    bundle = opened_bundle(sealed_day)
    codes = set()
    for number, recipient in enumerate(["Defence of one", "Defence of another"], start=1):
        decisions = load_decisions(
            filled(draft_decisions(bundle, ["C1"]), recipient=recipient).encode(), path="d"
        )
        made, pack = make(
            sealed_day, decisions, tmp_path / f"{number}.zip", random=FixedRandom(number)
        )
        members = parts(pack)
        before = list(members)[: list(members).index(layout.INDEX)]
        top = made.statement.pack
        named = {f"{top}/{name}": sha256(members[name]).hex() for name in before}
        assert made.contents == sha256(
            json.dumps(named, sort_keys=True, separators=(",", ":")).encode()
        )
        codes.add(acknowledgement_code(made.contents))
    assert len(codes) == 2


@given(contents=st.binary(min_size=32, max_size=32))
def test_a_code_is_two_groups_and_is_read_back_in_any_writing(contents: bytes) -> None:
    code = acknowledgement_code(contents)
    assert [len(group) for group in code.split("-")] == [4, 4]
    assert read_code(f" {code.lower().replace('-', ' ')} ") == code


def test_codes_of_different_packs_differ() -> None:
    codes = {acknowledgement_code(sha256(b"%d" % number)) for number in range(3000)}
    assert len(codes) == 3000


def test_a_digest_of_another_length_has_no_code() -> None:
    with pytest.raises(ProofError):
        acknowledgement_code(bytes(31))


@pytest.mark.parametrize("text", ["", "K7QM", "K7QM-2XHP-2", "K7QM-2XH0", "I7QM-2XHP"])
def test_a_misread_code_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="no acknowledgement code, or it was misheard"):
        read_code(text)


def test_a_code_with_one_wrong_character_is_refused(log: Path, signer: Signer) -> None:
    code = acknowledgement_code(PACK.contents)
    wrong = ("3" if code[0] == "2" else "2") + code[1:]
    before = log.read_bytes()
    with pytest.raises(UsageError, match="misheard"):
        acknowledge(
            log, code=wrong, who="R. Moss", how="telephone", when=AT, at=AT, by="H. Undersedge",
            signer=signer,
        )  # fmt: skip
    assert log.read_bytes() == before


def test_the_code_of_a_pack_that_is_not_in_the_log_is_refused(log: Path, signer: Signer) -> None:
    code = acknowledgement_code(sha256(b"another pack"))
    with pytest.raises(UsageError, match="no pack in the release log has this code") as caught:
        acknowledge(
            log, code=code, who="R. Moss", how="post", when=AT, at=AT, by="H. Undersedge",
            signer=signer,
        )  # fmt: skip
    assert caught.value.observed == code


def test_acknowledging_in_a_log_that_is_not_there_is_refused_and_makes_none(
    tmp_path: Path, signer: Signer
) -> None:
    path = tmp_path / "releases.jsonl"
    with pytest.raises(UsageError, match="cannot be read or written"):
        acknowledge(
            path, code=acknowledgement_code(PACK.contents), who="R. Moss", how="post", when=AT,
            at=AT, by="H. Undersedge", signer=signer,
        )  # fmt: skip
    assert not path.exists()


@pytest.mark.parametrize("who", ["", "  ", "x" * 501])
def test_an_acknowledgement_says_who(log: Path, signer: Signer, who: str) -> None:
    before = log.read_bytes()
    with pytest.raises(ProofError, match='"who"'):
        acknowledge(
            log, code=acknowledgement_code(PACK.contents), who=who, how="post", when=AT, at=AT,
            by="H. Undersedge", signer=signer,
        )  # fmt: skip
    assert log.read_bytes() == before


# Receipts


def receipt(release: Release = PACK, **changes: object) -> bytes:
    made = Receipt(
        pack=release.pack, case=release.case, recipient=release.recipient, issue=release.issue,
        received_by="R. Moss", received_at=AT,
    )  # fmt: skip
    return replace(made, **changes).to_bytes()


def signed(content: bytes, signer: Signer) -> bytes:
    return sign_detached(
        content, key=signer.key, certificate=signer.certificate, intermediates=signer.chain
    )


def test_a_signed_receipt_is_checked_and_kept_byte_for_byte(
    log: Path, signer: Signer, authority: DemoAuthority
) -> None:
    content = receipt(SECOND)
    signature = signed(content, signer)
    record_receipt(
        log, content, signature, anchors=[authority.root.certificate], at=AT, by="H. Undersedge",
        signer=signer,
    )  # fmt: skip
    line = read_releases(log)[-1]
    assert line.said == SignedReceipt(content=content, signature=signature)
    assert isinstance(line.said, SignedReceipt)
    assert line.said.receipt == Receipt(
        pack=SECOND.pack, case=SECOND.case, recipient=SECOND.recipient, issue=2,
        received_by="R. Moss", received_at=AT,
    )  # fmt: skip


def test_a_receipt_over_other_content_is_refused(log: Path, signer: Signer) -> None:
    signature = signed(receipt(), signer)
    before = log.read_bytes()
    with pytest.raises(TrustError):
        record_receipt(
            log, receipt(received_by="Somebody else"), signature, anchors=[], at=AT,
            by="H. Undersedge", signer=signer,
        )  # fmt: skip
    assert log.read_bytes() == before


def test_a_receipt_by_somebody_unknown_is_refused_where_anchors_are_given(signer: Signer) -> None:
    other = DemoAuthority.create(name="Another", now=SEALED_AT)
    content = receipt()
    with pytest.raises(TrustError):
        check_receipt(
            content, signed(content, signer), releases=[PACK], anchors=[other.root.certificate],
            at=AT, path="receipt.json",
        )  # fmt: skip


def test_a_receipt_for_a_pack_of_another_log_is_refused(signer: Signer) -> None:
    content = receipt(pack=sha256(b"elsewhere"))
    with pytest.raises(ProofError, match="for a pack that the release log does not have"):
        check_receipt(
            content, signed(content, signer), releases=[PACK, SECOND], anchors=[], at=AT,
            path="receipt.json",
        )  # fmt: skip


@pytest.mark.parametrize(
    "changes", [{"case": "TM/2026/0418"}, {"recipient": "Somebody else"}, {"issue": 2}]
)
def test_a_receipt_that_says_otherwise_than_the_log_is_refused(
    signer: Signer, changes: dict[str, object]
) -> None:
    content = receipt(**changes)
    with pytest.raises(ProofError, match="says otherwise than the release log") as caught:
        check_receipt(
            content, signed(content, signer), releases=[PACK], anchors=[], at=AT,
            path="receipt.json",
        )  # fmt: skip
    assert caught.value.expected != caught.value.observed


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "JSON|empty"),
        (b"{}", 'lacks "type"'),
        (receipt() + b"\n", "canonical|JSON"),
        (receipt().replace(b'"receipt"', b'"release"'), '"type"'),
        (receipt().replace(b'"version":1', b'"version":2'), '"version"'),
        (b" " * 16_385, "too large"),
    ],
)
def test_a_receipt_of_another_form_is_refused(content: bytes, message: str, signer: Signer) -> None:
    with pytest.raises(ProofError, match=message) as caught:
        check_receipt(
            content, signed(content, signer), releases=[PACK], anchors=[], at=AT,
            path="receipt.json",
        )  # fmt: skip
    assert caught.value.path == "receipt.json"


def test_openssl_makes_a_receipt_that_is_taken(
    tmp_path: Path, authority: DemoAuthority, signer: Signer
) -> None:
    from cryptography.hazmat.primitives.serialization import NoEncryption, PrivateFormat

    content = receipt()
    (tmp_path / "receipt.json").write_bytes(content)
    (tmp_path / "signer.pem").write_bytes(signer.certificate.public_bytes(Encoding.PEM))
    (tmp_path / "chain.pem").write_bytes(
        b"".join(one.public_bytes(Encoding.PEM) for one in signer.chain)
    )
    (tmp_path / "signer.key").write_bytes(
        signer.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    )
    chain = ["-certfile", "chain.pem"] if signer.chain else []
    subprocess.run(
        [require_program("openssl"), "cms", "-sign", "-binary", "-in", "receipt.json", "-signer",
         "signer.pem", "-inkey", "signer.key", *chain, "-md", "sha256", "-nosmimecap", "-outform",
         "DER", "-out", "receipt.p7s"],
        cwd=tmp_path, check=True, capture_output=True,
    )  # fmt: skip
    found, release, _ = check_receipt(
        content, (tmp_path / "receipt.p7s").read_bytes(), releases=[SECOND, PACK],
        anchors=[authority.root.certificate], at=AT, path="receipt.json",
    )  # fmt: skip
    assert release == PACK
    assert found.received_at == datetime(2026, 6, 3, 18, 0, tzinfo=UTC)
