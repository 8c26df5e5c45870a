// Stills out of the file, read only when they come into sight; over a redacted copy, what was asked to
// be covered is outlined.

import type { RedactionRecord } from "../proof/pack_parts.ts";
import type { Day } from "./day.ts";
import { el, svg } from "./dom.ts";

const TYPES: Record<string, string> = {
  jpg: "image/jpeg", jpeg: "image/jpeg", png: "image/png", webp: "image/webp", gif: "image/gif",
  mp4: "video/mp4", m4v: "video/mp4", webm: "video/webm",
};

/** The type by the ending of the name; null where a browser would not show it. */
export const typeOf = (path: string): string | null =>
  TYPES[path.slice(path.lastIndexOf(".") + 1).toLowerCase()] ?? null;

const watcher = new IntersectionObserver((seen) => {
  for (const { isIntersecting, target } of seen) {
    if (isIntersecting) void load(target as HTMLElement);
  }
}, { rootMargin: "300px" });

const waiting = new WeakMap<HTMLElement, () => Promise<void>>();

/** Load a picture that waits to come into sight; does nothing for one that is there. */
async function load(frame: HTMLElement): Promise<void> {
  const begin = waiting.get(frame);
  watcher.unobserve(frame);
  waiting.delete(frame);
  await begin?.();
}

/** Load every picture below an element, for paper. */
export async function loadPictures(holder: HTMLElement): Promise<void> {
  for (const frame of holder.querySelectorAll<HTMLElement>(".picture")) await load(frame);
}

/** A picture that loads when it comes into sight; words in its place where it cannot be shown. */
export function picture(
  day: Day, name: string, words: string, redaction: RedactionRecord | null = null,
): HTMLElement {
  const frame = el("div", { class: redaction === null ? "picture" : "picture redacted" });
  const type = typeOf(name);
  if (!type?.startsWith("image/") || !day.has(name)) {
    frame.append(el("p", { class: "quiet" },
      day.has(name) ? "This browser does not show a file of this kind." : "The still is not in this file."));
    return frame;
  }
  waiting.set(frame, async () => {
    const blob = await day.fetch(name);
    const image = blob === null ? null : await decoded(blob.slice(0, blob.size, type), words);
    frame.replaceChildren(image ?? el("p", { class: "quiet" }, "The picture cannot be decoded here."));
    if (image !== null && redaction !== null) frame.append(outlines(image, redaction));
  });
  watcher.observe(frame);
  return frame;
}

/** The picture, once the browser has decoded it; null where it cannot. */
function decoded(blob: Blob, words: string): Promise<HTMLImageElement | null> {
  const url = URL.createObjectURL(blob);
  return new Promise((resolve) => {
    const image = el("img", {
      src: url, alt: words,
      load: () => resolve(image),
      error: () => resolve(null),
    });
  }).then((image) => {
    URL.revokeObjectURL(url);
    return image as HTMLImageElement | null;
  });
}

/** Outlines in the picture's own pixels, laid over it at whatever size it is shown. */
function outlines({ naturalWidth, naturalHeight }: HTMLImageElement, { boxes, polygons }: RedactionRecord): SVGElement {
  const points = (polygon: number[][]): string => polygon.map((point) => point.join(",")).join(" ");
  const each = (draw: (name: string) => SVGElement[]): SVGElement[] => [...draw("edge"), ...draw("line")];
  return svg("svg", { class: "outlines", viewBox: `0 0 ${naturalWidth} ${naturalHeight}`, "aria-hidden": "true" },
    ...each((name) => boxes.map(([x, y, width, height]) => svg("rect", { class: name, x, y, width, height }))),
    ...each((name) => polygons.map((polygon) => svg("polygon", { class: name, points: points(polygon) }))));
}
