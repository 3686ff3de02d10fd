// The ways through the pages by keys, and finding by name; used by live.mjs.

import { join } from "node:path";

const PHONE = { width: 360, height: 740 };
const DESK = { width: 1440, height: 900 };

// The ways of using them, each under its name.
export function ways({ base, folder, open, check }) {
  // Single keys lead, none does while somebody types, and all can be switched off (WCAG 2.2, 2.1.4).
  const keys = async () => {
    const page = await open(DESK);
    await page.goto(base);
    await page.keyboard.press("3");
    await page.waitForURL(/\/people$/);
    await page.keyboard.press("f");
    await page.keyboard.type("skin 3k");
    check(page.url().endsWith("/people"), "keys: none leads away while somebody types");
    check((await page.inputValue(".seek input")) === "skin 3k", "keys: what is typed stands in the field");
    await page.fill(".seek input", "skin");
    await page.keyboard.press("Enter");
    await page.waitForURL(/\/find\?q=skin/);
    const point = page.locator("[aria-labelledby=points] a").first();
    const words = (await point.innerText()).trim();
    await point.click();
    const anchor = await page.evaluate(() => document.querySelector(":target")?.innerText ?? "");
    check(anchor.includes(words.replace(/^\S+\s+/, "")), `keys: a find leads to its key point, found “${anchor.slice(0, 80)}”`);
    await page.keyboard.press("Control+2");
    check(page.url().includes("/breakdowns/"), "keys: a key held with another is the browser’s");
    await page.keyboard.press("k");
    await page.waitForURL(/\/keys$/);
    await page.locator("#keys-on").uncheck();
    await page.goto(base);
    await page.keyboard.press("3");
    await page.waitForTimeout(300);
    check(page.url() === `${base}/`, "keys: switched off, none leads anywhere");
    await page.goto(`${base}/keys`);
    check(!(await page.locator("#keys-on").isChecked()), "keys: the switch stays where it was put");
    await page.locator("#keys-on").check();
    await page.keyboard.press("Tab");
    await page.context().close();
  };

  // On a phone the ways take one line, and the pages of one of them another or two.
  const phoneWays = async () => {
    const page = await open(PHONE);
    for (const address of ["/", "/people", "/results"]) {
      await page.goto(base + address);
      const lines = await page.$$eval(".ways > li", (all) => new Set(all.map((each) => Math.round(each.getBoundingClientRect().top))).size);
      check(lines === 1, `phone ways: one line at ${address}, found ${lines}`);
    }
    await page.screenshot({ path: join(folder, "ways-phone.png") });
    await page.context().close();
  };
  return { keys, phoneWays };
}
