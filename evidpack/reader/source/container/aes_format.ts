// The fixed layout of an encrypted pack (docs/format.md, Encrypted pack): an AES ZIP of exactly one
// stored member. The whole layout follows from the length of the file, so no number in it is
// trusted: local header, salt, verifier, ciphertext, MAC, central header, end records.

import { DECRYPTED_PACK } from "../layout.ts";
import { utf8 } from "../text.ts";
import { MAC_BYTES, SALT_BYTES, VERIFIER_BYTES } from "./winzip_aes.ts";
import * as fmt from "./zip_format.ts";

const NAME = utf8(DECRYPTED_PACK);
export const METHOD = 99;
const OVERHEAD_BYTES = SALT_BYTES + VERIFIER_BYTES + MAC_BYTES;
const VERSION = 51;
const FLAGS = fmt.FLAGS | 1;
// Id 0x9901, 7 bytes: version 2, vendor "AE", strength 3 (256 bits), method inside 0 (stored).
const AES_EXTRA = Uint8Array.of(0x01, 0x99, 7, 0, 2, 0, 0x41, 0x45, 3, 0, 0);

/** Where everything stands, and the bytes of every header; `size` is that of the pack inside. */
export interface AesLayout {
  size: number;
  local: Uint8Array;
  central: Uint8Array;
  end: Uint8Array;
  centralAt: number;
  total: number;
}

export function layoutForSize(size: number): AesLayout {
  const stored = size + OVERHEAD_BYTES;
  const wide = stored >= fmt.FULL32;
  const [shownSize, shownStored] = wide ? [fmt.FULL32, fmt.FULL32] : [size, stored];
  const zip64: fmt.Part[] = wide ? [[2, fmt.ZIP64_ID], [2, 16], [8, size], [8, stored]] : [];
  const extra = fmt.packed(zip64, AES_EXTRA);
  // prettier-ignore
  const local = fmt.packed([
    [4, fmt.LOCAL_SIGNATURE], [2, VERSION], [2, FLAGS], [2, METHOD], [2, 0], [2, fmt.DATE], [4, 0],
    [4, shownStored], [4, shownSize], [2, NAME.length], [2, extra.length],
  ], NAME, extra);
  // prettier-ignore
  const central = fmt.packed([
    [4, fmt.CENTRAL_SIGNATURE], [2, fmt.HOST_UNIX | VERSION], [2, VERSION], [2, FLAGS], [2, METHOD],
    [2, 0], [2, fmt.DATE], [4, 0], [4, shownStored], [4, shownSize], [2, NAME.length],
    [2, extra.length], [2, 0], [2, 0], [2, 0], [4, fmt.ATTRIBUTES], [4, 0],
  ], NAME, extra);
  const centralAt = local.length + stored;
  const end = fmt.endRecords(1, central.length, centralAt);
  return { size, local, central, end, centralAt, total: centralAt + central.length + end.length };
}

/** The layout of a file of `total` bytes, or null where no pack makes a file of that size. */
export function layoutForTotal(total: number): AesLayout | null {
  // Without ZIP64; with its end records alone, where the header before the bytes tips the balance;
  // with its extra fields too.
  for (const sample of [0, fmt.FULL32 - OVERHEAD_BYTES - 1, fmt.FULL32]) {
    const around = layoutForSize(sample);
    const size = total - (around.total - around.size);
    if (size >= 0 && layoutForSize(size).total === total) return layoutForSize(size);
  }
  return null;
}

const ONE_MEMBER = "is not 1: the finished pack and nothing else";
const NOT_THE_LENGTH = "is not what the length of the file makes it";
const FAULTS: Record<string, string> = {
  "flags": "are not 0x0801: encrypted, no data descriptor, name in UTF-8",
  "method": "is not 99: encrypted with AES",
  "CRC-32": "is not 0, as AE-2 has it",
  "stored size": NOT_THE_LENGTH,
  "size": NOT_THE_LENGTH,
  "length of the name": `is not that of the one member, ${DECRYPTED_PACK}`,
  "length of the extra field": "is not that of the AES field, and ZIP64's where needed",
  "number of members on this disk": ONE_MEMBER,
  "number of members": ONE_MEMBER,
};

const forAes = (fields: fmt.Field[]): fmt.Field[] =>
  fields.map((field) => ({ ...field, fault: FAULTS[field.name] ?? field.fault }));

export const LOCAL_FIELDS = forAes(fmt.LOCAL_FIELDS);
export const CENTRAL_FIELDS = forAes(fmt.CENTRAL_FIELDS);
export const END_FIELDS = forAes(fmt.END_FIELDS);
export const END64_FIELDS = forAes(fmt.END64_FIELDS);
