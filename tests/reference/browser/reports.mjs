// The HTML reports, each a file by itself: `reports` is a list of objects with `name`, `file` and, where it is known, `pages`, the
// most pages that it may take on paper.
//
// Each is looked at on a wide and on a narrow screen, by a user who asks for dark colours (it stays light), and as print; then it is
// printed on A4 and on Letter.

import { join } from "node:path";
import { pathToFileURL } from "node:url";

import { tab } from "./browsing.mjs";
import { overlaps, sideways } from "./layout.mjs";
import { pages } from "./pdf.mjs";

// millimetres, and what the page's own margins leave (`@page` in page.css: 15 above, 17 below, 13 at each side)
const PAPERS = [
  { format: "A4", width: 210 - 26, height: 297 - 32 },
  { format: "Letter", width: 215.9 - 26, height: 279.4 - 32 },
];
const PIXELS = 96 / 25.4;

export async function reports(browser, asked, faults) {
  for (const { name, file, pages: known } of asked.reports) {
    const address = pathToFileURL(file).href;
    const page = await tab(browser, name, (url) => url.split("#")[0] === address, faults);
    await page.emulateMedia({ media: "screen", colorScheme: "light" });
    await page.goto(address);
    for (const [view, width] of [["wide", 1280], ["narrow", 400]]) {
      await page.setViewportSize({ width, height: 900 });
      await look(page, `${name} ${view}`, faults);
      await page.screenshot({ path: join(asked.shots, `${name}-${view}.png`), fullPage: true });
      if (view === "wide") await keys(page, name, faults);
    }
    await stays(page, name, faults);
    for (const paper of PAPERS) await print(page, asked, name, paper, known, faults);
    await page.close();
    faults.saw("reports");
  }
}

async function look(page, name, faults) {
  const wide = await page.evaluate(sideways);
  faults.check(wide === null, `${name}: ${wide}`);
  const { texts, wrong } = await page.evaluate(overlaps);
  faults.check(texts > 20, `${name}: only ${texts} texts`);
  wrong.forEach((what) => faults.check(false, `${name}: ${what}`));
  faults.saw("texts", texts);
}

// a user who asks for dark colours gets the same page: its pictures are made for paper
async function stays(page, name, faults) {
  const light = await page.screenshot();
  await page.emulateMedia({ media: "screen", colorScheme: "dark" });
  faults.check((await page.screenshot()).equals(light), `${name}: dark colours change the page`);
}

// whatever scrolls can be scrolled without a mouse
async function keys(page, name, faults) {
  const boxes = await page.evaluate(() =>
    [...document.querySelectorAll("*")]
      .filter((element) => !(element instanceof SVGElement) && element.scrollWidth > element.clientWidth + 1)
      .filter((element) => ["auto", "scroll"].includes(getComputedStyle(element).overflowX))
      .filter((element) => element.tabIndex < 0 || !element.getAttribute("aria-label"))
      .map((element) => element.className),
  );
  faults.check(boxes.length === 0, `${name}: boxes that keys can't scroll: ${boxes.join(", ")}`);
}

async function print(page, asked, name, paper, known, faults) {
  const what = `${name} on ${paper.format}`;
  await page.setViewportSize({ width: Math.round(paper.width * PIXELS), height: Math.round(paper.height * PIXELS) });
  await page.emulateMedia({ media: "print", colorScheme: "light" });
  await look(page, what, faults);
  const high = await page.evaluate(() => document.documentElement.getBoundingClientRect().height);
  const path = join(asked.shots, `${name}-${paper.format}.pdf`);
  const printed = pages(await page.pdf({ path, format: paper.format, printBackground: false }));
  // what must not be torn leaves room at the end of pages: at most half as much again, and one page more
  const least = Math.ceil(high / (paper.height * PIXELS) - 0.1);
  const most = known ?? Math.ceil(1.5 * least) + 1;
  faults.check(printed.length >= least && printed.length <= most, `${what}: ${printed.length} pages, expected ${least} to ${most}`);
  // the number of the page is one text
  printed.forEach((texts, nth) => faults.check(texts > 2, `${what}: page ${nth + 1} of ${printed.length} is empty`));
  faults.saw("printed pages", printed.length);
}
