// The one form of PNG that a redacted copy may have (PNG, W3C Recommendation 2003, 5, 9, 10 and 11):
// signature, IHDR of an 8-bit RGB picture without interlace, IDAT chunks one after the other, IEND;
// one zlib stream of exactly the rows, and no byte before, between or after.

import { crc32 } from "../../container/crc32.ts";
import { PIXEL_BYTES } from "../../proof/tiles.ts";
import { Refusal } from "../../refusal.ts";
import { hex, inAscii, same } from "../../text.ts";

const SIGNATURE = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);
const HEADER_BYTES = 13;
const RGB_8_BIT = [8, 2, 0, 0, 0]; // depth, colour type, compression, filter, interlace

interface Size {
  path: string;
  width: number;
  height: number;
}

/**
 * Check the form and hand over the pixel rows in order, from the top, without their filter byte. A
 * row handed over is used again for the one after the next. Throws a Refusal with path and offset.
 */
export async function readPlainPng(
  png: Uint8Array, size: Size, onRow: (row: Uint8Array) => void,
): Promise<void> {
  const chunks = dataChunks(png, size);
  const rows = new Rows(size, onRow);
  const inflated = new Blob(chunks as BlobPart[]).stream().pipeThrough(new DecompressionStream("deflate"));
  const reader = inflated.getReader();
  try {
    for (;;) {
      const { done, value } = await nextPiece(reader, size.path);
      if (done) break;
      rows.take(value!);
    }
  } finally {
    reader.cancel().catch(() => undefined);
  }
  rows.end();
}

async function nextPiece(reader: ReadableStreamDefaultReader<Uint8Array>, path: string) {
  try {
    return await reader.read();
  } catch (error) {
    throw wrong("the pixels of the PNG cannot be inflated", path, 0, "a zlib stream, and nothing behind it",
      (error as Error).message);
  }
}

/** The data of all IDAT chunks, once every chunk has been checked. */
function dataChunks(png: Uint8Array, size: Size): Uint8Array[] {
  const { path } = size;
  if (!same(png.subarray(0, SIGNATURE.length), SIGNATURE)) {
    throw wrong("the redacted copy is no PNG", path, 0, "the PNG signature", hex(png.subarray(0, 8)) || "nothing");
  }
  const header = chunkAt(png, SIGNATURE.length, path);
  requireHeader(header, size);
  const found: Uint8Array[] = [];
  for (let at = header.end; ; ) {
    const { kind, data, end } = chunkAt(png, at, path);
    if (kind === "IEND") {
      if (data.length || end !== png.length) {
        throw wrong("the PNG goes on after its end", path, at, "nothing", `${png.length - end} bytes`);
      }
      return found;
    }
    if (kind !== "IDAT") {
      throw wrong(`the PNG holds a chunk ${shownKind(kind)}, and a redacted copy holds pixels alone`, path, at,
        "IHDR, IDAT, IEND", shownKind(kind));
    }
    if (!data.length) throw wrong("the PNG has an empty IDAT", path, at, "pixels", "no byte");
    found.push(data);
    at = end;
  }
}

function requireHeader({ kind, data, end }: Chunk, { path, width, height }: Size): void {
  if (kind !== "IHDR" || data.length !== HEADER_BYTES) {
    throw wrong("the PNG does not begin with its header", path, end, "IHDR", shownKind(kind));
  }
  const view = new DataView(data.buffer, data.byteOffset, HEADER_BYTES);
  const form = Array.from(data.subarray(8));
  if (view.getUint32(0) === width && view.getUint32(4) === height && form.join() === RGB_8_BIT.join()) return;
  throw wrong("the PNG is of another size or form than the still sealed", path, SIGNATURE.length,
    `${width} × ${height}, 8-bit RGB, not interlaced`,
    `${view.getUint32(0)} × ${view.getUint32(4)}, depth ${form[0]}, colour type ${form[1]}, methods ${form.slice(2).join(" ")}`);
}

interface Chunk {
  kind: string;
  data: Uint8Array;
  end: number;
}

