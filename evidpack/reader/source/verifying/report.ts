// What a verification says: numbered steps, three answers, one verdict. Numbers and names of the
// steps are those of docs/format.md and of the command line.

import type { Fault } from "../refusal.ts";

export type Outcome = "holds" | "fails" | "not established" | "not applicable";

export type Verdict =
  | "verified"
  | "verified, time only as claimed"
  | "does not verify"
  | "intact, but signer or time not established";

export const STEP_TITLES: Record<number, string> = {
  1: "container",
  2: "bag",
  3: "ledger",
  4: "contents",
  5: "signature",
  6: "signer",
  7: "time",
  8: "re-check",
  9: "accounting",
};

export const NOT_PROVED: readonly string[] = [
  "that the measurement was right, or that a clock was right",
  "that the export was complete or unaltered before it was sealed",
  "the order in which captures were taken: the chain fixes the order of sealing",
  "that no other seal, supplement or correction of the same day exists",
  "who was driving, or anything about guilt or admissibility",
];

/** One step: what was examined, what became of it, every fault, and what to do next. */
export interface Step {
  number: number;
  outcome: Outcome;
  examined: string;
  faults: Fault[];
  next: string | null;
}

export interface Answer {
  outcome: Outcome;
  sentence: string;
}

/** Signature valid, signer known, time established: three answers, never one. */
export interface Answers {
  signature: Answer;
  signer: Answer;
  time: Answer;
}

/** A certificate as it is shown. */
export interface NamedCertificate {
  role: string;
  subject: string;
  /** SHA-256 of the certificate in groups of four digits. */
  fingerprint: string;
  /** SHA-256 of its public key, as on a fingerprint sheet. */
  keyFingerprint: string;
  validFrom: string;
  validUntil: string;
}

export interface Report {
  fileName: string;
  size: number;
  /** SHA-256 of the whole file; null until it has been computed. */
  sha256: string | null;
  kind: "bundle" | "pack" | "unreadable";
  reference: string | null;
  statementSha256: string | null;
  /** Of a pack: the seal statement that it comes from. */
  originSha256: string | null;
  /** The time that each statement claims, by whose it is; null where it cannot be read. */
  claimedTimes: [string, string | null][];
  verifiedAt: string;
  steps: Step[];
  /** By whose they are: the sealer, and in a pack the discloser too. */
  answers: Record<string, Answers>;
  certificates: NamedCertificate[];
  acceptClaimedTime: boolean;
  revocationChecked: boolean;
}

export function step(number: number, outcome: Outcome, examined: string): Step {
  return { number, outcome, examined, faults: [], next: null };
}

/** Any failure: does not verify. Else the signer must be known and the time established. */
export function verdictOf(report: Report): Verdict {
  if (report.steps.some(({ outcome }) => outcome === "fails")) return "does not verify";
  const open = report.steps.some(
    ({ number, outcome }) => outcome === "not established" && ![6, 7, 8].includes(number),
  );
  if (open) return "does not verify";
  const all = Object.values(report.answers);
  if (!all.every(({ signer }) => signer.outcome === "holds")) {
    return "intact, but signer or time not established";
  }
  if (all.every(({ time }) => time.outcome === "holds")) return "verified";
  return report.acceptClaimedTime
    ? "verified, time only as claimed"
    : "intact, but signer or time not established";
}

/** The same number that the command line ends with. */
export function exitCode(verdict: Verdict): number {
  if (verdict === "does not verify") return 1;
  return verdict.startsWith("intact") ? 3 : 0;
}

/** The report for machines, member for member as `evidpack verify --json` gives it. */
export function reportJson(report: Report): Record<string, unknown> {
  const verdict = verdictOf(report);
  return {
    file: report.fileName,
    size: report.size,
    sha256: report.sha256,
    kind: report.kind,
    reference: report.reference,
    statement_sha256: report.statementSha256,
    origin_sha256: report.originSha256,
    verified_at: report.verifiedAt,
    verdict,
    exit_code: exitCode(verdict),
    answers: Object.fromEntries(Object.entries(report.answers).map(([whose, answers]) => [whose, {
      signature_valid: answers.signature,
      signer_known: answers.signer,
      time_established: answers.time,
    }])),
    certificates: report.certificates.map((one) => ({
      role: one.role,
      subject: one.subject,
      fingerprint: one.fingerprint,
      key_fingerprint: one.keyFingerprint,
      valid_from: one.validFrom,
      valid_until: one.validUntil,
    })),
    revocation_checked: report.revocationChecked,
    steps: report.steps.map((one) => ({
      step: one.number,
      title: STEP_TITLES[one.number],
      outcome: one.outcome,
      examined: one.examined,
      faults: one.faults.map(({ item, line, offset, message, expected, observed }) =>
        ({ item, line: line ?? null, offset: offset ?? null, message, expected, observed })),
      next: one.next,
    })),
    not_proved: NOT_PROVED,
  };
}
