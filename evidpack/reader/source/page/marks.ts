// Signs that stand beside words and never in place of them.

import { svg } from "./dom.ts";

export type Sign = "good" | "bad" | "open" | "none";

/** A sign in a ring: a tick, a cross, a half-filled ring, or a dash. */
export function sign(kind: Sign, big = false): SVGElement {
  const strokes: Record<Sign, string> = {
    good: "M6.5 12.5l3.6 3.6 7.4-8",
    bad: "M7.5 7.5l9 9M16.5 7.5l-9 9",
    open: "M12 4v16",
    none: "M8 12h8",
  };
  return svg("svg", {
    class: `sign ${kind}${big ? " big" : ""}`, viewBox: "0 0 24 24", "aria-hidden": "true", focusable: "false",
  },
  svg("circle", { cx: 12, cy: 12, r: 10, class: "ring" }),
  ...(kind === "open" ? [svg("path", { d: "M12 4a8 8 0 0 1 0 16z", class: "half" })] : []),
  svg("path", { d: strokes[kind], class: "stroke" }));
}

export const signOf = (outcome: string): Sign =>
  ({ holds: "good", pass: "good", fails: "bad", fail: "bad", "not applicable": "none" } as Record<string, Sign>)[outcome] ?? "open";
