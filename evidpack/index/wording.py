"""The fixed texts of the index and of the report, in one place so that they can be read as one."""

from __future__ import annotations

from typing import Final

WARNING: Final = (
    "Holds personal data of everyone captured that day. For the unit and the prosecutor only: "
    "not to be given to any other person as it stands."
)

PLAIN_WORDS: Final = (
    "Every file of the day, every line read from it and every finding was given a fingerprint: a "
    "number worked out from its content, which changes if one letter or one pixel changes. The "
    "chain ties the fingerprints together in the order of sealing. The tree joins them into one "
    "number, the root, so that a single exhibit can be checked without showing the others. The "
    "sealer signed both with a key. A time stamp, where there is one, is another body's word that "
    "the signature existed by then. So a later change shows. What remains possible: whoever holds "
    "the key could, before the time stamp or before telling anybody the root, have sealed "
    "something else."
)

PROVED: Final = (
    (
        "Which files, records and findings were sealed, and in what order they were sealed; none has "
        "since been altered, added, removed or moved."
    ),
    (
        "That the holder of the key named on the first page signed exactly this list. Whether that holder "
        "is who the name says rests on an anchor that the verifier trusts."
    ),
    "With a valid time stamp: that the signature existed at the time stamped.",
    "That these findings follow from the sealed material, as far as the checks can be run again.",
)

NOT_PROVED: Final = (
    "That a measurement was right, or that a clock was right.",
    "That the export was complete, or unaltered, before it reached the sealer.",
    "The order in which captures were made: the chain fixes the order of sealing.",
    "That no other seal, and no supplement, of the same day exists.",
    "Who was driving, whether anybody is guilty, or whether anything is admissible.",
)

CAUTIONS: Final = (
    (
        "The checks put evidence in order. They are not legal advice, and they decide neither guilt "
        "nor whether evidence may be used."
    ),
    (
        "The handbook of the device, the conditions of its approval, local codes and licensed practice "
        "come before any default used here."
    ),
    (
        "Limits, intervals and dates in a rule set are examples of the edition named on the first "
        "page; a lawyer licensed where the case is heard has to confirm them."
    ),
    (
        "A pass means that the records supplied agree with one another and with the rule set. It does "
        "not mean that the records are true."
    ),
    "Not determinable is not a pass: something needed for the check was not supplied.",
    (
        "Times are shown as they were recorded. Offsets between clocks are estimates, and no recorded "
        "time has been changed to fit one."
    ),
    "A capture joined by nearest time is an inference, and is marked as one.",
    (
        "What is disclosed, and to whom, is for the prosecutor to decide. A check that failed may "
        "itself be something that has to be disclosed."
    ),
    (
        "Pictures in this index are reduced copies for finding one's way. The evidence is the sealed "
        "original."
    ),
    (
        "Letters of scripts written from right to left are printed in the order in which they are "
        "stored. A character that these fonts lack is given by its number: the Chinese character for "
        "middle is 中."
    ),
)

BY_HAND: Final = (
    (
        (
            "Unpack the bundle with any unzip program and open its folder. Each file named in "
            "chapter {files} can be checked by itself:"
        ),
        "sha256sum data/PATH",
    ),
    (
        "All files at once, against the list in the bundle:",
        "sha256sum -c manifest-sha256.txt",
    ),
    (
        (
            "The signature over the seal statement, with the authority's certificate that you were "
            "given (anchor.pem):"
        ),
        (
            "openssl cms -verify -binary -inform DER -in seal/statement.p7s \\\n"
            "    -content seal/statement.json -CAfile anchor.pem -out signed-copy.json"
        ),
    ),
    (
        (
            "The time stamp over that signature, with the time-stamp authority's certificate "
            "(tsa.pem):"
        ),
        (
            "openssl ts -verify -data seal/statement.p7s \\\n"
            "    -in seal/statement.tsr -CAfile tsa.pem"
        ),
    ),
    (
        (
            "Then compare the chain head and tree root in seal/statement.json with those on the first "
            "page, and recompute both from seal/ledger.jsonl with the few lines in VERIFY.txt. All at "
            "once:"
        ),
        "evidpack verify BUNDLE.zip --anchor anchor.pem --tsa-anchor tsa.pem",
    ),
)
BY_HAND_NOTE: Final = (
    "No printed page proves itself. This index was written just before the seal statement was "
    "signed, and the statement pins its SHA-256: step 4 of verify compares them."
)

REPORT_WARNING: Final = (
    "Speaks only of the file whose SHA-256 stands above. Verify again for any other copy."
)

STEPS: Final = {
    1: "The container can be read in one way only: nothing hidden, doubled or added to it.",
    2: "Every file is listed once and matches its listed fingerprint; none is extra or missing.",
    3: "The list of sealed entries is in its one permitted form and gives the signed chain head "
    "and tree root.",
    4: "Each file and each value shown is the one that its sealed entry commits to.",
    5: "The signature fits the seal statement, which has not changed since it was signed.",
    6: "The signer's certificate leads to an anchor that the verifier trusts, and was valid.",
    7: "A trusted time-stamp authority vouches that the signature existed at a certain time.",
    8: "Reading the originals and running the checks again gives the sealed records and findings.",
    9: "Every sealed entry is accounted for once: released, redacted or withheld, with a reason.",
}

REPORT_NOT_PROVED: Final = (
    (
        "That a measurement or a clock was right, or that the export was complete or unaltered before "
        "it was sealed."
    ),
    (
        "The order of capture: the chain fixes the order of sealing. Nor that no other seal or "
        "supplement of the day exists."
    ),
    "That the description of a withheld entry is true: it is the word of whoever disclosed.",
    "Who was driving, or anything about guilt or admissibility.",
)

REPORT_CAUTIONS: Final = (
    (
        "Checks put evidence in order; they are not legal advice. The device's handbook, approval "
        "conditions and local codes come first, and limits are examples of a stated edition."
    ),
    (
        "An anchor is trusted because the verifier chose to: ask how its certificate was received, "
        "and compare its fingerprint with the sheet handed over."
    ),
    "Anyone can repeat this verification with the file and the same anchors.",
)
