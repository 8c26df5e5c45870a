"""A verifier of packs written from docs/format.md alone: the standard library, Pillow and OpenSSL.

It knows nothing of evidpack. Run: python independent_verifier.py PACK.zip AUTHORITY.pem TSA.pem
It does not look at tables, headers of the archive and the form of a PNG; evidpack does.
"""

import hashlib
import io
import json
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

from PIL import Image

NEUTRAL = {
    "became": "withheld", "closed": [], "exhibit": None, "use": None,
    "reason": "Not due to this recipient.",
    "description": "Not disclosed here: data of other people, or material that is not due to this recipient.",
}  # fmt: skip


def need(holds, what):
    if not holds:
        raise SystemExit(f"DOES NOT VERIFY: {what}")


def H(*parts):  # noqa: N802
    return hashlib.sha256(b"".join(parts)).digest()


def jcs(value):  # enough for values without floats in exponent form
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return text.encode()


def root(nodes):
    if len(nodes) == 1:
        return nodes[0]
    split = 1
    while 2 * split < len(nodes):
        split *= 2
    return H(b"\x01", root(nodes[:split]), root(nodes[split:]))


def openssl(*arguments):
    done = subprocess.run(["openssl", *map(str, arguments)], capture_output=True, check=False)
    return done.returncode == 0


def signed(files, folder, name, authority, tsa, required):
    statement, signature, token = (folder / f"s.{part}" for part in ("json", "p7s", "tsr"))
    for path in (statement, signature, token):
        path.write_bytes(files.get(name + path.suffix, b""))
    options = ["-binary", "-inform", "DER", "-in", signature, "-content", statement]
    holds = openssl("cms", "-verify", *options, "-CAfile", authority, "-out", "/dev/null")
    need(holds, f"signature of {name}")
    holds = openssl("ts", "-verify", "-in", token, "-data", signature, "-CAfile", tsa)
    need(holds or not required, f"time stamp of {name}")


def redacted_copy(files, exhibit, opened, record):
    """Open tiles give their digest from the pixels, closed ones are grey and have theirs in the list."""
    image = Image.open(io.BytesIO(files[f"data/redacted/exhibit-{exhibit}.png"]))
    size = (opened["width_px"]["value"], opened["height_px"]["value"])
    need(image.mode == "RGB" and image.size == size and not image.info, f"exhibit {exhibit}")
    lines = files[f"disclosure/tiles/exhibit-{exhibit}.txt"].decode().splitlines()
    places = [(x, y) for y in range(0, size[1], 32) for x in range(0, size[0], 32)]
    need(len(lines) == len(places), f"tiles of exhibit {exhibit}")
    nodes, closed = [], []
    for number, (line, (x, y)) in enumerate(zip(lines, places, strict=True)):
        word, digits = line.split(" ")
        tile = image.crop((x, y, min(x + 32, size[0]), min(y + 32, size[1]))).tobytes()
        if word == "closed":
            need(set(tile) == {0x80}, f"tile {number} of exhibit {exhibit} is flat")
            closed.append(number)
        given = bytes.fromhex(digits)
        nodes.append(given if word == "closed" else H(b"\x04", given, tile))
    need(root(nodes).hex() == opened["pixel_root"]["value"], f"pixels of exhibit {exhibit}")
    need(record["exhibit"] == exhibit and record["tiles"] == closed, f"record of {exhibit}")


