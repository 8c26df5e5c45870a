// Verifying a file: the steps in order, each independent one even where another fails.

import type { Archive } from "../container/archive.ts";
import * as layout from "../layout.ts";
import { MAX_SIGNATURE_BYTES, MAX_TOKEN_BYTES } from "../limits.ts";
import { inUtc, momentOf } from "../moment.ts";
import type { SealStatement } from "../proof/statement.ts";
import { Refusal } from "../refusal.ts";
import { grouped, hex } from "../text.ts";
import { type Certificate, nameOf } from "../trust/certificates.ts";
import { digestOf } from "../trust/keys.ts";
import { type Answers, type NamedCertificate, type Report, type Step, step } from "./report.ts";
import type { SignedDocument, Trust } from "./signed_document.ts";
import { openContainer } from "./step1_container.ts";
import { examineBag } from "./step2_bag.ts";
import { type EntryListener, examineLedger } from "./step3_ledger.ts";
import { examineContents } from "./step4_contents.ts";
import { examineSignature } from "./step5_signature.ts";
import { examineSigner } from "./step6_signer.ts";
import { examineTime } from "./step7_time.ts";

export interface Options {
  fileName: string;
  onBytes: (count: number) => void;
  onStep: (number: number) => void;
  onEntry: EntryListener;
}

/** What the person at the screen chose, and when. It may change without reading the file again. */
export interface Judging {
  trust: Trust;
  acceptClaimedTime: boolean;
  verifiedAt: string;
}

/** A file after steps 1 to 4. */
export interface Examined {
  file: Blob;
  fileName: string;
  archive: Archive | null;
  statementBytes: Uint8Array;
  statement: SealStatement | null;
  steps: Step[];
}

/** Steps 1 to 4: the whole file is read once. */
export async function examine(file: Blob, options: Options): Promise<Examined> {
  const { fileName, onStep } = options;
  onStep(1);
  const opened = openContainer(file, fileName);
  if (!("archive" in opened)) {
    const statementBytes = new Uint8Array(0);
    return { file, fileName, archive: null, statementBytes, statement: null, steps: [opened] };
  }
  const { archive, statementBytes } = opened;
  onStep(2);
  const bag = await examineBag(archive, options.onBytes);
  onStep(3);
  const ledger = await examineLedger(archive, statementBytes, options.onEntry);
  onStep(4);
  const contents = examineContents(archive, ledger.statement, ledger.walk, bag.digests);
  const steps = [opened.step, bag.step, ledger.step, contents];
  return { file, fileName, archive, statementBytes, statement: ledger.statement, steps };
}

/** Steps 5 to 9, and the report on all. */
export async function judge(examined: Examined, judging: Judging): Promise<Report> {
  const { archive, statementBytes, statement } = examined;
  if (archive === null) return stopped(examined, judging);
  const { trust } = judging;
  const document = documentOf(archive, statementBytes, statement);
  const signed = await examineSignature(document);
  const time = await examineTime(document, trust, signed.signature);
  const signer = await examineSigner(document, trust, signed.signature, time.moment);
  return {
    fileName: examined.fileName,
    size: examined.file.size,
    sha256: null,
    kind: "bundle",
    reference: archive.top,
    statementSha256: hex(await digestOf("sha256", statementBytes)),
    claimedTime: statement?.claimedTime.text ?? null,
    verifiedAt: judging.verifiedAt,
    steps: [...examined.steps, signed.step, signer, time.step, recheck(), accounting()],
    answers: { sealer: answersOf(signed.step, signer, time.step) },
    certificates: await certificatesOf(signed.signature?.certificate ?? null, trust),
    acceptClaimedTime: judging.acceptClaimedTime,
  };
}

function recheck(): Step {
  return {
    ...step(
      8,
      "not established",
      "not run here: this page does not read the originals again and does not run the checks; "
        + "evidpack's command line does",
    ),
    next: "Where it matters that the findings follow from the originals, have somebody run evidpack "
      + "verify on this file. The other steps do not depend on it.",
  };
}

function accounting(): Step {
  return step(
    9,
    "not applicable",
    "a bundle holds everything; only packs account for what they withhold",
  );
}

function answersOf(signature: Step, signer: Step, time: Step): Answers {
  const answer = ({ outcome, examined }: Step) => ({ outcome, sentence: examined });
  return { signature: answer(signature), signer: answer(signer), time: answer(time) };
}

function documentOf(
  archive: Archive, statementBytes: Uint8Array, statement: SealStatement | null,
): SignedDocument {
  return {
    whose: "sealer",
    statement: statementBytes,
    signature: optional(archive, layout.SIGNATURE, MAX_SIGNATURE_BYTES),
    token: optional(archive, layout.TOKEN, MAX_TOKEN_BYTES),
    statementName: layout.STATEMENT,
    signatureName: layout.SIGNATURE,
    tokenName: layout.TOKEN,
    claimedTime: statement?.claimedTime ?? null,
    signingCertificate: statement?.signingCertificate ?? null,
    timeStampRequired: statement?.timeStampRequired ?? false,
  };
}

/** A small member's bytes, or null where it is missing or (a fault of step 2) damaged. */
function optional(archive: Archive, name: string, limit: number): Uint8Array | null {
  try {
    const data = archive.read(name, limit);
    return data.length || name !== layout.TOKEN ? data : null;
  } catch (error) {
    if (error instanceof Refusal) return null;
    throw error;
  }
}

async function certificatesOf(
  signer: Certificate | null, trust: Trust,
): Promise<NamedCertificate[]> {
  const roles: [string, Certificate][] = [
    ...(signer === null ? [] : [["signing certificate", signer] as [string, Certificate]]),
    ...trust.anchors.map((one): [string, Certificate] => ["anchor", one]),
    ...trust.tsaAnchors.map((one): [string, Certificate] => ["time-stamp anchor", one]),
  ];
  return Promise.all(roles.map(([role, certificate]) => describe(role, certificate)));
}

/** A certificate as people compare it. */
export async function describe(role: string, certificate: Certificate): Promise<NamedCertificate> {
  return {
    role,
    subject: nameOf(certificate),
    fingerprint: grouped(await digestOf("sha256", certificate.raw)),
    keyFingerprint: grouped(await digestOf("sha256", certificate.key.raw)),
    validFrom: inUtc(momentOf(certificate.first)),
    validUntil: inUtc(momentOf(certificate.last)),
  };
}

/** The report where step 1 fails: the other steps are named and not examined. */
function stopped(examined: Examined, judging: Judging): Report {
  const why = "not examined: step 1 does not hold";
  const rest = [2, 3, 4, 5, 6, 7, 8, 9].map((number) => step(number, "not established", why));
  const nothing = { outcome: "not established" as const, sentence: why };
  return {
    fileName: examined.fileName,
    size: examined.file.size,
    sha256: null,
    kind: "unreadable",
    reference: null,
    statementSha256: null,
    claimedTime: null,
    verifiedAt: judging.verifiedAt,
    steps: [...examined.steps, ...rest],
    answers: { sealer: { signature: nothing, signer: nothing, time: nothing } },
    certificates: [],
    acceptClaimedTime: judging.acceptClaimedTime,
  };
}
