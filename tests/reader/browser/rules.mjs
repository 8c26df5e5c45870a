// Runs single rules of the page's own sources in Node, to be compared with Python's.

import { answer, asked } from "./page.mjs";
import { fromSources } from "./sources.mjs";

const { names, canonical, limits, layout, report, moment, crc32, numbersIn } = await fromSources(`
  export * as names from "./source/container/names.ts";
  export * as canonical from "./source/proof/canonical.ts";
  export * as limits from "./source/limits.ts";
  export * as layout from "./source/layout.ts";
  export * as report from "./source/verifying/report.ts";
  export * as moment from "./source/moment.ts";
  export { crc32 } from "./source/container/crc32.ts";
  export { numbersIn } from "./source/page/day.ts";`);

const outcome = (work) => {
  try {
    return { value: work() };
  } catch (error) {
    return { refused: error.message };
  }
};

const { texts, documents, times, checksums, sentences, points } = asked();
answer({
  limits,
  layout,
  stepTitles: report.STEP_TITLES,
  notProved: report.NOT_PROVED,
  names: texts.map((name) => outcome(() => names.requireName(name))),
  keys: texts.map((name) => names.twinKey(name)),
  stands: points.map((point) => names.mayStand(String.fromCodePoint(point))),
  foldedKeys: points.map((point) => names.twinKey(String.fromCodePoint(point))),
  documents: documents.map((data) => outcome(() =>
    canonical.canonicalText(canonical.parseCanonical(Buffer.from(data, "base64"), "x")))),
  times: times.map((text) => moment.parseMoment(text)),
  checksums: checksums.map(([first, second]) =>
    crc32(Buffer.from(second, "base64"), crc32(Buffer.from(first, "base64")))),
  sentences: sentences.map((text) => numbersIn(text)),
});
