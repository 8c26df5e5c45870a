// An encrypted pack: its headers compared, its ciphertext authenticated in a first pass, and then
// read as if it were the pack inside, each slice decrypted when it is asked for. Nothing decrypted
// is kept.

import { MAX_ARCHIVE_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { same } from "../text.ts";
import * as aes from "./aes_format.ts";
import type { ByteSource } from "./archive.ts";
import {
  authenticator, decrypted, keysFrom, MAC_BYTES, macOf, type PackKeys, SALT_BYTES, VERIFIER_BYTES,
} from "./winzip_aes.ts";
import * as fmt from "./zip_format.ts";

const PIECE_BYTES = 4 * 1024 * 1024;
const BLOB_PIECE_BYTES = 1024 * 1024;

/** Whether a file begins as an encrypted pack does. */
export function isEncrypted(source: ByteSource): boolean {
  if (source.size < 10) return false;
  const head = source.read(0, 10);
  const view = new DataView(head.buffer, head.byteOffset, head.length);
  return view.getUint32(0, true) === fmt.LOCAL_SIGNATURE && view.getUint16(8, true) === aes.METHOD;
}

/**
 * The pack inside. Throws a Refusal where the file is no encrypted pack of ours, where the passphrase
 * does not open it, and where its bytes are not those that were encrypted.
 */
export async function openEncrypted(
  source: ByteSource, passphrase: string, onBytes: (count: number) => void,
): Promise<ByteSource> {
  const layout = checkedLayout(source);
  const saltAt = layout.local.length;
  const keys = await keysFrom(passphrase, source.read(saltAt, SALT_BYTES));
  if (!same(source.read(saltAt + SALT_BYTES, VERIFIER_BYTES), keys.verifier)) {
    throw new Refusal("the passphrase does not open this pack", {
      path: source.path,
      offset: saltAt + SALT_BYTES,
      hint: "Check that the passphrase belongs to this pack; if it does, ask for a new copy.",
    });
  }
  const begins = saltAt + SALT_BYTES + VERIFIER_BYTES;
  const hasher = await authenticator(keys);
  for (let done = 0; done < layout.size; done += PIECE_BYTES) {
    const count = Math.min(PIECE_BYTES, layout.size - done);
    hasher.update(source.read(begins + done, count));
    onBytes(count);
  }
  const macAt = layout.centralAt - MAC_BYTES;
  if (!same(source.read(macAt, MAC_BYTES), macOf(hasher))) {
    throw new Refusal("the encrypted bytes are not those that were encrypted with this passphrase", {
      path: source.path,
      offset: macAt,
      hint: "The file was damaged or changed; ask for a new copy. Nothing of it was kept.",
    });
  }
  return new DecryptedSource(source, keys, begins, layout.size);
}

class DecryptedSource implements ByteSource {
  readonly path: string;

  constructor(
    private readonly source: ByteSource, private readonly keys: PackKeys,
    private readonly begins: number, readonly size: number,
  ) {
    this.path = source.path;
  }

  read(offset: number, count: number): Uint8Array {
    if (offset + count > this.size) {
      const there = Math.max(this.size - offset, 0);
      throw new Refusal("the archive ends too early", {
        path: this.path,
        offset: Math.min(offset, this.size),
        expected: `${count - there} more bytes`,
        observed: "the end of the file",
      });
    }
    return decrypted(this.keys, this.source.read(this.begins + offset, count), offset);
  }

  /** Decrypted piece by piece into a blob, which a browser may keep outside of memory. */
  blob(offset: number, count: number): Blob {
    const pieces: Blob[] = [];
    for (let done = 0; done < count; done += BLOB_PIECE_BYTES) {
      const piece = this.read(offset + done, Math.min(BLOB_PIECE_BYTES, count - done));
      pieces.push(new Blob([piece as BlobPart]));
    }
    return new Blob(pieces);
  }
}

/** Compare every header with the one that the length of the file asks for. */
function checkedLayout(source: ByteSource): aes.AesLayout {
  const { path } = source;
  if (source.size > MAX_ARCHIVE_BYTES) {
    throw new Refusal("the archive is too large", {
      path, expected: `at most ${MAX_ARCHIVE_BYTES} bytes`, observed: `${source.size} bytes`,
    });
  }
  const layout = aes.layoutForTotal(source.size);
  if (layout === null) {
    throw new Refusal("no encrypted pack has a file of this size", {
      path, expected: `at least ${aes.layoutForSize(0).total} bytes`, observed: `${source.size} bytes`,
    });
  }
  for (const { where, fields, expected, at } of headersOf(layout)) {
    const observed = source.read(at, expected.length);
    if (!same(observed, expected)) fmt.refuseDifference({ where, fields, expected, observed, at, path });
  }
  return layout;
}

function headersOf({ local, central, centralAt, end }: aes.AesLayout) {
  const endAt = centralAt + central.length;
  const split = end.length - fmt.END_SIZE;
  const wide = split === 0 ? [] : [
    {
      where: "ZIP64 locator", fields: fmt.LOCATOR_FIELDS,
      expected: end.subarray(fmt.END64_SIZE, split), at: endAt + fmt.END64_SIZE,
    },
    {
      where: "ZIP64 end record", fields: aes.END64_FIELDS,
      expected: end.subarray(0, fmt.END64_SIZE), at: endAt,
    },
  ];
  return [
    { where: "end record", fields: aes.END_FIELDS, expected: end.subarray(split), at: endAt + split },
    ...wide,
    { where: "central header", fields: aes.CENTRAL_FIELDS, expected: central, at: centralAt },
    { where: "local header", fields: aes.LOCAL_FIELDS, expected: local, at: 0 },
  ];
}
