"""VERIFY.txt of a pack: how to check it with standard tools, exact commands.

A test runs exactly these commands.
"""

from __future__ import annotations

from typing import Final

from evidpack.container import layout

_PINNED: Final = """python3 - <<'END'
import hashlib, json, os
said = json.load(open("{statement}", "rb"))
own = "{own}".split()
there = [os.path.join(folder, name) for folder, _, names in os.walk(".") for name in names]
there = {os.path.relpath(name).replace(os.sep, "/") for name in there} - set(own)
pinned = said["pinned"]
def digest(name): return hashlib.sha256(open(name, "rb").read()).hexdigest()
assert there == set(pinned), ("pinned or there, not both:", sorted(there ^ set(pinned)))
for name in pinned: assert digest(name) == pinned[name], ("not as signed:", name)
assert digest("{origin}") == said["origin"], "the statement names another seal"
print("pinned    ", len(pinned))
END"""

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
seal = json.load(open("{origin}", "rb"))
signed = json.load(open("{statement}", "rb"))
said = [json.loads(line) for line in open("{accounting}", "rb")]
shown = [line["entry"] for line in said if line["became"] in ("released", "redacted")]
lines = open("{entries}", "rb").read().split(b"\\n")[:-1]
texts = open("{openings}", encoding="utf-8", newline="\\n").read().split("\\n")[:-1]
openings = [json.loads(text) for text in texts]
assert link.hex() == seal["chain_head"] and root(leaves).hex() == seal["tree_root"]
assert [line["entry"] for line in said] == list(range(len(leaves)))
kinds = [kind for kind in ("file", "record", "finding") for _ in range(seal["entries"][kind])]
assert [line["kind"] for line in said] == kinds, "the seal counts other entries"
became = [line["became"] for line in said]
assert len(became) == sum(signed["accounting"].values()), "the statement counts other entries"
for name, count in signed["accounting"].items(): assert became.count(name) == count, name
assert len(shown) == len(lines) == len(openings)
for number, line, opening, text in zip(shown, lines, openings, texts):
    assert H(b"\\x00", line) == leaves[number] and opening["entry"] == number
    fields, opened, at = json.loads(line)["fields"], opening["fields"], text.index(":{") + 2
    for name in opened:
        at = text.index('","value":', at) + 10
        start, at = at, json.JSONDecoder().raw_decode(text, at)[1]
        value = "[" + json.dumps(name, ensure_ascii=False) + "," + text[start:at] + "]"
        salt = bytes.fromhex(opened[name]["salt"])
        assert H(b"\\x03", salt, value.encode()).hex() == fields[name], (number, name)
    assert not text[at:].strip("}"), ("an opening has more than its fields:", number)
    assert sorted(fields.keys() - opened.keys()) == sorted(said[number]["closed"]), number
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

Whoever changes a file can mend those lists, and this file too: read the commands before you
run them. Only what the discloser signed holds, which the next steps compare.

4. Contents: "pinned" in {statement} must name every file of the pack but
the statement, its signature and token and the two lists, each with its digest; and the
statement must name the enclosed seal.

--- commands ---
{pinned}
----------------

3, 4 and 9. The leaf digests of all sealed entries must give the chain head and the tree
root of {origin}; each revealed entry must have its leaf among them, and
each opened field its commitment; the accounting must take every entry once, and give the
counts of both statements. (Redacted copies tile by tile, and the derived tables, are
checked by evidpack.)

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
        "own": " ".join(sorted(layout.NOT_PINNED_BY_DISCLOSURE)),
        "statement": layout.DISCLOSURE_STATEMENT,
        "leaves": layout.DISCLOSURE_LEAVES,
        "origin": layout.ORIGIN_STATEMENT,
        "accounting": layout.DISCLOSURE_ACCOUNTING,
        "entries": layout.DISCLOSURE_ENTRIES,
        "openings": layout.DISCLOSURE_OPENINGS,
    }
    pinned, python = _PINNED, _PYTHON
    for name, value in names.items():
        pinned = pinned.replace("{" + name + "}", value)
        python = python.replace("{" + name + "}", value)
    return _TEXT.format(
        reference=reference,
        manifest=layout.MANIFEST,
        tag_manifest=layout.TAG_MANIFEST,
        origin=layout.ORIGIN_STATEMENT,
        signature=layout.ORIGIN_SIGNATURE,
        statement=layout.DISCLOSURE_STATEMENT,
        own_signature=layout.DISCLOSURE_SIGNATURE,
        pinned=pinned,
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
