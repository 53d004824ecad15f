// What is read from afar, and without colour.
//
// From three metres: capitals of the last verdict are at least 16 minutes of arc high on a screen at a bench (ISO 9241-303 asks for
// 16, and prefers 20 to 22; from memory), which is 14 mm. On the screen of a telephone, which is held nearer, 8 minutes are
// enough, which is 7 mm: normal sight ends at 5 (the line 6/6 of a chart by Snellen; common practice, no source). Millimetres are
// those of 96 pixels an inch.

const PIXELS = 96 / 25.4;
const METRES = 3;

const minutes = (pixels) => (Math.atan(pixels / PIXELS / (METRES * 1000)) * 180 * 60) / Math.PI;

// how high the capitals of the verdict are, as they are drawn
export async function readable(page, name, width, faults) {
  const { capital, lines, high } = await page.evaluate(() => {
    const call = document.getElementById("call");
    const style = getComputedStyle(call);
    const context = document.createElement("canvas").getContext("2d");
    context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const range = document.createRange();
    range.selectNodeContents(call);
    const rects = [...range.getClientRects()];
    return { capital: context.measureText("H").actualBoundingBoxAscent, lines: rects.length, high: call.getBoundingClientRect().bottom };
  });
  const wanted = width >= 1000 ? 16 : 8;
  const is = minutes(capital);
  faults.check(is >= wanted, `${name}: capitals of ${(capital / PIXELS).toFixed(1)} mm are ${is.toFixed(1)} minutes of arc, wanted ${wanted}`);
  faults.check(lines <= 3 && high <= 900, `${name}: the verdict doesn't fit the screen: ${lines} lines, down to ${Math.round(high)}`);
}

// the verdict without colour: its shape and its ground as pixels, seen by somebody who sees no colour
export async function grey(page) {
  const session = await page.context().newCDPSession(page);
  await session.send("Emulation.setEmulatedVisionDeficiency", { type: "achromatopsia" });
  await page.evaluate(() => scrollTo(0, 0));
  await page.waitForTimeout(1300);
  const shape = (await page.locator("#board .shape").screenshot()).toString("base64");
  const words = (await page.locator("#call").screenshot()).toString("base64");
  await session.send("Emulation.setEmulatedVisionDeficiency", { type: "none" });
  await session.detach();
  const drawn = await pixels(page, [shape, words]);
  return { shape: drawn[0], words: drawn[1], mark: await page.locator("#shape").getAttribute("href") };
}

// pictures as grey values on a grid of 64 by 64, with the span between light and dark; worked out in a tab of its own, since the
// page lets no picture in
async function pixels(page, pictures) {
  const desk = await page.context().newPage();
  const drawn = await desk.evaluate(async (pictures) => {
    const size = 64;
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = size;
    const context = canvas.getContext("2d", { willReadFrequently: true });
    const all = [];
    for (const picture of pictures) {
      const image = new Image();
      image.src = `data:image/png;base64,${picture}`;
      await image.decode();
      context.drawImage(image, 0, 0, size, size);
      const data = context.getImageData(0, 0, size, size).data;
      all.push(Array.from({ length: size * size }, (_, at) => data[4 * at] / 255));
    }
    return all;
  }, pictures);
  await desk.close();
  return drawn;
}

// how dark is told from light: the ratio of WCAG 2.2, success criterion 1.4.3
function contrast(values) {
  const light = (value) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4);
  const sorted = values.map(light).sort((a, b) => a - b);
  const low = sorted[Math.floor(sorted.length * 0.02)];
  const high = sorted[Math.ceil(sorted.length * 0.98) - 1];
  return (high + 0.05) / (low + 0.05);
}

// no two verdicts look alike without colour: other words, another mark, and another drawing of it. A drawing is compared by
// its form alone, in black and white, so that the ground of the board can't make the difference.
export function shapes(seen, faults) {
  const form = ({ shape }) => {
    const middle = (Math.min(...shape) + Math.max(...shape)) / 2;
    const bits = shape.map((value) => value > middle);
    return bits[0] ? bits : bits.map((bit) => !bit);
  };
  for (const one of seen) {
    const ratio = contrast(one.words);
    faults.check(ratio >= 4.5, `${one.call}: contrast of ${ratio.toFixed(1)} without colour`);
  }
  for (let at = 0; at < seen.length; at += 1) {
    for (const other of seen.slice(at + 1)) {
      const one = seen[at];
      const differ = form(one).filter((bit, nth) => bit !== form(other)[nth]).length / one.shape.length;
      const apart = one.call !== other.call && one.mark !== other.mark && differ > 0.04;
      faults.check(apart, `${one.call} and ${other.call} look alike without colour: ${one.mark}, ${other.mark}, ${(100 * differ).toFixed(1)} % differ`);
    }
  }
}
