// Reading as much of a PDF as it takes to count its pages, and to see that something stands on each.
//
// ISO 32000-1, section 7.7.3: a page is an object with `/Type /Page`, and the root of their tree says in `/Count` how many there
// are. Chromium writes objects plainly, and the streams of pages packed by zlib.

import { inflateSync } from "node:zlib";

// the pages, each with the number of texts that are shown on it
export function pages(pdf) {
  const text = pdf.toString("latin1");
  const objects = new Map();
  for (const found of text.matchAll(/(?:^|\n)(\d+) 0 obj\s([\s\S]*?)\nendobj/g)) objects.set(found[1], found[2]);
  const all = [...objects.values()].filter((object) => /\/Type\s*\/Page\b/.test(object));
  const counts = [...objects.values()].filter((object) => /\/Type\s*\/Pages\b/.test(object)).map((object) => Number(/\/Count\s+(\d+)/.exec(object)?.[1]));
  if (all.length === 0 || Math.max(...counts) !== all.length) {
    throw new Error(`${all.length} pages, and the tree says ${counts.join(", ")}`);
  }
  return all.map((page) => shown(objects, page));
}

function shown(objects, page) {
  const content = objects.get(/\/Contents\s+(\d+)\s+0\s+R/.exec(page)?.[1] ?? "") ?? "";
  const stream = /stream\r?\n([\s\S]*)\r?\nendstream/.exec(content);
  if (!stream) return 0;
  const bytes = Buffer.from(stream[1], "latin1");
  const drawn = /\/FlateDecode/.test(content) ? inflateSync(bytes).toString("latin1") : stream[1];
  return drawn.match(/\bT[jJ]\b/g)?.length ?? 0;
}
