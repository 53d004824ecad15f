// What a browser shows of the reports and of the bench page: Chromium, driven by playwright-core.
//
//   node tests/reference/check_browser.mjs <what.json
//
// The standard input is a JSON object: `kind` is `reports` or `bench`, `shots` the folder into which pictures go; the rest is
// told in reports.mjs and bench.mjs. Every fault is a line on the standard output; the exit status is 1 if there is any.

import { readFileSync, mkdirSync } from "node:fs";

import { browsing, Faults } from "./browser/browsing.mjs";
import { reports } from "./browser/reports.mjs";
import { bench } from "./browser/bench.mjs";

const asked = JSON.parse(readFileSync(0, "utf8"));
mkdirSync(asked.shots, { recursive: true });
const faults = new Faults();
await browsing((browser) => (asked.kind === "bench" ? bench : reports)(browser, asked, faults));
console.log(faults.summary());
process.exit(faults.count > 0 ? 1 : 0);
