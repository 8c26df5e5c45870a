// What is said beside a redacted copy.

import type { RedactionRecord } from "../proof/pack_parts.ts";
import type { Day } from "./day.ts";
import { el, shown } from "./dom.ts";
import { counted, timeText } from "./format.ts";
import { notAsSealed } from "./findings.ts";
import { facts } from "./table.ts";

/** Whether the copy was proved, what was covered, and by whom. */
export function redactionNote(day: Day, name: string, redaction: RedactionRecord): HTMLElement {
  const proved = day.pack?.provedPictures.includes(name) ?? false;
  const areas = redaction.boxes.length + redaction.polygons.length;
  return el("div", {},
    proved
      ? el("p", {}, "Redacted copy. Outside the grey tiles it is, pixel for pixel, the still that was sealed.")
      : notAsSealed("redacted copy"),
    facts([
      ["Covered", `${counted(redaction.tiles.length, "tile")} of 32 × 32 pixels around ${counted(areas, "area")}. The `
        + "outline is what was asked for; the cover is larger, since pixels beside it still tell what was there."],
      ["Reason", shown(redaction.reason)],
      ["Covered by", `${shown(redaction.by)}, ${timeText(redaction.at) || shown(redaction.at)}`],
    ]));
}
