// The extensions of a certificate that decide something here (RFC 5280, 4.2.1).

import * as der from "./der.ts";

export const KEY_USAGE = "2.5.29.15";
export const BASIC_CONSTRAINTS = "2.5.29.19";
export const EXTENDED_KEY_USAGE = "2.5.29.37";
// RFC 5280, 4.2.1 and 4.2.2: those that a critical mark may stand on and still be understood.
export const UNDERSTOOD = new Set([
  KEY_USAGE, BASIC_CONSTRAINTS, EXTENDED_KEY_USAGE,
  "2.5.29.14", "2.5.29.17", "2.5.29.18", "2.5.29.30", "2.5.29.31", "2.5.29.32", "2.5.29.35",
  "2.5.29.36", "2.5.29.46", "2.5.29.54", "1.3.6.1.5.5.7.1.1",
]);
// The library of the command line refuses any other critical one in an authority's certificate.
export const UNDERSTOOD_IN_AUTHORITIES = new Set([
  KEY_USAGE, BASIC_CONSTRAINTS, EXTENDED_KEY_USAGE, "2.5.29.17", "2.5.29.30",
]);
const MAX_DEPTH = 32;
// The others are sequences.
const OTHER_TAGS: Record<string, number> = {
  [KEY_USAGE]: der.BIT_STRING, "2.5.29.14": der.OCTET_STRING, "2.5.29.54": der.INTEGER,
};
const USAGES = [
  "digitalSignature", "nonRepudiation", "keyEncipherment", "dataEncipherment", "keyAgreement",
  "keyCertSign", "cRLSign", "encipherOnly", "decipherOnly",
];

export interface Extension {
  kind: string;
  critical: boolean;
  value: Uint8Array;
}

export interface Extensions {
  keyUsage: string[] | null;
  purposes: string[] | null;
  purposesCritical: boolean;
  authority: boolean | null;
  authorityCritical: boolean;
  pathLength: number | null;
}

export const NO_EXTENSIONS: { known: Extensions; list: Extension[] } = {
  known: {
    keyUsage: null, purposes: null, purposesCritical: false,
    authority: null, authorityCritical: false, pathLength: null,
  },
  list: [],
};

/** A list of extensions, each of another kind. */
export function readList(holder: der.Element): Extension[] {
  if (holder.tag !== der.SEQUENCE) throw new der.DerError("extensions that are no sequence");
  const list = der.split(holder.content).map(readOne);
  if (new Set(list.map(({ kind }) => kind)).size !== list.length) {
    throw new der.DerError("the same extension twice");
  }
  return list;
}

export function readExtensions(held: der.Element): { known: Extensions; list: Extension[] } {
  const list = readList(der.only(held.content));
  const known: Extensions = { ...NO_EXTENSIONS.known };
  for (const { kind, critical, value } of list) {
    if (UNDERSTOOD.has(kind)) requireWellFormed(der.only(value), OTHER_TAGS[kind] ?? der.SEQUENCE);
    if (kind === KEY_USAGE) known.keyUsage = readUsage(der.only(value));
    if (kind === EXTENDED_KEY_USAGE) {
      known.purposes = readPurposes(der.only(value));
      known.purposesCritical = critical;
    }
    if (kind === BASIC_CONSTRAINTS) {
      Object.assign(known, readConstraints(der.only(value)), { authorityCritical: critical });
    }
  }
  return { known, list };
}

/** The value of a known extension has the right tag and is DER throughout. */
function requireWellFormed(element: der.Element, tag: number): void {
  if (element.tag !== tag) throw new der.DerError("an extension of another form");
  requireWhole(element, 0);
}

function requireWhole(element: der.Element, depth: number): void {
  if (depth > MAX_DEPTH) throw new der.DerError("an extension that is nested too deep");
  if (element.tag & 0x20) for (const one of der.split(element.content)) requireWhole(one, depth + 1);
}

function readOne(element: der.Element): Extension {
  const members = new der.Members(element);
  const kind = der.identifier(members.take());
  const mark = members.optional(der.BOOLEAN);
  const critical = mark !== null && der.boolean(mark);
  if (mark !== null && !critical) throw new der.DerError("a default value written out");
  const value = members.take(der.OCTET_STRING).content;
  members.end();
  return { kind, critical, value };
}

function readUsage(element: der.Element): string[] {
  if (element.tag !== der.BIT_STRING) throw new der.DerError("a key usage that is no bit string");
  const { bytes } = der.bitString(element);
  return USAGES.filter((_, bit) => (bytes[bit >> 3] ?? 0) & (0x80 >> (bit & 7)));
}

function readPurposes(element: der.Element): string[] {
  const members = new der.Members(element);
  const purposes = der.split(element.content).map((one) => {
    members.take(der.OBJECT_IDENTIFIER);
    return der.identifier(one);
  });
  if (!purposes.length) throw new der.DerError("an empty list of purposes");
  return purposes;
}

function readConstraints(element: der.Element): { authority: boolean; pathLength: number | null } {
  const members = new der.Members(element);
  const mark = members.optional(der.BOOLEAN);
  const authority = mark !== null && der.boolean(mark);
  if (mark !== null && !authority) throw new der.DerError("a default value written out");
  const length = members.optional(der.INTEGER);
  members.end();
  const pathLength = length === null ? null : Number(der.integer(length));
  if (pathLength !== null && pathLength < 0) throw new der.DerError("a negative path length");
  return { authority, pathLength };
}
