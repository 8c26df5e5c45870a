"""The fixed texts of a pack's index, in one place so that they can be read as one."""

from __future__ import annotations

from typing import Final

PACK_WARNING: Final = (
    "For the recipient named on the first page, for this case alone. It may hold personal data: keep "
    "it as such, and destroy it when the case allows."
)

PACK_PLAIN_WORDS: Final = (
    "The day was sealed as a numbered list. Every file, line and finding of it has a fingerprint, and "
    "one signature covers all of them. This pack has the fingerprint of every entry on that list, and "
    "the entries themselves only where they are disclosed. So anyone can check three things: that "
    "what is shown is what was sealed; that every other entry is counted, with its place on the list "
    "and what became of it; and that nothing was left out in silence. A fingerprint cannot be turned "
    "back into what it was made from, and here not even a right guess can be confirmed. The discloser "
    "signed this pack; the sealer signed the list. They may be the same person, and either could say "
    "something untrue in words of their own."
)

PACK_PROVED: Final = (
    (
        "Each released file is the one that was sealed, byte for byte; each value shown is the one "
        "that was sealed, character for character."
    ),
    (
        "Each redacted copy equals the picture that was sealed everywhere outside the grey areas. "
        "That the picture was decoded from its original file is shown only by checking the whole "
        "bundle."
    ),
    (
        "The list of the sealed day has as many entries as this pack accounts for, each exactly once, "
        "in the order in which they were sealed."
    ),
    "Who signed this pack and who signed the seal, as far as the reader trusts the authorities.",
)

PACK_NOT_PROVED: Final = (
    (
        "That the description of something withheld is true: it is the word of whoever decided, and "
        "so is its reason."
    ),
    "That everything which should have been disclosed is disclosed.",
    (
        "That a line shown agrees with the log file it was read from: that rests on the verification "
        "of the whole bundle, of which the first page speaks."
    ),
    "That a measurement was right, or that a clock was right.",
    "That the export was complete, or unaltered, before it was sealed; or the order of capture.",
    "That no other seal, and no supplement, of the same day exists.",
    "Who was driving, whether anybody is guilty, or whether anything is admissible.",
)

VERIFIED_BEFORE: Final = (
    "Before this pack was made, the whole bundle was checked on {at} with the outcome “{verdict}”, as "
    "the discloser states; the report has the SHA-256 below and can be asked for. On that check rests "
    "that the lines shown agree with the logs they were read from."
)
NOT_VERIFIED_BEFORE: Final = (
    "The discloser does not say that the whole bundle was checked before this pack was made. Nothing "
    "here shows that the lines shown agree with the logs they were read from: ask for a report."
)

ACKNOWLEDGE: Final = (
    "Please read this code back, by any way you like, to whoever gave you the pack. It shows that the "
    "pack arrived and was opened, and binds you to nothing. It is derived from the contents, so it "
    "belongs to this issue alone."
)

RELIED_ON_INTRO: Final = "What the prosecution relies on."
UNUSED_INTRO: Final = (
    "What the prosecution does not rely on and which may bear on the case. What is not shown is "
    "described, so that a reader can decide whether to ask for it."
)
NOT_RELEVANT_INTRO: Final = "Shown or described although nobody holds it to bear on the case."

REDACTIONS_INTRO: Final = (
    "Each copy below is a lossless picture in which areas are covered in flat grey. An area asked for "
    "was widened by at least 16 pixels and rounded out to whole squares of 32 × 32 pixels, since the "
    "pixels beside a covered area can give away what is under it. The copy has no metadata. The name, "
    "size and fingerprint of its original stay closed: with them a reader could confirm a guess at "
    "what is covered."
)
NO_REDACTIONS: Final = "No picture in this pack is redacted."
CLOSED_INTRO: Final = "In the following exhibits single fields are kept closed; the rest is shown."

FINDINGS_INTRO: Final = (
    "What the checks said when the day was sealed, as far as it is disclosed. A black bar marks what "
    "is adverse: fail, query, or not determinable where the rule set requires the input."
)

INSPECT_INTRO: Final = (
    "Not in this pack, and to be viewed by appointment with whoever gave it to you. Give the exhibit "
    "number."
)
WITHHELD_INTRO: Final = (
    "Counted by kind. The numbers are places on the sealed list; disclosure/accounting.jsonl has one "
    "line for each. Withheld entries of a kind are described in the same fixed words."
)
WITHHELD_DESCRIBED: Final = "Withheld with a description of their own:"
WITHDRAWN_INTRO: Final = "Disclosed or listed in an earlier issue and no longer part of this one."

PACK_BY_HAND: Final = (
    (
        (
            "Unpack the pack with any unzip program and open its folder. Compare every file with its "
            "fingerprint:"
        ),
        "sha256sum -c manifest-sha256.txt\nsha256sum -c tagmanifest-sha256.txt",
    ),
    (
        (
            "The signatures of sealer and discloser, with the authority's certificate that you were "
            "given by another way (AUTHORITY.pem, beside the pack's folder):"
        ),
        (
            "openssl cms -verify -binary -inform DER -in origin/statement.p7s \\\n"
            "    -content origin/statement.json -CAfile ../AUTHORITY.pem -out /dev/null\n"
            "openssl cms -verify -binary -inform DER -in disclosure/statement.p7s \\\n"
            "    -content disclosure/statement.json -CAfile ../AUTHORITY.pem -out /dev/null"
        ),
    ),
    (
        (
            "That every file is the one whose fingerprint the discloser signed (“pinned” in "
            "disclosure/statement.json), and no file is there that was not signed for: a few lines of "
            "Python in VERIFY.txt. Without this, matching lists of fingerprints prove little: whoever "
            "changes a file can mend the list."
        ),
        "",
    ),
    (
        (
            "That the fingerprints of all entries give the chain head and tree root of the seal, and "
            "that what is shown is among them: a few lines of Python in VERIFY.txt. That a time stamp "
            "is over its signature: “openssl ts”, in VERIFY.txt too."
        ),
        "",
    ),
    (
        "All of it at once, the redacted copies too (in the folder of PACK.zip):",
        "evidpack verify PACK.zip --anchor AUTHORITY.pem --tsa-anchor TSA-AUTHORITY.pem",
    ),
)
PACK_BY_HAND_NOTE: Final = (
    "No printed page proves itself. disclosure/statement.json, which the discloser signed, pins the "
    "SHA-256 of this index and of every other file of the pack."
)

PACK_CAUTIONS: Final = (
    (
        "The checks put evidence in order. They are not legal advice, and they decide neither guilt "
        "nor whether evidence may be used."
    ),
    (
        "The handbook of the device, the conditions of its approval, local codes and licensed practice "
        "come before any default used here."
    ),
    (
        "Limits, intervals and dates in a rule set are examples of the stated edition; a lawyer "
        "licensed where the case is heard has to confirm them."
    ),
    (
        "A pass means that the records supplied agree with one another and with the rule set. It does "
        "not mean that the records are true. Not determinable is not a pass."
    ),
    (
        "Times are shown as they were recorded. Offsets between clocks are estimates, and no recorded "
        "time has been changed to fit one."
    ),
    (
        "What is disclosed, and to whom, is for the prosecutor to decide. If something is missing, ask "
        "for it, and name the exhibit or the place on the list."
    ),
    (
        "Pictures in this index are reduced copies for finding one's way. The evidence is the file "
        "named beside each."
    ),
)
