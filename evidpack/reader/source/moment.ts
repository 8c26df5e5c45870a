// Instants in whole microseconds, and the RFC 3339 text in which they are shown. JavaScript's own
// dates stop at milliseconds, and a time stamp may say more.

export interface Moment {
  /** Microseconds since 1970-01-01T00:00:00Z; exact, since below 2^53 until the year 2255. */
  micros: number;
  text: string;
}

const RFC3339 =
  /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,6}))?(Z|[+-]\d{2}:\d{2})$/;

/** An RFC 3339 time; "form" where the text is none, "absent" where there is no such time. */
export function parseMoment(text: string): Moment | "form" | "absent" {
  const found = RFC3339.exec(text);
  if (found === null) return "form";
  const [year, month, day, hour, minute, second] = found.slice(1, 7).map(Number);
  const micro = Number((found[7] ?? "").padEnd(6, "0"));
  const zone = found[8];
  const utc = utcMicros(year, month, day, hour, minute, second, micro);
  if (utc === null) return "absent";
  let offset = 0;
  if (zone !== "Z") {
    const [hours, minutes] = [Number(zone.slice(1, 3)), Number(zone.slice(4))];
    if (hours > 23 || minutes > 59) return "absent";
    offset = (zone[0] === "-" ? -1 : 1) * (60 * hours + minutes);
  }
  const shownZone = zone === "Z" || offset === 0 ? "+00:00" : zone;
  const fraction = micro ? "." + String(micro).padStart(6, "0") : "";
  return { micros: utc - offset * 60_000_000, text: text.slice(0, 19) + fraction + shownZone };
}

/** Microseconds of a date and time in UTC; null where there is no such time. */
export function utcMicros(
  year: number, month: number, day: number, hour: number, minute: number, second: number, micro = 0,
): number | null {
  if (year < 1 || hour > 23 || minute > 59 || second > 59) return null;
  const date = new Date(0);
  date.setUTCFullYear(year, month - 1, day);
  if (date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day) return null;
  return (date.getTime() + ((hour * 60 + minute) * 60 + second) * 1000) * 1000 + micro;
}

/** The moment in UTC with an offset of +00:00, microseconds only where there are any. */
export function momentOf(micros: number): Moment {
  const micro = ((micros % 1_000_000) + 1_000_000) % 1_000_000;
  const whole = new Date((micros - micro) / 1000).toISOString().slice(0, 19);
  const fraction = micro ? "." + String(micro).padStart(6, "0") : "";
  return { micros, text: `${whole}${fraction}+00:00` };
}

/** The same instant written in UTC. */
export const inUtc = (moment: Moment): string => momentOf(moment.micros).text;
