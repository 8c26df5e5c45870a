// The one HTML file around style and scripts. The build writes it with this function, and the page
// uses the same to tell the digest of the file that it was loaded from.

export interface Parts {
  policy: string;
  version: string;
  style: string;
  engine: string;
  page: string;
}

/** The whole text of reader.html. */
export function shell({ policy, version, style, engine, page }: Parts): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="version" content="${version}">
<title>evidpack reader</title>
<style>${style}</style>
</head>
<body>
<noscript>This page verifies a sealed day in your browser. It needs JavaScript, and sends nothing anywhere.</noscript>
<script type="text/plain" id="engine">${engine}</script>
<script>${page}</script>
</body>
</html>
`;
}

/**
 * What the page may do: run exactly its own script and style, start its worker, show pictures out of
 * the file, and compile the hashing code. No address can be reached.
 */
export function policyFor(styleHash: string, pageHash: string): string {
  return [
    "default-src 'none'",
    `script-src '${pageHash}' 'wasm-unsafe-eval'`,
    `style-src '${styleHash}'`,
    "worker-src blob:",
    "img-src blob:",
    "media-src blob:",
    "base-uri 'none'",
    "form-action 'none'",
  ].join("; ");
}
