// Algorithm identifiers (RFC 5280, 4.1.1.2): an object identifier and its parameters.

import * as der from "./der.ts";

export interface AlgorithmIdentifier {
  algorithm: string;
  /** The whole encoding of the parameters, or null where there are none. */
  parameters: Uint8Array | null;
  raw: Uint8Array;
}

/** Parameters other than NULL are refused unless `any` is set. */
export function readAlgorithm(element: der.Element, any = false): AlgorithmIdentifier {
  const members = new der.Members(element);
  const algorithm = der.identifier(members.take());
  const parameters = any && element.content.length > 0 ? rest(members) : members.optional(der.NULL);
  members.end();
  if (parameters?.tag === der.NULL && parameters.content.length) {
    throw new der.DerError("a NULL that is not empty");
  }
  return { algorithm, parameters: parameters?.raw ?? null, raw: element.raw };
}

function rest(members: der.Members): der.Element | null {
  try {
    return members.take();
  } catch {
    return null;
  }
}
