// The bench page, while a bench runs: `address` is where it is, `folder` what it watches, `netlists` what is dropped there: a list
// of objects with `name`, `content`, `unit` (as the page should name it) and `call` (the verdict in large words). `earlier` is a
// unit that only the record knows.

import { renameSync, writeFileSync } from "node:fs";
import { join } from "node:path";

import { tab } from "./browsing.mjs";
import { grey, readable, shapes } from "./distance.mjs";
import { everything, focused, serial } from "./keys.mjs";
import { overlaps, sideways } from "./layout.mjs";

export async function bench(browser, asked, faults) {
  const origin = new URL(asked.address).origin;
  const page = await tab(browser, "bench", (url) => new URL(url).origin === origin, faults);
  await page.goto(asked.address);
  await page.waitForFunction(() => document.getElementById("link").textContent === "live");
  // a page that is loaded again forgets this
  await page.evaluate(() => (window.sameDocument = true));
  await views(page, asked, "waiting", faults);
  const seen = [];
  for (const netlist of asked.netlists) {
    drop(asked.folder, netlist);
    const arrived = page.waitForFunction((call) => document.getElementById("call").textContent === call, netlist.call, { timeout: 20000 });
    const came = await arrived.then(() => true, () => false);
    if (!faults.check(came, `${netlist.name}: “${netlist.call}” doesn't appear`)) continue;
    faults.check(await page.evaluate(() => window.sameDocument === true), `${netlist.name}: the page was loaded again`);
    const what = await page.textContent("#what");
    faults.check(what === netlist.unit, `${netlist.name}: “${what}” where ${netlist.unit} was tested`);
    await views(page, asked, netlist.name, faults);
    if (!seen.some(({ call }) => call === netlist.call)) seen.push({ call: netlist.call, ...(await grey(page)) });
    faults.saw("verdicts");
  }
  faults.check(seen.length === 4, `${seen.length} kinds of verdict were seen`);
  shapes(seen, faults);
  await chips(page, faults);
  await decision(page, asked, faults);
  for (const width of [1280, 400]) {
    await page.setViewportSize({ width, height: 900 });
    await everything(page, `bench at ${width}`, faults);
    await serial(page, asked, `bench at ${width}`, faults);
    await look(page, `bench at ${width} with a unit found`, faults);
    await shot(page, asked, `bench-found-${width}`);
    await page.keyboard.press("Escape");
    faults.check((await focused(page)).id === "serial", `bench at ${width}: Escape doesn't lead back to the serial number`);
  }
  await page.close();
}

function drop(folder, { name, content }) {
  const part = join(folder, ".new");
  writeFileSync(part, content);
  renameSync(part, join(folder, name));
}

async function shot(page, asked, name) {
  await page.evaluate(() => scrollTo(0, 0));
  // the flash of a new verdict is over
  await page.waitForTimeout(1300);
  await page.screenshot({ path: join(asked.shots, `${name}.png`), fullPage: true });
}

async function look(page, name, faults) {
  const wide = await page.evaluate(sideways);
  faults.check(wide === null, `${name}: ${wide}`);
  const { texts, wrong } = await page.evaluate(overlaps);
  faults.check(texts > 10, `${name}: only ${texts} texts`);
  wrong.forEach((what) => faults.check(false, `${name}: ${what}`));
  faults.saw("texts", texts);
}

async function views(page, asked, name, faults) {
  for (const width of [1280, 400]) {
    await page.setViewportSize({ width, height: 900 });
    await look(page, `${name} at ${width}`, faults);
    await readable(page, `${name} at ${width}`, width, faults);
    await shot(page, asked, `bench-${name}-${width}`);
  }
  await page.setViewportSize({ width: 1280, height: 900 });
}

// each line of the list says its verdict in words and by a shape of its own
async function chips(page, faults) {
  const chips = await page.$$eval(".chip", (all) => all.map((chip) => [chip.textContent.trim(), chip.querySelector("use").getAttribute("href")]));
  const words = new Set(chips.map(([text]) => text));
  const marks = new Set(chips.map(([, shape]) => shape));
  faults.check(!words.has("") && words.size >= 4 && words.size === marks.size, `lines are told apart by colour alone: ${JSON.stringify(chips)}`);
}

// the lot's count and its decision so far, which is no "accept" before the sample is complete
async function decision(page, asked, faults) {
  const text = (await page.textContent("#so-far")).trim();
  for (const words of asked.so_far) faults.check(text.includes(words), `the lot says “${text}”, not “${words}”`);
  const words = await page.textContent("#so-far .decision");
  faults.check(!/accept/i.test(words), `before its sample is complete, the lot says “${words}”`);
}
