"""VERIFY.txt of a pack: how to check it with standard tools, exact commands.

A test runs exactly these commands.
"""

from __future__ import annotations

from typing import Final

from evidpack.container import layout

_PYTHON: Final = """python3 - <<'END'
import hashlib, json
def H(*parts): return hashlib.sha256(b"".join(parts)).digest()
leaves = [bytes.fromhex(line) for line in open("{leaves}").read().split()]
link = bytes(32)
for leaf in leaves:
    link = H(b"\\x02", link, leaf)
def root(n):
    if len(n) == 1: return n[0]
    k = 1
    while 2 * k < len(n): k *= 2
    return H(b"\\x01", root(n[:k]), root(n[k:]))
seal = json.load(open("{origin}"))
said = [json.loads(line) for line in open("{accounting}", "rb")]
shown = [line["entry"] for line in said if line["became"] in ("released", "redacted")]
lines = open("{entries}", "rb").read().split(b"\\n")[:-1]
openings = [json.loads(line) for line in open("{openings}", "rb")]
assert link.hex() == seal["chain_head"] and root(leaves).hex() == seal["tree_root"]
assert [line["entry"] for line in said] == list(range(len(leaves)))
assert len(shown) == len(lines) == len(openings)
for number, line, opening in zip(shown, lines, openings):
    assert H(b"\\x00", line) == leaves[number] and opening["entry"] == number
print("entries   ", len(leaves), "revealed", len(lines))
END"""

_TEXT: Final = """\
HOW TO CHECK THIS PACK WITHOUT EVIDPACK
Pack: {reference}

This pack holds part of a sealed day: what was released, and one line for every sealed entry
that says what became of it. index.pdf says what it is in plain words.

You need: an unzip program, sha256sum, OpenSSL 3, Python 3, and two certificates that did not
come with this file: the authority that certifies sealer and discloser (AUTHORITY.pem) and
the time-stamp authority's root (TSA-AUTHORITY.pem). Ask the unit for them by another way,
and compare their fingerprints with the unit's fingerprint sheet.
The numbers are those of the verification steps in evidpack's format document.

Put PACK.zip and the two certificates into an empty folder, and work there. Commands stand
between lines of dashes.

1 and 2. Container and bag: unpack, then compare every file with its
digest. Each line must end in OK; the second list must name every other file.

--- commands ---
unzip -q PACK.zip
cd {reference}
sha256sum -c {manifest}
sha256sum -c {tag_manifest}
----------------

3, 4 and 9. The leaf digests of all sealed entries must give the chain head and the tree
root of {origin}; each revealed entry must have its leaf among them;
the accounting must take every entry once. (That each opened field was committed to is
checked by evidpack, or by some hundred lines of your own from the format document.)

--- commands ---
{python}
----------------

5 and 6. Signatures and signers, of the seal and of the disclosure: each must end in "CMS
Verification successful". Add -attime SECONDS (the time as a Unix time) once the
certificates have expired.

--- commands ---
openssl cms -verify -binary -inform DER -in {signature} -content {origin} -CAfile ../AUTHORITY.pem -out /dev/null
openssl cms -verify -binary -inform DER -in {own_signature} -content {statement} -CAfile ../AUTHORITY.pem -out /dev/null
----------------
{time}
What this does not prove: that the log from which a revealed row came says so (that rests on
the discloser's verification of the whole bundle, see "verification" in
{statement}); that the description of what is withheld is true (it
is the discloser's word); that a measurement or a clock was right; that the export was
complete or unaltered before it was sealed; that no other seal of the same day exists; who
was driving, or anything about guilt or admissibility.
"""

_WITH_TIME: Final = """
7. Time: a token covers each signature file. Each answer must be "Verification: OK".

--- commands ---
{commands}
----------------
"""

_WITHOUT_TIME: Final = """
7. Time: there is no time stamp over {whose}. That time is as claimed.
"""


def pack_verify_text(*, reference: str, origin_token: bool, time_stamp: bool) -> bytes:
    """The whole of VERIFY.txt for one pack, UTF-8 with line feeds.

    `origin_token` and `time_stamp` say whether the seal and the disclosure have time stamps.
    """
    names = {
        "leaves": layout.DISCLOSURE_LEAVES,
        "origin": layout.ORIGIN_STATEMENT,
        "accounting": layout.DISCLOSURE_ACCOUNTING,
        "entries": layout.DISCLOSURE_ENTRIES,
        "openings": layout.DISCLOSURE_OPENINGS,
    }
    python = _PYTHON
    for name, value in names.items():
        python = python.replace("{" + name + "}", value)
    return _TEXT.format(
        reference=reference,
        manifest=layout.MANIFEST,
        tag_manifest=layout.TAG_MANIFEST,
        origin=layout.ORIGIN_STATEMENT,
        signature=layout.ORIGIN_SIGNATURE,
        statement=layout.DISCLOSURE_STATEMENT,
        own_signature=layout.DISCLOSURE_SIGNATURE,
        python=python,
        time=_time(origin_token=origin_token, time_stamp=time_stamp),
    ).encode()


def _time(*, origin_token: bool, time_stamp: bool) -> str:
    pairs = (
        (origin_token, "the seal", layout.ORIGIN_TOKEN, layout.ORIGIN_SIGNATURE),
        (time_stamp, "the disclosure", layout.DISCLOSURE_TOKEN, layout.DISCLOSURE_SIGNATURE),
    )
    commands = [
        f"openssl ts -verify -in {token} -data {signature} -CAfile ../TSA-AUTHORITY.pem"
        for there, _, token, signature in pairs
        if there
    ]
    text = _WITH_TIME.format(commands="\n".join(commands)) if commands else ""
    lacking = " and ".join(whose for there, whose, _, _ in pairs if not there)
    return text + (_WITHOUT_TIME.format(whose=lacking) if lacking else "")
