// Lines of a member of the archive, read in pieces and split on byte 0x0A alone.

import type { Archive } from "../container/archive.ts";
import { MAX_LEDGER_LINE_BYTES } from "../limits.ts";
import { Refusal } from "../refusal.ts";

const PIECE_BYTES = 1024 * 1024;

/**
 * Lines without their line feed. Throws a Refusal for a line over the limit, an empty line, or a
 * last line without line feed.
 */
export function* linesOf(archive: Archive, name: string): Generator<Uint8Array, void, void> {
  const member = archive.member(name);
  let rest: Uint8Array = new Uint8Array(0);
  let number = 0;
  for (let done = 0; done < member.size; ) {
    const count = Math.min(PIECE_BYTES, member.size - done);
    const piece = joined(rest, archive.source.read(member.offset + done, count));
    done += count;
    let at = 0;
    for (let end = piece.indexOf(0x0a, rest.length); end >= 0; end = piece.indexOf(0x0a, at)) {
      number++;
      if (end - at >= MAX_LEDGER_LINE_BYTES + 1) throw endless(name, number, MAX_LEDGER_LINE_BYTES + 1);
      if (end === at) throw new Refusal("a line is empty", { path: name, line: number });
      yield piece.subarray(at, end);
      at = end + 1;
    }
    rest = piece.slice(at);
    if (rest.length > MAX_LEDGER_LINE_BYTES) throw endless(name, number + 1, MAX_LEDGER_LINE_BYTES + 1);
  }
  if (rest.length) throw endless(name, number + 1, rest.length);
}

function joined(one: Uint8Array, other: Uint8Array): Uint8Array {
  if (!one.length) return other;
  const both = new Uint8Array(one.length + other.length);
  both.set(one);
  both.set(other, one.length);
  return both;
}

function endless(path: string, line: number, length: number): Refusal {
  return new Refusal("a line is longer than the limit or the last line has no line feed", {
    path,
    line,
    expected: `a line feed within ${MAX_LEDGER_LINE_BYTES} bytes`,
    observed: `${length} bytes without one`,
  });
}
