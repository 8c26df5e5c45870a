// The two statements of a pack: the seal that it comes from, and the discloser's own.

import type { Archive } from "../../container/archive.ts";
import * as layout from "../../layout.ts";
import type { Digester } from "../../proof/digests.ts";
import { type DisclosureStatement, parseDisclosureStatement } from "../../proof/disclosure_statement.ts";
import { parseStatement, type SealStatement } from "../../proof/statement.ts";
import { Refusal } from "../../refusal.ts";
import { hex } from "../../text.ts";
import { note, type PackContents } from "./contents.ts";
import type { PackStatements } from "./step1_order.ts";

/** What each says, null where it cannot be read; they must name one another and the folder. */
export function readStatements(
  archive: Archive, { statementBytes, originBytes }: PackStatements, contents: PackContents,
  digester: Digester,
): { statement: DisclosureStatement | null; origin: SealStatement | null } {
  let statement: DisclosureStatement | null = null;
  let origin: SealStatement | null = null;
  try {
    origin = parseStatement(originBytes, layout.ORIGIN_STATEMENT);
  } catch (error) {
    note(contents.ledgerFaults, error, layout.ORIGIN_STATEMENT);
  }
  try {
    statement = parseDisclosureStatement(statementBytes, layout.DISCLOSURE_STATEMENT);
    requireNamed("the seal statement", hex(statement.origin), hex(digester.of(originBytes)));
    requireNamed("the archive's folder", statement.pack, archive.top);
    requireNamed("the day", statement.day, origin?.day ?? statement.day);
  } catch (error) {
    note(contents.contentFaults, error, layout.DISCLOSURE_STATEMENT);
  }
  return { statement, origin };
}

function requireNamed(what: string, named: string, found: string): void {
  if (named === found) return;
  throw new Refusal(`${what} is not the one that the disclosure statement names`, {
    path: layout.DISCLOSURE_STATEMENT, expected: named, observed: found,
  });
}
