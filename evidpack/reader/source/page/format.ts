// Numbers, sizes and times as people read them.

import type { JsonValue } from "../proof/canonical.ts";
import { isObject } from "../proof/canonical.ts";

const grouping = new Intl.NumberFormat("en-GB");
export const count = (value: number): string => grouping.format(value);

/** `1 file`, `2 files`. */
export const counted = (value: number, one: string, many = `${one}s`): string =>
  `${count(value)} ${value === 1 ? one : many}`;

export function size(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  const units = ["kB", "MB", "GB", "TB"];
  let value = bytes / 1000;
  let unit = 0;
  while (value >= 999.5 && unit < units.length - 1) {
    value /= 1000;
    unit++;
  }
  return `${value < 10 ? value.toFixed(1) : value.toFixed(0)} ${units[unit]}`;
}

export interface Clock {
  date: string;
  time: string;
  offset: string;
  /** Milliseconds since 1970, or null where the recorded time names no single instant. */
  instant: number | null;
  /** Why it names none. */
  doubt: string | null;
}

/** A recorded time: RFC 3339, or what the record says where it names no single instant. */
export function clockOf(value: JsonValue | undefined): Clock | null {
  if (typeof value === "string") return clockOfText(value, null);
  if (isObject(value) && typeof value.local === "string") {
    return clockOfText(value.local, typeof value.status === "string" ? value.status : "not determined");
  }
  return null;
}

function clockOfText(text: string, doubt: string | null): Clock | null {
  const found = /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)(?:\.(\d+))?(Z|[+-]\d\d:\d\d)?$/.exec(text);
  if (found === null) return null;
  const [, date, whole, fraction, zone] = found;
  const trimmed = (fraction ?? "").replace(/0+$/, "");
  const milliseconds = Date.parse(`${date}T${whole}${zone ?? ""}`) + Number(`0.${trimmed || 0}`) * 1000;
  return {
    date,
    time: trimmed ? `${whole}.${trimmed}` : whole,
    offset: zone === undefined ? "no offset" : zone === "Z" ? "+00:00" : zone,
    instant: doubt === null && zone !== undefined ? milliseconds : null,
    doubt: doubt ?? (zone === undefined ? "no zone" : null),
  };
}

/** A recorded time in one line, with its date and offset. */
export function timeText(value: JsonValue | undefined): string {
  const clock = clockOf(value);
  if (clock === null) return "";
  const doubt = clock.doubt === null ? "" : ` (${clock.doubt})`;
  return `${clock.date} ${clock.time} ${clock.offset}${doubt}`;
}

const UNITS: Record<string, string> = { mph: "mph", kmh: "km/h", mps: "m/s", m: "m", ft: "ft" };

/** A measured value in the unit in which it was exported, by the ending of its name. */
export function measured(values: Record<string, JsonValue>, name: string): string | null {
  for (const [ending, unit] of Object.entries(UNITS)) {
    const value = values[`${name}_${ending}`];
    if (typeof value === "number" && Object.hasOwn(values, `${name}_${ending}`)) return `${value} ${unit}`;
  }
  return null;
}

/** Any value of a record or finding in a few words. */
export function plain(value: JsonValue | undefined): string {
  if (value === null || value === undefined) return "";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (Array.isArray(value)) return value.map(plain).join(", ");
  if (isObject(value)) {
    if ("local" in value) return timeText(value);
    return Object.entries(value).map(([name, one]) => `${words(name)}: ${plain(one)}`).join(", ");
  }
  return typeof value === "string" ? (clockOf(value) === null ? value : timeText(value)) : String(value);
}

/** `tamper_seal` as words. */
export const words = (name: string): string => name.replace(/_/g, " ");
