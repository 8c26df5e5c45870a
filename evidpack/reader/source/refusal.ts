// What is thrown where something is not as it must be, and how it becomes a fault of a step.

export interface Place {
  path?: string | null;
  line?: number | null;
  offset?: number | null;
  expected?: string | null;
  observed?: string | null;
  hint?: string | null;
}

/** Something in the file is wrong. The message says what; the place says where. */
export class Refusal extends Error {
  path: string | null;
  line: number | null;
  offset: number | null;
  expected: string | null;
  observed: string | null;
  hint: string | null;

  constructor(message: string, place: Place = {}) {
    super(message);
    this.path = place.path ?? null;
    this.line = place.line ?? null;
    this.offset = place.offset ?? null;
    this.expected = place.expected ?? null;
    this.observed = place.observed ?? null;
    this.hint = place.hint ?? null;
  }
}

/**
 * One thing that is wrong: the item, what was expected and what was found. `line` counts from 1;
 * `offset` is in bytes, of the item or, in step 1, of the whole file.
 */
export interface Fault {
  item: string;
  message: string;
  expected: string | null;
  observed: string | null;
  line?: number | null;
  offset?: number | null;
  /** What to do about this very fault. */
  hint?: string | null;
}

/** The item, with the line or the byte where it is known. */
export function placeOf({ item, line, offset }: Fault): string {
  if (line != null) return `${item}:${line}`;
  return offset == null ? item : `${item}, at byte ${offset}`;
}

/** A fault from a refusal. Anything else is a defect of this reader and is thrown on. */
export function faultFrom(error: unknown, item: string): Fault {
  if (!(error instanceof Refusal)) throw error;
  return {
    item: error.path ?? item,
    message: error.message,
    expected: error.expected,
    observed: error.observed,
    line: error.line,
    offset: error.offset,
    hint: error.hint,
  };
}
