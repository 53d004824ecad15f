// Working with the keyboard alone.

// whatever has the focus
export function focused(page) {
  return page.evaluate(() => {
    const element = document.activeElement;
    if (!element || element === document.body) return { id: "", nth: -1 };
    const all = [...document.querySelectorAll("*")];
    const box = element.getBoundingClientRect();
    const style = getComputedStyle(element);
    const middle = document.elementFromPoint(
      Math.min(Math.max(box.left + box.width / 2, 1), innerWidth - 1),
      Math.min(Math.max(box.top + box.height / 2, 1), innerHeight - 1),
    );
    return {
      id: element.id,
      nth: all.indexOf(element),
      name: `${element.tagName.toLowerCase()} ${element.id || element.className} “${(element.textContent || "").trim().slice(0, 30)}”`,
      outline: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
      inView: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
      covered: !(middle && (element.contains(middle) || middle.contains(element))),
    };
  });
}

// Tab goes once through all that can be used, in the order of the page, and each shows that it has the focus
export async function everything(page, name, faults) {
  await page.evaluate(() => {
    // from the top of the page, wherever the focus was
    document.body.tabIndex = -1;
    document.body.focus();
    document.body.removeAttribute("tabindex");
    scrollTo(0, 0);
  });
  const usable = await page.evaluate(() => {
    const all = [...document.querySelectorAll("*")];
    const can = (element) =>
      element.matches('a[href], button, input, select, textarea, summary, [tabindex="0"]') && !element.disabled && element.checkVisibility();
    const scrolls = (element) =>
      !(element instanceof SVGElement) && element.checkVisibility() && ["auto", "scroll"].includes(getComputedStyle(element).overflowX) && element.scrollWidth > element.clientWidth + 1;
    return all.flatMap((element, nth) => (can(element) || scrolls(element) ? [nth] : []));
  });
  const reached = [];
  for (let presses = 0; presses < usable.length + 5; presses += 1) {
    await page.keyboard.press("Tab");
    const at = await focused(page);
    if (at.nth < 0 || reached.includes(at.nth)) break;
    reached.push(at.nth);
    faults.check(at.outline, `${name}: ${at.name} doesn't show that it has the focus`);
    faults.check(at.inView && !at.covered, `${name}: ${at.name} has the focus and can't be seen`);
  }
  const missed = usable.filter((nth) => !reached.includes(nth));
  faults.check(missed.length === 0, `${name}: Tab never comes to ${missed.length} of ${usable.length} things that can be used`);
  faults.check(reached.every((nth, at) => at === 0 || nth > reached[at - 1]), `${name}: Tab doesn't go in the order of the page`);
  faults.check(usable.length > 5, `${name}: only ${usable.length} things can be used`);
  faults.saw("stops of the Tab key", reached.length);
}

// a serial number that is typed, wherever the focus is, and Enter show that unit; the record has what this run doesn't
export async function serial(page, asked, name, faults) {
  const unit = asked.netlists[1].unit;
  await page.evaluate(() => document.activeElement.blur());
  await page.keyboard.type(unit);
  await page.keyboard.press("Enter");
  const found = await page.textContent("#found");
  faults.check(found.includes(`${unit}: 1 test`) && found.includes(asked.netlists[1].call), `${name}: ${unit} isn't found: “${found}”`);
  const seen = await page.evaluate(() => document.getElementById("found").getBoundingClientRect().top < innerHeight);
  faults.check(seen, `${name}: what was found is out of sight`);
  // the next scan takes the place of the last
  await page.keyboard.type(asked.earlier.unit);
  await page.keyboard.press("Enter");
  const past = page.waitForFunction((call) => document.querySelector("#past .row")?.textContent.includes(call), asked.earlier.call, { timeout: 10000 });
  faults.check(await past.then(() => true, () => false), `${name}: the record isn't asked for ${asked.earlier.unit}: “${await page.textContent("#past")}”`);
  faults.check((await page.inputValue("#serial")) === asked.earlier.unit, `${name}: the field holds “${await page.inputValue("#serial")}”`);
}
