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

/** One thing that is wrong: the item, what was expected and what was found. */
export interface Fault {
  item: string;
  message: string;
  expected: string | null;
  observed: string | null;
}

/** A fault from a refusal. Anything else is a defect of this reader and is thrown on. */
export function faultFrom(error: unknown, item: string): Fault {
  if (!(error instanceof Refusal)) throw error;
  return {
    item: error.path ?? item,
    message: error.message,
    expected: error.expected,
    observed: error.observed,
  };
}