function chunkAt(png: Uint8Array, at: number, path: string): Chunk {
  const left = png.length - at;
  if (left < 12) throw wrong("the PNG ends too early", path, at, "a chunk", `${left} bytes`);
  const view = new DataView(png.buffer, png.byteOffset + at, left);
  const length = view.getUint32(0);
  const kind = String.fromCharCode(...png.subarray(at + 4, at + 8));
  if (length > left - 12) {
    throw wrong(`the chunk ${shownKind(kind)} is longer than the file`, path, at, `at most ${left - 12} bytes`,
      `${length} bytes`);
  }
  const stated = view.getUint32(8 + length);
  const computed = crc32(png.subarray(at + 4, at + 8 + length));
  if (stated !== computed) {
    const shown = (value: number): string => value.toString(16).padStart(8, "0");
    throw wrong(`the chunk ${shownKind(kind)} is damaged`, path, at, `CRC ${shown(computed)}`, shown(stated));
  }
  return { kind, data: png.subarray(at + 8, at + 8 + length), end: at + 12 + length };
}

const shownKind = (kind: string): string => inAscii(kind).slice(1, -1);

/** Gathers inflated bytes into rows, takes the filter off each, and hands it over. */
class Rows {
  readonly #stride: number;
  #line: Uint8Array;
  #before: Uint8Array;
  #filled = -1; // −1 before the filter byte of a row
  #filter = 0;
  #left: number;

  constructor(private readonly size: Size, private readonly onRow: (row: Uint8Array) => void) {
    this.#stride = size.width * PIXEL_BYTES;
    this.#line = new Uint8Array(this.#stride);
    this.#before = new Uint8Array(this.#stride);
    this.#left = size.height;
  }

  take(piece: Uint8Array): void {
    for (let at = 0; at < piece.length; ) {
      if (!this.#left) throw this.#tooMuch();
      if (this.#filled < 0) {
        this.#begin(piece[at++]);
        continue;
      }
      const part = piece.subarray(at, at + this.#stride - this.#filled);
      this.#line.set(part, this.#filled);
      this.#filled += part.length;
      at += part.length;
      if (this.#filled === this.#stride) this.#finish();
    }
  }

  #begin(filter: number): void {
    if (filter > 4) throw wrong("a row of the PNG has an unknown filter", this.size.path, 0, "0 to 4", "another");
    this.#filter = filter;
    this.#filled = 0;
  }

  #finish(): void {
    unfilter(this.#filter, this.#line, this.#before);
    this.onRow(this.#line);
    [this.#line, this.#before] = [this.#before, this.#line];
    this.#filled = -1;
    this.#left--;
  }

  #tooMuch(): Refusal {
    return wrong("the PNG holds more than the rows of its picture", this.size.path, 0, "the rows", "more bytes");
  }

  /** Nothing may be missing. */
  end(): void {
    if (!this.#left) return;
    const missing = this.#left * (this.#stride + 1) - (this.#filled < 0 ? 0 : this.#filled + 1);
    throw wrong("the PNG holds less than the rows of its picture", this.size.path, 0,
      "the rows and the end of the zlib stream", `${missing} bytes fewer`);
  }
}

/** Takes a filter off a row in place (PNG, 9.2). */
function unfilter(filter: number, line: Uint8Array, before: Uint8Array): void {
  if (filter === 0) return;
  for (let at = 0; at < line.length; at++) {
    const left = at < PIXEL_BYTES ? 0 : line[at - PIXEL_BYTES];
    const up = before[at];
    const corner = at < PIXEL_BYTES ? 0 : before[at - PIXEL_BYTES];
    if (filter === 1) line[at] += left;
    else if (filter === 2) line[at] += up;
    else if (filter === 3) line[at] += (left + up) >> 1;
    else line[at] += nearest(left, up, corner);
  }
}

/** The predictor of Paeth (PNG, 9.4). */
function nearest(left: number, up: number, corner: number): number {
  const guess = left + up - corner;
  const [toLeft, toUp, toCorner] = [Math.abs(guess - left), Math.abs(guess - up), Math.abs(guess - corner)];
  if (toLeft <= toUp && toLeft <= toCorner) return left;
  return toUp <= toCorner ? up : corner;
}

function wrong(message: string, path: string, offset: number, expected: string, observed: string): Refusal {
  return new Refusal(message, { path, offset, expected, observed });
}
