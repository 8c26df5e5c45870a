// The path from a certificate to an anchor that the verifier gave (RFC 5280, 6). There is no
// built-in list of anchors, and none is ever taken from the file.
//
// Two readers must agree: the rules here, and the path engine of pkijs (second_reader). That engine
// alone is not enough: it accepted a server's certificate, one for key encipherment and a violated
// path length. The rules here alone would not evaluate name constraints.

import { momentOf } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { same } from "../text.ts";
import { ACCEPTED_DIGESTS, certificateAlgorithm } from "./algorithms.ts";
import { type Certificate, nameOf, sameCertificate } from "./certificates.ts";
import { UNDERSTOOD, UNDERSTOOD_IN_AUTHORITIES } from "./extensions.ts";
import { requireKeyStrength, signatureHolds } from "./keys.ts";
import { quotedName } from "./names.ts";
import { requireSecondReading } from "./second_reader.ts";
import { requireAuthorityPurposes, requireUsage, type Usage } from "./usages.ts";

const MAX_INTERMEDIATES = 6;

/** The path, certificate first and anchor last, as it stood at `at` (microseconds since 1970). */
export async function requirePath(
  certificate: Certificate, intermediates: Certificate[], anchors: Certificate[],
  at: number, usage: Usage,
): Promise<Certificate[]> {
  requireUsage(certificate, usage);
  if (!anchors.length) {
    throw new Refusal(
      `no anchor was given, so nothing says who ${nameOf(certificate)} is`,
      {
        expected: "the root certificate of the authority that vouches for the signer",
        observed: "none",
      },
    );
  }
  const path = await findPath(certificate, intermediates, anchors, at);
  for (const member of path) requireMember(member, at);
  for (const authority of path.slice(1)) requireAuthorityPurposes(authority, usage);
  await requireSecondReading(path, at);
  return path;
}

async function findPath(
  certificate: Certificate, intermediates: Certificate[], anchors: Certificate[], at: number,
): Promise<Certificate[]> {
  if (anchors.some((one) => sameCertificate(one, certificate))) {
    throw new Refusal(`the certificate of ${nameOf(certificate)} was itself given as an anchor`, {
      expected: "the certificate of the authority that issued it",
      observed: "the end certificate",
      hint: "ask the authority for its own root certificate",
    });
  }
  const search = new Search(intermediates, anchors, at);
  const path = await search.from([certificate]);
  if (path !== null) return path;
  throw search.reason!;
}

/** Tries every way up by name; keeps the first reason for which one was refused. */
class Search {
  reason: Refusal | null = null;

  constructor(
    private readonly intermediates: Certificate[],
    private readonly anchors: Certificate[],
    private readonly at: number,
  ) {}

  async from(path: Certificate[]): Promise<Certificate[] | null> {
    try {
      const current = path.at(-1)!;
      requireValidity(current, this.at);
      requireUnderstood(current, path.length > 1);
      if (path.length > 1 && this.anchors.some((one) => sameCertificate(one, current))) return path;
      if (path.length > MAX_INTERMEDIATES + 1) throw tooLong(current);
      return await this.#upFrom(path, current);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.reason ??= error;
      return null;
    }
  }

  async #upFrom(path: Certificate[], current: Certificate): Promise<Certificate[] | null> {
    const candidates = [...this.anchors, ...this.intermediates].filter(
      (one) => same(one.subject.raw, current.issuer.raw),
    );
    let issued = false;
    for (const issuer of candidates) {
      if (path.some((one) => sameCertificate(one, issuer))) continue;
      if (!(await wasIssuedBy(current, issuer))) continue;
      issued = true;
      try {
        requireAuthority(issuer, path.length - 1);
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        this.reason ??= error;
        continue;
      }
      const found = await this.from([...path, issuer]);
      if (found !== null) return found;
    }
    if (!issued) throw noIssuer(current, candidates.length > 0);
    return null;
  }
}

/** What every certificate on a path must be: valid at the time, strong enough. */
function requireMember(certificate: Certificate, at: number): void {
  requireValidity(certificate, at);
  requireKeyStrength(certificate.key, nameOf(certificate));
  if (certificateAlgorithm(certificate.algorithm) === null) {
    throw new Refusal(`the certificate of ${nameOf(certificate)} is signed with a weak digest`, {
      expected: ACCEPTED_DIGESTS,
      observed: `object identifier ${certificate.algorithm.algorithm}`,
      hint: "ask the authority that issued it for a new one",
    });
  }
}

