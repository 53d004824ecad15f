// What is wrong with how a page lies on the screen. These functions run in the page.

// the page itself never scrolls sideways; boxes within it may
export function sideways() {
  const page = document.scrollingElement;
  return page.scrollWidth > innerWidth ? `${page.scrollWidth} wide on a screen of ${innerWidth}` : null;
}

// texts that lie over each other, leave the frame of their picture, or are squeezed or stretched by more than a tenth
//
// A box of text is as high as its font; what is drawn of capitals and figures lies within its middle three fifths. Two texts
// overlap where these parts share more than a pixel each way. Within one scrolling box its whole content is compared, seen or
// not; between different ones only what is seen.
export function overlaps() {
  const MOST = 20;
  const clips = (element) => {
    const style = getComputedStyle(element);
    return style.overflowX !== "visible" || style.overflowY !== "visible";
  };
  const scroller = (node) => {
    for (let at = node.parentElement; at; at = at.parentElement) {
      if (at !== document.body && at !== document.documentElement && !(at instanceof SVGElement) && clips(at)) return at;
    }
    return null;
  };
  const upright = (element) => {
    const matrix = element instanceof SVGGraphicsElement ? element.getScreenCTM() : null;
    return !matrix || Math.abs(matrix.a) >= Math.abs(matrix.b);
  };
  const core = (rect, isUpright) => {
    const high = rect.height / 5;
    const wide = rect.width / 5;
    return isUpright
      ? { left: rect.left, right: rect.right, top: rect.top + high, bottom: rect.bottom - high }
      : { left: rect.left + wide, right: rect.right - wide, top: rect.top, bottom: rect.bottom };
  };
  const within = (box, frame) =>
    frame
      ? {
          left: Math.max(box.left, frame.left),
          right: Math.min(box.right, frame.right),
          top: Math.max(box.top, frame.top),
          bottom: Math.min(box.bottom, frame.bottom),
        }
      : box;
  const share = (a, b) =>
    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1;

  const wrong = [];
  const boxes = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || !element.checkVisibility({ opacityProperty: true, visibilityProperty: true })) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = scroller(node);
    const svg = element.closest("svg");
    const frame = svg?.getBoundingClientRect();
    // a range doesn't know that a picture gives its texts a length
    const rects = svg ? [element.getBoundingClientRect()] : [...range.getClientRects()];
    const natural = range.getBoundingClientRect();
    if (svg && upright(element) && Math.abs(natural.width - rects[0].width) > 1.5 + rects[0].width / 10 && wrong.length < MOST) {
      wrong.push(`“${node.data.trim().slice(0, 40)}” is ${Math.round(natural.width)} wide and is drawn ${Math.round(rects[0].width)} wide`);
    }
    for (const rect of rects) {
      if (rect.width < 1 || rect.height < 1) continue;
      const text = node.data.trim().slice(0, 40);
      const own = core(rect, upright(element));
      boxes.push({ node, text, box, own, seen: within(own, box?.getBoundingClientRect()) });
      const out = frame && (own.left < frame.left - 1 || own.right > frame.right + 1 || own.top < frame.top - 1 || own.bottom > frame.bottom + 1);
      if (out && wrong.length < MOST) wrong.push(`“${text}” leaves its picture`);
    }
  }
  boxes.sort((a, b) => a.own.top - b.own.top);
  for (let at = 0; at < boxes.length; at += 1) {
    const one = boxes[at];
    for (let next = at + 1; next < boxes.length && boxes[next].own.top < one.own.bottom - 1; next += 1) {
      const other = boxes[next];
      if (one.node === other.node) continue;
      const over = one.box === other.box ? share(one.own, other.own) : share(one.seen, other.seen);
      if (over && wrong.length < MOST) wrong.push(`“${one.text}” lies over “${other.text}”`);
    }
  }
  return { texts: boxes.length, wrong };
}
