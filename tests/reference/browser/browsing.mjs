// Starting the browser, and listening to what a page says and asks for.

import { createRequire } from "node:module";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const CHROMIUM = "/usr/bin/chromium";

// no word to anybody: no updates, no accounts, no first run
const ARGUMENTS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--disable-default-apps",
  "--disable-dev-shm-usage",
];

export class Faults {
  count = 0;
  checks = 0;
  #counted = new Map();

  // one check; says what is wrong where it fails
  check(holds, what) {
    this.checks += 1;
    if (holds) return true;
    this.count += 1;
    console.log(`FAULT ${what}`);
    return false;
  }

  // what was looked at, to be said at the end
  saw(what, n = 1) {
    this.#counted.set(what, (this.#counted.get(what) ?? 0) + n);
  }

  summary() {
    const seen = [...this.#counted].map(([what, n]) => `${n} ${what}`).join(", ");
    return `${this.checks} checks, ${this.count} faults; ${seen}`;
  }
}

// runs `job` with a browser that knows nothing of any other run
export async function browsing(job) {
  const library = createRequire(resolve("target/reference") + "/");
  const { chromium } = library("playwright-core");
  const profile = mkdtempSync(join(tmpdir(), "backshell-browser-"));
  const options = { executablePath: CHROMIUM, headless: true, args: ARGUMENTS, viewport: { width: 1280, height: 900 } };
  try {
    const browser = await chromium.launchPersistentContext(profile, options);
    try {
      await job(browser);
    } finally {
      await browser.close();
    }
  } finally {
    rmSync(profile, { recursive: true, force: true, maxRetries: 5, retryDelay: 200 });
  }
}

// a tab whose errors, warnings and requests are faults; `allowed` says of an address whether it may be asked for
export async function tab(browser, name, allowed, faults) {
  const page = await browser.newPage();
  page.on("console", (message) => {
    const type = message.type();
    faults.check(type !== "error" && type !== "warning", `${name}: the console says: ${message.text()}`);
  });
  page.on("pageerror", (error) => faults.check(false, `${name}: error in the page: ${error.message}`));
  page.on("requestfailed", (request) => {
    // whoever leaves a page ends its stream of events
    const ended = request.failure()?.errorText === "net::ERR_ABORTED" && request.resourceType() === "eventsource";
    faults.check(ended, `${name}: ${request.url()} failed: ${request.failure()?.errorText}`);
  });
  page.on("request", (request) => {
    faults.saw("requests");
    faults.check(allowed(request.url()), `${name}: asks for ${request.url()}`);
  });
  return page;
}
