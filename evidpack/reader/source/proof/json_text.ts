// Why a JSON text is refused: a plain parser that JavaScript's own is compared with. It is asked
// only once a text has turned out not to be in canonical form, to give the reason.

import { MAX_JSON_DEPTH, MAX_SAFE_INTEGER } from "../limits.ts";
import { Refusal } from "../refusal.ts";
import { begin, inAscii } from "../text.ts";
import type { JsonObject, JsonValue } from "./canonical.ts";

const SPACE = /[ \t\n\r]*/y;
const NUMBER = /-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?/y;
const TEXT = /"(?:[^"\\\x00-\x1f]|\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4}))*"/y;
const WORD = /true|false|null/y;
// Not of JSON, but some writers know them.
const CONSTANT = /NaN|-?Infinity/y;

/** The value; throws a Refusal that says what is wrong, with a name given twice among it. */
export function parseStrictly(text: string, path: string, line: number | null): JsonValue {
  const parser = new Parser(text, path, line);
  const value = parser.value();
  parser.end();
  return value;
}

/** Deeper than the format allows; asked while reading, so that no depth exhausts the stack. */
export function tooDeep(path: string, line: number | null): Refusal {
  return new Refusal("arrays and objects stand too deep within each other", {
    path,
    line,
    expected: `at most ${MAX_JSON_DEPTH} levels`,
    observed: `more than ${MAX_JSON_DEPTH}`,
  });
}

/** A whole number that another reader may round. */
export function notExact(observed: string, path: string, line: number | null): Refusal {
  return new Refusal("a whole number is too large to be exact everywhere", {
    path, line, expected: `at most ${MAX_SAFE_INTEGER} either side of 0`, observed: begin(observed, 40),
  });
}

class Parser {
  #at = 0;
  #depth = 0;

  constructor(
    private readonly text: string,
    private readonly path: string,
    private readonly line: number | null,
  ) {}

  value(): JsonValue {
    this.#take(SPACE);
    const next = this.text[this.#at];
    if (next === "{" || next === "[") {
      if (this.#depth++ === MAX_JSON_DEPTH) throw tooDeep(this.path, this.line);
      const value = next === "{" ? this.#object() : this.#array();
      this.#depth--;
      return value;
    }
    const constant = this.#take(CONSTANT);
    if (constant) throw this.#notFinite(constant);
    const number = this.#take(NUMBER);
    if (number) return this.#number(number);
    const token = this.#take(TEXT) || this.#take(WORD);
    if (!token) throw this.#wrong();
    return JSON.parse(token) as JsonValue;
  }

  end(): void {
    this.#take(SPACE);
    if (this.#at !== this.text.length) throw this.#wrong();
  }

  #object(): JsonObject {
    const members = new Map<string, JsonValue>();
    this.#at++;
    if (this.#closes("}")) return {};
    for (;;) {
      this.#take(SPACE);
      const constant = this.#take(CONSTANT);
    if (constant) throw this.#notFinite(constant);
    const token = this.#take(TEXT);
      if (!token) throw this.#wrong();
      const name = JSON.parse(token) as string;
      this.#take(SPACE);
      if (this.text[this.#at++] !== ":") throw this.#wrong();
      const value = this.value();
      if (members.has(name)) throw this.#twice(name);
      members.set(name, value);
      if (this.#closes("}")) return Object.fromEntries(members);
      if (this.text[this.#at++] !== ",") throw this.#wrong();
    }
  }

  #array(): JsonValue[] {
    const members: JsonValue[] = [];
    this.#at++;
    if (this.#closes("]")) return members;
    for (;;) {
      members.push(this.value());
      if (this.#closes("]")) return members;
      if (this.text[this.#at++] !== ",") throw this.#wrong();
    }
  }

  #closes(bracket: string): boolean {
    this.#take(SPACE);
    if (this.text[this.#at] !== bracket) return false;
    this.#at++;
    return true;
  }

  #take(pattern: RegExp): string {
    pattern.lastIndex = this.#at;
    const found = pattern.exec(this.text)?.[0] ?? "";
    this.#at += found.length;
    return found;
  }

  #number(token: string): number {
    const value = Number(token);
    if (Number.isFinite(value)) return value;
    if (/^-?\d+$/.test(token)) throw notExact(token, this.path, this.line);
    throw new Refusal("a number is too large", {
      path: this.path,
      line: this.line,
      expected: "one that a 64-bit floating-point number can hold",
      observed: begin(token, 40),
    });
  }

  #notFinite(observed: string): Refusal {
    return new Refusal("a number is not finite", {
      path: this.path, line: this.line, expected: "a number that JSON can say", observed,
    });
  }

  #twice(name: string): Refusal {
    return new Refusal("an object has two members of the same name", {
      path: this.path,
      line: this.line,
      expected: "each name once",
      observed: `${inAscii(begin(name, 40))} again`,
    });
  }

  #wrong(): Refusal {
    return new Refusal("this is not JSON", {
      path: this.path,
      line: this.line,
      expected: "one JSON value and nothing else",
      observed: `something else after ${this.#at} characters`,
    });
  }
}
