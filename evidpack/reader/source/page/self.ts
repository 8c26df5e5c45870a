// What this page can say of itself: its version, and the digest of the file that it came in.

import { shell } from "../shell.ts";

export interface Self {
  version: string;
  /** SHA-256 of the HTML file, as `sha256sum` gives it; null until computed. */
  sha256: string | null;
}

const meta = (selector: string): string =>
  document.querySelector(selector)?.getAttribute("content") ?? "";

/** Put the file together again from its parts, with the function that built it, and digest that. */
export async function readSelf(): Promise<Self> {
  const version = meta('meta[name="version"]');
  const text = shell({
    policy: meta('meta[http-equiv="Content-Security-Policy"]'),
    version,
    style: document.querySelector("style")!.textContent!,
    engine: document.getElementById("engine")!.textContent!,
    page: document.querySelector("script:not([id])")!.textContent!,
  });
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text)));
  return { version, sha256: Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("") };
}
