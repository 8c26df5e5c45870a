// Certificate revocation lists (RFC 5280, 5), where the verifier gave some. Nothing is fetched. The
// question is always whether a certificate was revoked at the time of sealing, so a later list may be
// used, and a later revocation with a later date does not undo an earlier seal.

import { momentOf } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { hex, same } from "../text.ts";
import { certificateAlgorithm } from "./algorithms.ts";
import { type Certificate, nameOf } from "./certificates.ts";
import { signatureHolds } from "./keys.ts";
import { quotedName } from "./names.ts";
import { isAcceptedScope } from "./revocation_scope.ts";
import { ISSUING_POINT, type RevocationList } from "./revocation_lists.ts";

/**
 * No certificate of the path, the anchor apart, was revoked at `at` (microseconds since 1970). Every
 * one needs a list from its own issuer that was still current at that time, and complete.
 */
export async function requireNotRevoked(
  path: Certificate[], lists: RevocationList[], at: number,
): Promise<void> {
  for (let below = 0; below + 1 < path.length; below++) {
    await requireOneNotRevoked(path[below], path[below + 1], lists, at);
  }
}

async function requireOneNotRevoked(
  certificate: Certificate, issuer: Certificate, lists: RevocationList[], at: number,
): Promise<void> {
  const problems = new Set<string>();
  let told = false;
  for (const list of lists) {
    if (!same(list.issuer.raw, issuer.subject.raw)) continue;
    const problem = await problemOf(list, certificate, issuer, at);
    if (problem !== null) {
      problems.add(problem);
      continue;
    }
    requireNotListed(list, certificate, at);
    told = true;
  }
  if (told) return;
  const name = nameOf(issuer);
  throw new Refusal(
    `no revocation list that was given says whether the certificate of ${nameOf(certificate)} was revoked`,
    {
      expected: `a complete list from ${name}, current at ${momentOf(at).text}`,
      observed: [...problems].join("; ") || "no list from it",
      hint: `ask ${name} for its revocation list (CRL) for that time`,
    },
  );
}

function requireNotListed(list: RevocationList, certificate: Certificate, at: number): void {
  const entry = list.entries.get(certificate.serial);
  if (entry === undefined || entry.since > at) return;
  throw new Refusal(`the certificate of ${nameOf(certificate)} was revoked`, {
    expected: `not revoked at ${momentOf(at).text}`,
    observed: `revoked since ${momentOf(entry.since).text} (${entry.reason})`,
    hint: `treat the signature as worthless and ask ${quotedName(list.issuer)} why`,
  });
}

/** Why this list cannot tell, in a few words; null if it can. */
async function problemOf(
  list: RevocationList, certificate: Certificate, issuer: Certificate, at: number,
): Promise<string | null> {
  const { keyUsage } = issuer.extensions;
  if (keyUsage !== null && !keyUsage.includes("cRLSign")) {
    return "a list by an authority that may not sign lists";
  }
  const algorithm = certificateAlgorithm(list.algorithm);
  if (algorithm === null) return "a list signed with a weak digest";
  const fits = list.algorithmsAgree && algorithm.kind === issuer.key.kind;
  if (!fits || !(await signatureHolds(issuer.key, list.signature, list.body, algorithm.digest, algorithm.pss))) {
    return "a list with a signature that does not verify";
  }
  if (list.nextUpdate === null || list.nextUpdate < at) return "a list that was out of date";
  for (const { kind, critical, value } of list.extensions) {
    if (kind === ISSUING_POINT) {
      if (!isAcceptedScope(value, certificate)) {
        return "a list that is about other certificates or some reasons only";
      }
    } else if (critical) return "a list with a critical extension that is not understood";
  }
  return list.strangeEntries ? "a list with a critical entry extension that is not understood" : null;
}

/** How a list is shown to the person who loaded it. */
export const shownList = (list: RevocationList): string =>
  `${quotedName(list.issuer)}, of ${momentOf(list.thisUpdate).text}, current until `
  + `${list.nextUpdate === null ? "a time that it does not say" : momentOf(list.nextUpdate).text}, `
  + `${list.entries.size} revoked`;

export const sameList = (one: RevocationList, other: RevocationList): boolean => hex(one.raw) === hex(other.raw);
