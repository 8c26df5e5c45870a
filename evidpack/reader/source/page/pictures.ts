// Stills out of the file, read only when they come into sight.

import type { Day } from "./day.ts";
import { el } from "./dom.ts";

const TYPES: Record<string, string> = {
  jpg: "image/jpeg", jpeg: "image/jpeg", png: "image/png", webp: "image/webp", gif: "image/gif",
  mp4: "video/mp4", m4v: "video/mp4", webm: "video/webm",
};

/** The type by the ending of the name; null where a browser would not show it. */
export const typeOf = (path: string): string | null =>
  TYPES[path.slice(path.lastIndexOf(".") + 1).toLowerCase()] ?? null;

const watcher = new IntersectionObserver((seen) => {
  for (const { isIntersecting, target } of seen) {
    if (!isIntersecting) continue;
    watcher.unobserve(target);
    (target as Waiting).load?.();
  }
}, { rootMargin: "300px" });

type Waiting = HTMLElement & { load?: () => void };

/** A picture that loads when it comes into sight; words in its place where it cannot be shown. */
export function picture(day: Day, path: string, words: string): HTMLElement {
  const type = typeOf(path);
  const blob = type?.startsWith("image/") ? day.blob(`data/${path}`, type) : null;
  const frame: Waiting = el("div", { class: "picture" });
  if (blob === null) {
    frame.append(el("p", { class: "quiet" }, "This browser does not show a file of this kind."));
    return frame;
  }
  frame.load = () => {
    const url = URL.createObjectURL(blob);
    const image = el("img", {
      src: url, alt: words,
      load: () => URL.revokeObjectURL(url),
      error: () => {
        URL.revokeObjectURL(url);
        frame.replaceChildren(el("p", { class: "quiet" }, "The picture cannot be decoded here."));
      },
    });
    frame.replaceChildren(image);
  };
  watcher.observe(frame);
  return frame;
}
