// A smoke test in Firefox over WebDriver BiDi (W3C): opens the page from disk, gives it certificates
// and a file, and tells what it says.

import { spawn } from "node:child_process";
import { createRequire } from "node:module";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { answer, asked, PAGE_URL, READER } from "./page.mjs";

const { WebSocket } = createRequire(READER)("ws");
const { file, anchors, tsaAnchors, firefox: program } = asked();
const profile = mkdtempSync(join(tmpdir(), "reader-firefox-"));
// Nothing is looked up outside: the address of every service is emptied.
writeFileSync(join(profile, "user.js"), [
  'user_pref("app.update.enabled", false);',
  'user_pref("datareporting.policy.dataSubmissionEnabled", false);',
  'user_pref("network.captive-portal-service.enabled", false);',
  'user_pref("network.connectivity-service.enabled", false);',
  'user_pref("services.settings.server", "data:,none");',
  'user_pref("browser.shell.checkDefaultBrowser", false);',
].join("\n"));
const firefox = spawn(program, [
  "--headless", "--no-remote", "--profile", profile, "--remote-debugging-port", "0",
], { env: { ...process.env, HOME: profile } });

const address = await new Promise((resolve, reject) => {
  let text = "";
  firefox.stderr.on("data", (data) => {
    text += data;
    const found = /WebDriver BiDi listening on (ws:\/\/\S+)/.exec(text);
    if (found) resolve(`${found[1]}/session`);
  });
  firefox.on("exit", () => reject(new Error(`Firefox ended: ${text.slice(-2000)}`)));
});

const socket = new WebSocket(address);
await new Promise((resolve, reject) => Object.assign(socket, { onopen: resolve, onerror: reject }));
const waiting = new Map();
const requests = [];
socket.onmessage = ({ data }) => {
  const message = JSON.parse(data);
  if (message.method === "network.beforeRequestSent") requests.push(message.params.request.url);
  if (message.id === undefined) return;
  const [resolve, reject] = waiting.get(message.id);
  if (message.type === "error") reject(new Error(`${message.error}: ${message.message}`));
  else resolve(message.result);
};
let last = 0;
const send = (method, params = {}) => new Promise((resolve, reject) => {
  waiting.set(++last, [resolve, reject]);
  socket.send(JSON.stringify({ id: last, method, params }));
});

let told;
try {
  const { capabilities } = await send("session.new", { capabilities: {} });
  await send("session.subscribe", { events: ["network.beforeRequestSent"] });
  const { contexts: [{ context }] } = await send("browsingContext.getTree");
  await send("browsingContext.navigate", { context, url: PAGE_URL, wait: "complete" });
  const run = async (expression) => {
    const { result, exceptionDetails } = await send("script.evaluate", {
      expression, target: { context }, awaitPromise: true,
    });
    if (exceptionDetails) throw new Error(exceptionDetails.text);
    return result;
  };
  const until = async (expression) => {
    for (let tries = 0; tries < 300; tries++) {
      const { value } = await run(expression);
      if (value) return value;
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    throw new Error(`never came true: ${expression}`);
  };
  await until('!!document.querySelector(".opening")');
  for (const [number, pem] of [anchors, tsaAnchors].entries()) {
    const field = `document.querySelectorAll("fieldset.trust")[${number}]`;
    await run(`(() => { const f = ${field}; f.querySelector("textarea").value = ${JSON.stringify(pem)};
      f.querySelector("details button").click(); })()`);
    await until(`!!${field}.querySelector(".anchors li")`);
  }
  const input = await run('document.querySelector(".drop input")');
  await send("input.setFiles", { context, element: { sharedId: input.sharedId }, files: [file] });
  const verdict = await until('document.querySelector(".banner h2")?.textContent');
  const outcomes = await run('[...document.querySelectorAll(".step .outcome")].map((one) => one.textContent).join("|")');
  await run('[...document.querySelectorAll("[role=tab]")].find((one) => one.textContent === "Captures").click()');
  const picture = await until('document.querySelector(".card img")?.naturalWidth');
  told = {
    version: capabilities.browserVersion, verdict, outcomes: outcomes.value.split("|"), picture,
    // What Firefox draws its own parts with comes as data:, which is no request to anywhere.
    strangers: requests.filter((url) => url !== PAGE_URL && !/^(blob|data):/.test(url)),
  };
} finally {
  socket.close();
  firefox.kill();
  await new Promise((resolve) => firefox.on("exit", resolve));
  rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
}
answer(told);
