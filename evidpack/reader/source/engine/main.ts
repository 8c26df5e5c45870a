// The worker: reads the file and verifies it, away from the page so that the page stays usable.

import { type ByteSource, FileSource } from "../container/archive.ts";
import { isEncrypted, openEncrypted } from "../container/encrypted_pack.ts";
import { hashFile } from "../container/hashing.ts";
import { Refusal } from "../refusal.ts";
import { hex } from "../text.ts";
import { readCertificate } from "../trust/certificates.ts";
import { readRevocationList } from "../trust/revocation_lists.ts";
import { type Examined, stopped } from "../verifying/examined.ts";
import { judge } from "../verifying/judge.ts";
import { unreadable } from "../verifying/step1_container.ts";
import { examine } from "../verifying/verify.ts";
import { DayGatherer } from "./day_view.ts";
import type { Choices, News, Order } from "./messages.ts";
import { packView, type PackView } from "./pack_view.ts";

const TELL_BYTES = 16 * 1024 * 1024;
const tell = (news: News): void => self.postMessage(news);
let given: FileSource | null = null;
let examined: Examined | null = null;

self.onmessage = (event: MessageEvent<Order>): void => {
  carryOut(event.data).catch((error: unknown) => {
    const shown = error instanceof Error ? `${error.name}: ${error.message}` : String(error);
    tell({ news: "defect", message: shown });
  });
};

async function carryOut(order: Order): Promise<void> {
  switch (order.task) {
    case "digest":
      return tell({ news: "digest", sha256: hex(await hashFile(order.file, byteTeller())) });
    case "member":
      return tell({ news: "member", ticket: order.ticket, blob: blobOf(order.name) });
    case "judge":
      return report(order.choices);
    case "verify":
      given = new FileSource(order.file, order.file.name);
      if (locked(given)) return tell({ news: "locked", failure: null });
      examined = await examineSource(given);
      return report(order.choices);
    case "unlock":
      examined = await unlocked(order.passphrase);
      return report(order.choices);
  }
}

/** A file that cannot be read at all is refused with the others. */
function locked(source: ByteSource): boolean {
  try {
    return isEncrypted(source);
  } catch (error) {
    if (error instanceof Refusal) return false;
    throw error;
  }
}

async function unlocked(passphrase: string): Promise<Examined> {
  const { path, size } = given!;
  tell({ news: "step", number: 1 });
  let inside: ByteSource;
  try {
    inside = await openEncrypted(given!, passphrase, byteTeller());
  } catch (error) {
    const failed = unreadable(error, path);
    tell({ news: "locked", failure: failed.faults[0].message });
    tell({ news: "contents", contents: { members: [], day: new DayGatherer(false).view, pack: null } });
    return stopped(path, size, failed);
  }
  return examineSource(inside);
}

async function examineSource(source: ByteSource): Promise<Examined> {
  const gatherer = new DayGatherer(false);
  let pack: PackView | null = null;
  let disclosed: DayGatherer | null = null;
  const found = await examine(source, {
    fileName: source.path,
    size: given!.size,
    onBytes: byteTeller(),
    onStep: (number) => tell({ news: "step", number }),
    onEntry: (number, kind, values, holds) => gatherer.add(number, kind, values, holds),
    onPack: (packed) => (pack = packView(packed, (disclosed = new DayGatherer(true)))),
  });
  const members = (found.archive?.members ?? []).map(({ name, size }) => ({ name, size }));
  tell({ news: "contents", contents: { members, day: (disclosed ?? gatherer).view, pack } });
  return found;
}

async function report(choices: Choices): Promise<void> {
  if (examined === null) return;
  tell({ news: "step", number: 5 });
  const { timeStamp, acceptClaimedTime, verifiedAt } = choices;
  const read = (bytes: Uint8Array) => readCertificate(bytes, null);
  const trust = {
    anchors: choices.anchors.map(read),
    tsaAnchors: choices.tsaAnchors.map(read),
    revocationLists: choices.revocationLists.map((bytes) => readRevocationList(bytes, null)),
  };
  const judging = { trust, timeStamp, acceptClaimedTime, verifiedAt };
  tell({ news: "report", report: await judge(examined, judging) });
}

/** The bytes of a member of the archive, null where there is none. */
function blobOf(name: string): Blob | null {
  const archive = examined?.archive;
  if (!archive?.has(name)) return null;
  const { offset, size } = archive.member(name);
  return archive.source.blob(offset, size);
}

/** Tells of bytes done now and then, not at every piece. */
function byteTeller(): (count: number) => void {
  let done = 0;
  let told = 0;
  return (count) => {
    done += count;
    if (done - told < TELL_BYTES) return;
    told = done;
    tell({ news: "bytes", done });
  };
}
