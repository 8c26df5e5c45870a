"""VERIFY.txt: how to check a bundle with standard tools, exact commands.

The text names no certificate and no digest of this bundle: those come to the reader by another
way.  A test runs exactly these commands.
"""

from __future__ import annotations

from typing import Final

from evidpack.container import layout

_CHAIN_AND_ROOT: Final = """python3 - <<'END'
import hashlib
def H(*parts): return hashlib.sha256(b"".join(parts)).digest()
lines = open("seal/ledger.jsonl", "rb").read().split(b"\\n")[:-1]
leaves = [H(b"\\x00", line) for line in lines]
link = bytes(32)
for leaf in leaves:
    link = H(b"\\x02", link, leaf)
def root(n):
    if len(n) == 1: return n[0]
    k = 1
    while 2 * k < len(n): k *= 2
    return H(b"\\x01", root(n[:k]), root(n[k:]))
print("entries   ", len(leaves))
print("chain_head", link.hex())
print("tree_root ", root(leaves).hex())
END"""

_TEXT: Final = """\
HOW TO CHECK THIS BUNDLE WITHOUT EVIDPACK
Day reference: {reference}

This bundle and its index hold everyone's data of the day. They are for the unit and the
prosecutor only.

You need: an unzip program, sha256sum, OpenSSL 3, Python 3 (for step 3 only), and two
certificates that did not come with this file: the authority that certifies the sealer
(AUTHORITY.pem) and the time-stamp authority's root (TSA-AUTHORITY.pem). Ask the unit for
them by another way, and compare their fingerprints with the unit's fingerprint sheet.
The numbers are those of the verification steps in evidpack's format document.

Put BUNDLE.zip and the two certificates into an empty folder, and work there. Commands stand
between lines of dashes.

1 and 2. Container and bag: unpack, then compare every file with its
digest. Each line must end in OK; the second list must name every other file.

--- commands ---
unzip -q BUNDLE.zip
cd {reference}
sha256sum -c {manifest}
sha256sum -c {tag_manifest}
----------------

3. Ledger: recompute the hash chain and the tree from the ledger's lines, and compare with
"chain_head" and "tree_root" in {statement}.

--- commands ---
{chain}
----------------

4. Contents: compare these digests with "pinned" in {statement}. (That each
ledger line opens to the values in {openings} is checked by evidpack, or by a
few lines of your own from the format document, section Commitments.)

--- commands ---
sha256sum {pinned}
----------------

5 and 6. Signature and signer: the last line must be "CMS Verification successful". Add
-attime SECONDS (the sealing time as a Unix time) once the certificates have expired.

--- commands ---
openssl cms -verify -binary -inform DER -in {signature} -content {statement} -CAfile ../AUTHORITY.pem -out /dev/null
----------------
{time}
What this does not prove: that a measurement or a clock was right; that the export was
complete or unaltered before it was sealed; the order in which captures were taken; that no
other seal of the same day exists; who was driving, or anything about guilt or admissibility.
"""

_WITH_TIME: Final = """
7. Time: the token covers the signature file. The answer must be "Verification: OK".

--- commands ---
openssl ts -verify -in {token} -data {signature} -CAfile ../TSA-AUTHORITY.pem
openssl ts -reply -in {token} -text
----------------
"""

_WITHOUT_TIME: Final = """
7. Time: this bundle carries no time stamp. The time in {statement} is the time
as claimed by the sealer.
"""


def verify_text(*, reference: str, time_stamp: bool) -> bytes:
    """The whole of VERIFY.txt for one bundle, UTF-8 with line feeds."""
    names = {
        "statement": layout.STATEMENT,
        "signature": layout.SIGNATURE,
        "token": layout.TOKEN,
    }
    time = (_WITH_TIME if time_stamp else _WITHOUT_TIME).format(**names)
    return _TEXT.format(
        **names,
        reference=reference,
        manifest=layout.MANIFEST,
        tag_manifest=layout.TAG_MANIFEST,
        openings=layout.OPENINGS,
        pinned=" ".join(layout.PINNED_BY_SEAL),
        chain=_CHAIN_AND_ROOT,
        time=time,
    ).encode()