async function wasIssuedBy(certificate: Certificate, issuer: Certificate): Promise<boolean> {
  const algorithm = certificateAlgorithm(certificate.algorithm);
  if (algorithm === null || algorithm.kind !== issuer.key.kind) return false;
  if (!certificate.algorithmsAgree) return false;
  return signatureHolds(
    issuer.key, certificate.signature, certificate.body, algorithm.digest, algorithm.pss,
  );
}

function noIssuer(certificate: Certificate, named: boolean): Refusal {
  const issuer = quotedName(certificate.issuer);
  if (named) {
    return new Refusal(
      `the certificate of ${nameOf(certificate)} was not signed with the key of ${issuer}`,
      {
        expected: `a signature by the authority ${issuer} that was given`,
        observed: "the right name but another key",
      },
    );
  }
  if (same(certificate.subject.raw, certificate.issuer.raw)) {
    return new Refusal(
      `the certificate of ${nameOf(certificate)} is self-signed and is not an anchor`,
      {
        expected: "a certificate issued by an authority whose certificate was given",
        observed: "a certificate that vouches for itself",
      },
    );
  }
  return new Refusal(
    `the issuer of the certificate of ${nameOf(certificate)} is not known: ${issuer}`,
    {
      expected: `the certificate of ${issuer}, as an anchor or carried with the signature`,
      observed: "neither",
    },
  );
}

function tooLong(certificate: Certificate): Refusal {
  return new Refusal(
    `no acceptable path leads from the certificate of ${nameOf(certificate)} to an anchor`,
    { expected: `at most ${MAX_INTERMEDIATES} authorities between`, observed: "more" },
  );
}

function requireValidity(certificate: Certificate, at: number): void {
  const { first, last } = certificate;
  if (first <= at && at <= last) return;
  const word = at > last ? "no longer" : "not yet";
  throw new Refusal(`the certificate of ${nameOf(certificate)} was ${word} valid at the time`, {
    expected: `a time from ${momentOf(first).text} to ${momentOf(last).text}`,
    observed: momentOf(at).text,
  });
}

function requireUnderstood(certificate: Certificate, authority: boolean): void {
  const understood = authority ? UNDERSTOOD_IN_AUTHORITIES : UNDERSTOOD;
  for (const { kind, critical } of certificate.all) {
    if (!critical || understood.has(kind)) continue;
    throw new Refusal(
      `the certificate of ${nameOf(certificate)} has a critical extension that is not understood`,
      { expected: "critical extensions of RFC 5280 alone", observed: kind },
    );
  }
}

/** `below` is the number of authorities between it and the end certificate. */
function requireAuthority(certificate: Certificate, below: number): void {
  const { authority, authorityCritical, keyUsage, pathLength } = certificate.extensions;
  const refuse = (rule: string, expected: string, observed: string): never => {
    throw new Refusal(`the certificate of ${nameOf(certificate)} ${rule}`, { expected, observed });
  };
  if (!authority) {
    refuse("is not an authority's, but issued another", "CA true", "CA false or absent");
  }
  if (keyUsage === null || !keyUsage.includes("keyCertSign")) {
    const observed = keyUsage === null ? "no keyUsage" : keyUsage.join(", ") || "none";
    refuse("may not sign certificates", "keyUsage keyCertSign", observed);
  }
  if (pathLength !== null && pathLength < below) {
    const expected = `path length at most ${pathLength}`;
    refuse("allows fewer authorities below it than there are", expected, String(below));
  }
  if (!authorityCritical) {
    refuse("does not mark as critical that it is an authority's", "critical", "not critical");
  }
}

/** Carried certificates are not signed, so each must be one that the path uses. */
export function requireNothingOffPath(
  carried: Certificate[], path: Certificate[], what: string, place: string,
): void {
  for (const certificate of carried) {
    if (path.some((one) => sameCertificate(one, certificate))) continue;
    throw new Refusal(
      `${what} carries the certificate of ${nameOf(certificate)}, which is not on the path to the `
        + "anchor",
      { path: place, expected: "certificates on the path alone", observed: "one beside it" },
    );
  }
}
