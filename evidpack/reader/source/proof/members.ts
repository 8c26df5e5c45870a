// Reading the members of a signed JSON object strictly, each exactly once.

import * as limits from "../limits.ts";
import { type Moment, parseMoment } from "../moment.ts";
import { Refusal } from "../refusal.ts";
import { unhex } from "../text.ts";
import { isObject, type JsonValue } from "./canonical.ts";

/** The members of one JSON object, each taken once, with a clear refusal for each wrong shape. */
export class Members {
  readonly #left: Map<string, JsonValue>;

  constructor(value: JsonValue, readonly path: string, private readonly where: string) {
    if (!isObject(value)) throw new Refusal(`${where} is not a JSON object`, { path });
    this.#left = new Map(Object.entries(value));
  }

  /** The members that were not taken yet. */
  get names(): string[] {
    return [...this.#left.keys()];
  }

  take(name: string): JsonValue {
    const value = this.#left.get(name);
    if (value === undefined) throw new Refusal(`${this.where} lacks "${name}"`, { path: this.path });
    this.#left.delete(name);
    return value;
  }

  finish(): void {
    if (!this.#left.size) return;
    throw new Refusal(`${this.where} has members that this format does not know`, {
      path: this.path,
      expected: "none beside those of the format",
      observed: this.names.sort().join(", ").slice(0, 200),
    });
  }

  wrong(name: string, expected: string): Refusal {
    return new Refusal(`"${name}" of ${this.where} is not of the right form`, {
      path: this.path, expected, observed: "something else",
    });
  }

  text(name: string): string {
    const value = this.take(name);
    if (typeof value !== "string") throw this.wrong(name, "a text");
    return value;
  }

  integer(name: string): number {
    const value = this.take(name);
    // From 10^21 on, canonical JSON writes an exponent: that is no whole number.
    if (!Number.isSafeInteger(value)) throw this.wrong(name, "a whole number");
    return value as number;
  }

  /** Null for null, else what `read` makes of the member. */
  optional<T>(name: string, read: (name: string) => T): T | null {
    if (this.#left.get(name) !== null) return read.call(this, name);
    this.take(name);
    return null;
  }

  textList(name: string): string[] {
    const value = this.take(name);
    if (!Array.isArray(value) || !value.every((one) => typeof one === "string")) {
      throw this.wrong(name, "a list of texts");
    }
    return value as string[];
  }

  choice(name: string, choices: readonly string[]): string {
    const value = this.text(name);
    if (!choices.includes(value)) throw this.wrong(name, choices.join(" or "));
    return value;
  }

  digest(name: string): Uint8Array {
    const value = unhex(this.text(name));
    if (value === null || value.length !== 32) {
      throw this.wrong(name, "64 lower-case hexadecimal digits");
    }
    return value;
  }

  time(name: string): Moment {
    const text = this.text(name);
    const moment = parseMoment(text);
    if (moment === "form") throw this.wrong(name, "an RFC 3339 time with an offset");
    if (moment === "absent") throw this.wrong(name, "an RFC 3339 time that exists");
    const year = Number(text.slice(0, 4));
    if (year < limits.FIRST_YEAR || year > limits.LAST_YEAR) {
      throw this.wrong(name, `a time from the years ${limits.FIRST_YEAR} to ${limits.LAST_YEAR}`);
    }
    return moment;
  }

  counts(name: string, names: readonly string[]): Record<string, number> {
    const inner = new Members(this.take(name), this.path, `"${name}"`);
    const counts = Object.fromEntries(names.map((member) => [member, inner.integer(member)]));
    inner.finish();
    if (Object.values(counts).some((count) => count < 0)) {
      throw this.wrong(name, "no negative number");
    }
    return counts;
  }

  digests(name: string): Map<string, Uint8Array> {
    const inner = new Members(this.take(name), this.path, `"${name}"`);
    return new Map(inner.names.map((member) => [member, inner.digest(member)]));
  }

  texts(name: string): Record<string, string> {
    const inner = new Members(this.take(name), this.path, `"${name}"`);
    return Object.fromEntries(inner.names.map((member) => [member, inner.text(member)]));
  }
}
