// The passphrase of an encrypted pack as somebody typed it: seven groups of four, of 32 characters that
// are not taken for one another, the last of which checks the others (elements of the field of 32,
// weighted by the powers of a generator: one wrong character, or two that have changed places, always
// show).

const ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ";
export const PASSPHRASE_CHARACTERS = 28;
const REDUCTION = 0b100101; // x⁵ + x² + 1

/** What is wrong with what was typed; it never repeats it. */
export interface Mistyped {
  expected: string;
  observed: string;
}

/** The one form of a passphrase, or why it is not typed as it stands on the slip. */
export function readPassphrase(text: string): string | Mistyped {
  const typed = plain(text);
  if (typed.length !== PASSPHRASE_CHARACTERS) {
    return { expected: `${PASSPHRASE_CHARACTERS} characters`, observed: `${typed.length} characters` };
  }
  if (typed.some((one) => !ALPHABET.includes(one))) {
    return {
      expected: "letters and digits without I, O, 0 and 1",
      observed: "another character among them",
    };
  }
  if (remainder(typed) !== 0) {
    return { expected: "each as on the slip", observed: "characters that do not agree with the last one" };
  }
  return typed.join("").match(/.{4}/g)!.join("-");
}

/** How many characters were typed, spaces and hyphens apart. */
export const typedCharacters = (text: string): number => plain(text).length;

const plain = (text: string): string[] =>
  Array.from(text.replace(/[\s\x1c-\x1f\x85]/g, "").replace(/-/g, "").toUpperCase());

function remainder(characters: string[]): number {
  let total = 0;
  for (const one of characters) {
    total <<= 1;
    if (total >> 5) total ^= REDUCTION;
    total ^= ALPHABET.indexOf(one);
  }
  return total;
}
