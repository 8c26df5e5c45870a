// What each step means to a person who is no engineer, and how to repeat it by hand. The commands
// are those of VERIFY.txt in every bundle.

import type { Verdict } from "../verifying/report.ts";

export interface StepWords {
  question: string;
  meaning: string;
  byHand: string;
  /** What the command must answer, or why there is none. */
  answer: string;
}

export const SENTENCES: Record<Verdict, string> = {
  "verified": "Every step that applies holds, or says why it was not run.",
  "verified, time only as claimed": "The time is only as claimed by whoever signed.",
  "does not verify": "See each step that fails, and what to do.",
  "intact, but signer or time not established":
    "Nothing was altered since it was signed, but who signed it, or when, is not established by "
    + "certificates that you trust.",
};

export const HEADLINES: Record<Verdict, string> = {
  "verified": "Verified",
  "verified, time only as claimed": "Verified, time only as claimed",
  "does not verify": "Does not verify",
  "intact, but signer or time not established": "Intact, but signer or time not established",
};

/** What the time is called that the statement of each claims. */
export const CLAIMED: Record<string, string> = {
  sealer: "Sealing time as claimed", discloser: "Disclosure time as claimed",
};

const CHAIN = `python3 - <<'END'
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
END`;

/** By number of the step. `reference` is the name of the folder in the bundle. */
export function stepWords(number: number, file: string, reference: string): StepWords {
  const all: Record<number, StepWords> = {
    1: {
      question: "Can the file be read in one way only?",
      meaning:
        "A bundle is one ZIP file. Some ZIP files are made so that one program shows other contents "
        + "than the next. This step follows every byte and refuses a file that two programs could "
        + "read differently.",
      byHand: `unzip -q ${file}\ncd ${reference}`,
      answer: "It must unpack without a warning. (An unzip program is less strict than this step.)",
    },
    2: {
      question: "Is every file there, unchanged, and nothing else?",
      meaning:
        "A list inside the bundle gives a fingerprint (SHA-256) of each file. Change one letter of a "
        + "file, and its fingerprint is another. Each file must be on the list once, with the right "
        + "fingerprint, and no file may stand beside the list.",
      byHand: "sha256sum -c manifest-sha256.txt\nsha256sum -c tagmanifest-sha256.txt",
      answer: "Each line must end in OK.",
    },
    3: {
      question: "Is the ledger the one that was signed?",
      meaning:
        "The ledger has one line for each file, record and finding. Every line is linked to the one "
        + "before it, like numbered pages sewn into a book. Take out, add, alter or swap a line, and "
        + "the last link is another than the one that was signed.",
      byHand: CHAIN,
      answer: "The three must be as in seal/statement.json.",
    },
    4: {
      question: "Do the contents match the ledger?",
      meaning:
        "Each file is compared with the ledger line that was made for it, each recorded value with "
        + "what its line commits to, and no file may be there that the ledger or the signed "
        + "statement does not know.",
      byHand: "sha256sum seal/ledger.jsonl seal/openings.jsonl index.pdf VERIFY.txt",
      answer:
        "Compare with “pinned” in seal/statement.json. That each value opens takes a few lines of "
        + "one's own, from the format document.",
    },
    5: {
      question: "Is the signature valid?",
      meaning:
        "The sealer signed one small statement that fixes all of the above. This step shows that the "
        + "signature was made over exactly this statement, with the key that belongs to the "
        + "certificate in the file. It does not say whose key that is.",
      byHand:
        "openssl cms -verify -binary -inform DER -in seal/statement.p7s \\\n"
        + "  -content seal/statement.json -CAfile ../AUTHORITY.pem -out /dev/null",
      answer:
        "The last line must be “CMS Verification successful”. Add -attime SECONDS (the sealing time "
        + "as a Unix time) once the certificates have expired. The command does steps 5 and 6 at once.",
    },
    6: {
      question: "Is the signer known to somebody you trust?",
      meaning:
        "A certificate says whose key it is, and an authority vouches for it. Whether to believe that "
        + "authority is your choice: this page believes only certificates that you load, and never "
        + "one that came in the file. Compare the fingerprint with the unit's sheet.",
      byHand: "openssl x509 -in AUTHORITY.pem -noout -subject -fingerprint -sha256",
      answer: "Compare with what the authority itself told you.",
    },
    7: {
      question: "Is the time established?",
      meaning:
        "A time-stamp authority, a third party, signed that this signature existed at a certain "
        + "moment. Without it, the time is only what the sealer's computer said.",
      byHand:
        "openssl ts -verify -in seal/statement.tsr -data seal/statement.p7s \\\n"
        + "  -CAfile ../TSA-AUTHORITY.pem\nopenssl ts -reply -in seal/statement.tsr -text",
      answer: "The answer must be “Verification: OK”; the second command shows the time.",
    },
    8: {
      question: "Do records and findings follow from the originals?",
      meaning:
        "evidpack's command line can read the original files again, decode the pictures, and run the "
        + "same checks with the same limits: all must come out as sealed. This page does not do that. "
        + "It shows the sealed records and findings as they were sealed.",
      byHand:
        `evidpack verify ${file} --anchor AUTHORITY.pem --tsa-anchor TSA-AUTHORITY.pem`,
      answer: "Step 8 of its output must hold.",
    },
    9: {
      question: "Is everything accounted for?",
      meaning:
        "A pack for disclosure holds a part of a day, and says of each other entry why it was "
        + "withheld. A bundle withholds nothing, so there is nothing to account for.",
      byHand: "",
      answer: "There is no command for a bundle.",
    },
  };
  return all[number];
}

export const CAUTIONS: readonly string[] = [
  "Checks organise evidence and are not legal advice; they decide neither guilt nor admissibility. "
  + "The device handbook, approval conditions, local codes and licensed practice come first.",
  "Default limits are examples of a stated edition, to be confirmed locally.",
  "Disclosure decisions are the prosecutor's.",
  "A bundle holds everyone's data of the day: it is for the unit and the prosecutor only.",
  "Revocation of certificates is checked only where you give the authorities' lists.",
  "Whoever holds the signing key and its passphrase can sign in that name.",
  "This page is only as honest as the file it came in. Compare the digest below with the one that "
  + "the makers publish or that evidpack printed when it wrote the page.",
];