def main(pack, authority, tsa):
    with zipfile.ZipFile(pack) as archive:
        names = archive.namelist()
        need(len(set(names)) == len(names), "a name twice")
        top = names[0].split("/")[0]
        need(all(name.startswith(top + "/") for name in names), "one folder")
        files = {name[len(top) + 1 :]: archive.read(name) for name in names}
    said = json.loads(files["disclosure/statement.json"])
    seal = json.loads(files["origin/statement.json"])
    need(said["pack"] == top and said["type"] == "disclosure" and said["version"] == 1, "statement")
    need((said["issue"] == 1) == (said["previous"] is None), "issue")
    need(said["day"] == seal["day"], "day")
    need(hashlib.sha256(files["origin/statement.json"]).hexdigest() == said["origin"], "origin")
    own = {f"disclosure/statement.{part}" for part in ("json", "p7s", "tsr")}
    own |= {"manifest-sha256.txt", "tagmanifest-sha256.txt"}
    digests = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    need({name: digests[name] for name in files if name not in own} == said["pinned"], "pinned")
    for manifest, inside in (("manifest-sha256.txt", True), ("tagmanifest-sha256.txt", False)):
        listed = [name for name in sorted(files) if name.startswith("data/") is inside]
        lines = [
            f"{digests[name]}  {name}\n" for name in listed if name != "tagmanifest-sha256.txt"
        ]
        need(files[manifest].decode() == "".join(lines), manifest)

    leaves = [bytes.fromhex(line) for line in files["disclosure/leaves.txt"].decode().split()]
    link = bytes(32)
    for leaf in leaves:
        link = H(b"\x02", link, leaf)
    need(link.hex() == seal["chain_head"] and root(leaves).hex() == seal["tree_root"], "leaves")

    accounting = [
        json.loads(line) for line in files["disclosure/accounting.jsonl"].split(b"\n")[:-1]
    ]
    kinds = [kind for kind in ("file", "record", "finding") for _ in range(seal["entries"][kind])]
    need([(a["entry"], a["kind"]) for a in accounting] == list(enumerate(kinds)), "accounting")
    need(len(accounting) == len(leaves), "accounting is complete")
    counts = dict.fromkeys(said["accounting"], 0)
    for a in accounting:
        counts[a["became"]] += 1
        need(a["exhibit"] or {**a, **NEUTRAL} == a, f"neutral line of entry {a['entry']}")
    need(counts == said["accounting"], "counts")
    exhibits = [a["exhibit"] for a in accounting if a["exhibit"]]
    need(
        len(set(exhibits)) == len(exhibits) and max(exhibits, default=0) <= said["exhibits"],
        "exhibits",
    )

    shown = [a for a in accounting if a["became"] in ("released", "redacted")]
    lines = files["disclosure/entries.jsonl"].split(b"\n")[:-1]
    openings = [json.loads(line) for line in files["disclosure/openings.jsonl"].split(b"\n")[:-1]]
    need(len(shown) == len(lines) == len(openings), "revealed entries")
    expected = {name for name in files if name.startswith("data/derived/")}
    records = files.get("disclosure/redactions.jsonl", b"").split(b"\n")[:-1]
    records = {record["entry"]: record for record in map(json.loads, records)}
    for a, line, opening in zip(shown, lines, openings, strict=True):
        number, entry, fields = a["entry"], json.loads(line), opening["fields"]
        need(H(b"\x00", line) == leaves[number] and opening["entry"] == number, f"entry {number}")
        for name, field in fields.items():
            commitment = H(b"\x03", bytes.fromhex(field["salt"]), jcs([name, field["value"]]))
            need(entry["fields"].get(name) == commitment.hex(), f"field {name} of entry {number}")
        need(sorted(set(entry["fields"]) - set(fields)) == a["closed"], f"closed of entry {number}")
        if a["kind"] == "file" and a["became"] == "released":
            name = "data/" + fields["path"]["value"]
            expected.add(name)
            need(hashlib.sha256(files[name]).hexdigest() == fields["sha256"]["value"], name)
        elif a["kind"] == "file":
            expected.add(f"data/redacted/exhibit-{a['exhibit']}.png")
            need(number in records, f"redaction record of entry {number}")
            redacted_copy(files, a["exhibit"], fields, records.pop(number))
    need({name for name in files if name.startswith("data/")} == expected, "files under data/")
    need(not records, "redaction records")

    with tempfile.TemporaryDirectory() as folder:
        for name, statement in (("origin/statement", seal), ("disclosure/statement", said)):
            signed(files, Path(folder), name, authority, tsa, statement["time_stamp"] == "required")
    print(f"VERIFIED: {top}, {len(leaves)} entries, {len(shown)} revealed")


if __name__ == "__main__":
    main(*sys.argv[1:])
