// Which certificates a revocation list is about (RFC 5280, 5.2.5).

import type { Certificate } from "./certificates.ts";
import * as der from "./der.ts";

const POINTS = "2.5.29.31";

interface Scope {
  names: Uint8Array[] | null;
  relative: boolean;
  users: boolean;
  authorities: boolean;
  limited: boolean;
}

/** Whether a list with this issuing distribution point is about the certificate, for every reason. */
export function isAcceptedScope(value: Uint8Array, certificate: Certificate): boolean {
  const scope = readScope(value);
  if (scope.limited || scope.relative) return false;
  const authority = certificate.extensions.authority === true;
  if ((scope.users && authority) || (scope.authorities && !authority)) return false;
  if (scope.names === null) return true;
  const own = pointsOf(certificate);
  return scope.names.some((name) => own.has(name.join()));
}

/** Read an issuing distribution point. Throws a DerError for another form. */
export function readScope(value: Uint8Array): Scope {
  const members = new der.Members(der.only(value));
  const point = members.optional(der.context(0));
  const flag = (number: number): boolean => {
    const element = members.optional(der.contextPrimitive(number));
    if (element === null) return false;
    if (!der.boolean({ ...element, tag: der.BOOLEAN })) throw new der.DerError("a default value written out");
    return true;
  };
  const [users, authorities] = [flag(1), flag(2)];
  const reasons = members.optional(der.contextPrimitive(3));
  const [indirect, attributes] = [flag(4), flag(5)];
  members.end();
  return {
    ...readPoint(point), users, authorities, limited: reasons !== null || indirect || attributes,
  };
}

function readPoint(holder: der.Element | null): { names: Uint8Array[] | null; relative: boolean } {
  if (holder === null) return { names: null, relative: false };
  const choice = der.only(holder.content);
  if (choice.tag === der.context(1)) return { names: null, relative: true };
  if (choice.tag !== der.context(0)) throw new der.DerError("a distribution point of another form");
  return { names: der.split(choice.content).map(({ raw }) => raw), relative: false };
}

/** The places where the certificate says that its own revocation list is. */
function pointsOf(certificate: Certificate): Set<string> {
  const found = new Set<string>();
  const extension = certificate.all.find(({ kind }) => kind === POINTS);
  if (extension === undefined) return found;
  for (const point of der.split(der.only(extension.value).content)) {
    const holder = der.split(point.content).find(({ tag }) => tag === der.context(0)) ?? null;
    for (const name of readPoint(holder).names ?? []) found.add(name.join());
  }
  return found;
}
