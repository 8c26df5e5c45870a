// Two workers of the embedded engine: one verifies and stays to judge again with other certificates,
// one computes the digest of the whole file beside it.

import type { Choices, Contents, News, Order } from "../engine/messages.ts";
import type { Report } from "../verifying/report.ts";

export interface Listener {
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

  constructor(readonly file: File, choices: Choices, private readonly listener: Listener) {
    this.#verifier = this.#begin();
    this.#digester = this.#begin();
    this.#send(this.#verifier, { task: "verify", file, choices });
    this.#send(this.#digester, { task: "digest", file });
  }

  judge(choices: Choices): void {
    this.#send(this.#verifier, { task: "judge", choices });
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
    if (news.news === "step") this.listener.onStep(news.number);
    else if (news.news === "bytes" && worker === this.#verifier) this.listener.onBytes(news.done);
    else if (news.news === "contents") this.listener.onContents(news.contents);
    else if (news.news === "report") this.listener.onReport(news.report);
    else if (news.news === "digest") {
      this.listener.onDigest(news.sha256);
      worker.terminate();
    } else if (news.news === "defect") this.listener.onDefect(news.message);
  }
}
