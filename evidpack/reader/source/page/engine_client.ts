// Two workers of the embedded engine: one verifies and stays to judge again with other certificates,
// one computes the digest of the whole file beside it.

import type { Choices, Contents, News, Order } from "../engine/messages.ts";
import type { Report } from "../verifying/report.ts";

export interface Listener {
  /** An encrypted pack; `failure` says why the passphrase given last did not open it. */
  onLocked(failure: string | null): void;
  onStep(number: number): void;
  onBytes(done: number): void;
  onContents(contents: Contents): void;
  onReport(report: Report): void;
  onDigest(sha256: string): void;
  onDefect(message: string): void;
}

let engineUrl: string | null = null;

/** One file under examination. `stop` ends both workers. */
export class Examination {
  readonly #verifier: Worker;
  readonly #digester: Worker;
  readonly #wanted = new Map<number, (blob: Blob | null) => void>();
  #tickets = 0;

  constructor(readonly file: File, choices: Choices, private readonly listener: Listener) {
    this.#verifier = this.#begin();
    this.#digester = this.#begin();
    this.#send(this.#verifier, { task: "verify", file, choices });
    this.#send(this.#digester, { task: "digest", file });
  }

  judge(choices: Choices): void {
    this.#send(this.#verifier, { task: "judge", choices });
  }

  unlock(passphrase: string, choices: Choices): void {
    this.#send(this.#verifier, { task: "unlock", passphrase, choices });
  }

  /** The bytes of a member of the archive, null where there is none. */
  fetch(name: string): Promise<Blob | null> {
    const ticket = ++this.#tickets;
    this.#send(this.#verifier, { task: "member", ticket, name });
    return new Promise((resolve) => this.#wanted.set(ticket, resolve));
  }

  stop(): void {
    this.#verifier.terminate();
    this.#digester.terminate();
  }

  #begin(): Worker {
    engineUrl ??= URL.createObjectURL(
      new Blob([document.getElementById("engine")!.textContent!], { type: "text/javascript" }),
    );
    const worker = new Worker(engineUrl);
    worker.onmessage = (event: MessageEvent<News>) => this.#tell(event.data, worker);
    worker.onerror = (event) => this.listener.onDefect(event.message || "the engine could not be started");
    return worker;
  }

  #send(worker: Worker, order: Order): void {
    worker.postMessage(order);
  }

  #tell(news: News, worker: Worker): void {
    const { listener } = this;
    switch (news.news) {
      case "step":
        return listener.onStep(news.number);
      case "bytes":
        return worker === this.#verifier ? listener.onBytes(news.done) : undefined;
      case "locked":
        return listener.onLocked(news.failure);
      case "contents":
        return listener.onContents(news.contents);
      case "report":
        return listener.onReport(news.report);
      case "member":
        this.#wanted.get(news.ticket)?.(news.blob);
        this.#wanted.delete(news.ticket);
        return;
      case "digest":
        listener.onDigest(news.sha256);
        worker.terminate();
        return;
      case "defect":
        return listener.onDefect(news.message);
    }
  }
}
