// The worker: reads the file and verifies it, away from the page so that the page stays usable.

import { hashFile } from "../container/hashing.ts";
import { hex } from "../text.ts";
import { readCertificate } from "../trust/certificates.ts";
import { examine, type Examined, judge } from "../verifying/verify.ts";
import { DayGatherer } from "./day_view.ts";
import type { Choices, News, Order } from "./messages.ts";

const TELL_BYTES = 16 * 1024 * 1024;
const tell = (news: News): void => self.postMessage(news);
let examined: Examined | null = null;

self.onmessage = (event: MessageEvent<Order>): void => {
  carryOut(event.data).catch((error: unknown) => {
    const shown = error instanceof Error ? `${error.name}: ${error.message}` : String(error);
    tell({ news: "defect", message: shown });
  });
};

async function carryOut(order: Order): Promise<void> {
  if (order.task === "digest") {
    tell({ news: "digest", sha256: hex(await hashFile(order.file, byteTeller())) });
    return;
  }
  if (order.task === "verify") examined = await examineFile(order.file);
  if (examined === null) return;
  tell({ news: "step", number: 5 });
  tell({ news: "report", report: await judge(examined, judgingBy(order.choices)) });
}

async function examineFile(file: File): Promise<Examined> {
  const gatherer = new DayGatherer();
  const found = await examine(file, {
    fileName: file.name,
    onBytes: byteTeller(),
    onStep: (number) => tell({ news: "step", number }),
    onEntry: (number, kind, values, holds) => gatherer.add(number, kind, values, holds),
  });
  const members = (found.archive?.members ?? []).map(({ name, offset, size }) => ({ name, offset, size }));
  tell({ news: "contents", contents: { members, day: gatherer.view } });
  return found;
}

function judgingBy({ anchors, tsaAnchors, acceptClaimedTime, verifiedAt }: Choices) {
  const read = (bytes: Uint8Array) => readCertificate(bytes, null);
  const trust = { anchors: anchors.map(read), tsaAnchors: tsaAnchors.map(read) };
  return { trust, acceptClaimedTime, verifiedAt };
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
