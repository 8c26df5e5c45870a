// Steps 5 to 7 of every statement in a file, and the report on all.

import { inUtc, momentOf } from "../moment.ts";
import { grouped } from "../text.ts";
import { type Certificate, nameOf } from "../trust/certificates.ts";
import { digestOf } from "../trust/keys.ts";
import { type Examined, NOT_EXAMINED } from "./examined.ts";
import { type Answers, type NamedCertificate, type Outcome, type Report, type Step, step } from "./report.ts";
import type { SignedDocument, Trust } from "./signed_document.ts";
import { examineSignature } from "./step5_signature.ts";
import { examineSigner } from "./step6_signer.ts";
import { examineTime } from "./step7_time.ts";

/** What the person at the screen chose, and when. It may change without reading the file again. */
export interface Judging {
  trust: Trust;
  /** A token of the sealer's time stamp that was kept apart from the file. */
  timeStamp: Uint8Array | null;
  acceptClaimedTime: boolean;
  verifiedAt: string;
}

interface Judged {
  whose: SignedDocument["whose"];
  steps: Step[];
  certificate: Certificate | null;
}

const WORST_FIRST: Outcome[] = ["fails", "not established", "holds"];

export async function judge(examined: Examined, judging: Judging): Promise<Report> {
  const { before, after } = examined;
  const documents = examined.documents.map((one) => withToken(one, judging.timeStamp));
  const judged = await Promise.all(documents.map((document) => judgeOne(document, judging.trust)));
  return {
    fileName: examined.fileName,
    size: examined.size,
    sha256: null,
    kind: examined.kind,
    reference: examined.archive?.top ?? null,
    statementSha256: examined.statementSha256,
    originSha256: examined.originSha256,
    claimedTimes: documents.map(({ whose, claimedTime }) => [whose, claimedTime?.text ?? null]),
    verifiedAt: judging.verifiedAt,
    steps: [...before, ...[0, 1, 2].map((at) => joined(at, judged)), ...after],
    answers: judged.length
      ? Object.fromEntries(judged.map(({ whose, steps }) => [whose, answersOf(steps)]))
      : { sealer: answersOf([5, 6, 7].map((number) => step(number, "not established", NOT_EXAMINED))) },
    certificates: judged.length ? await certificatesOf(judged, judging.trust) : [],
    acceptClaimedTime: judging.acceptClaimedTime,
    revocationChecked: judged.length > 0 && judging.trust.revocationLists.length > 0,
  };
}

/** A token kept apart counts where the sealer's statement has none beside it. */
const withToken = (document: SignedDocument, apart: Uint8Array | null): SignedDocument =>
  document.whose === "sealer" ? { ...document, token: document.token ?? apart } : document;

async function judgeOne(document: SignedDocument, trust: Trust): Promise<Judged> {
  const signed = await examineSignature(document);
  const time = await examineTime(document, trust, signed.signature);
  const signer = await examineSigner(document, trust, signed.signature, time.moment);
  return {
    whose: document.whose,
    steps: [signed.step, signer, time.step],
    certificate: signed.signature?.certificate ?? null,
  };
}

/** One step that says what it is for each statement, with the worst of the outcomes. */
function joined(at: number, judged: Judged[]): Step {
  if (!judged.length) return step(5 + at, "not established", NOT_EXAMINED);
  const steps = judged.map((one) => one.steps[at]);
  if (steps.length === 1) return steps[0];
  const outcome = WORST_FIRST.find((one) => steps.some((step) => step.outcome === one))!;
  return {
    number: steps[0].number,
    outcome,
    examined: judged.map(({ whose, steps }) => `${whose}: ${steps[at].examined}`).join("; "),
    faults: steps.flatMap(({ faults }) => faults),
    next: steps.find((step) => step.outcome === outcome && step.next !== null)?.next ?? null,
  };
}

function answersOf([signature, signer, time]: Step[]): Answers {
  const answer = ({ outcome, examined }: Step) => ({ outcome, sentence: examined });
  return { signature: answer(signature), signer: answer(signer), time: answer(time) };
}

async function certificatesOf(judged: Judged[], trust: Trust): Promise<NamedCertificate[]> {
  const roles: [string, Certificate][] = [];
  for (const { whose, certificate } of judged) {
    const role = judged.length > 1 ? `${whose}'s signing certificate` : "signing certificate";
    if (certificate !== null) roles.push([role, certificate]);
  }
  for (const one of trust.anchors) roles.push(["anchor", one]);
  for (const one of trust.tsaAnchors) roles.push(["time-stamp anchor", one]);
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
