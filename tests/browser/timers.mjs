// Times of a draw against a clock of their own, in Chromium: with the page behind another, asleep and woken, and with the
// device's clock moved. live.mjs runs the quick ones; the real ten minutes run on demand:
//
//   node timers.mjs http://127.0.0.1:8437
//
// The whole of it takes a little over ten minutes.

import { pathToFileURL } from "node:url";

// Most milliseconds that a time may be off.
const MOST_OFF_MS = 200;

export function timers({ base, open, check }) {
  // The carry-out page with all its times as long as asked, and what its screen said with the time of it.
  async function ready(person, job, seconds, options = {}) {
    const page = await open({ width: 360, height: 740 }, { hasTouch: true, isMobile: true, serviceWorkers: "block", ...options });
    await page.route("**/carry-out?*", async (route) => {
      const answer = await route.fetch();
      return route.fulfill({ response: answer, body: (await answer.text()).replaceAll(/data-seconds="\d+"/g, `data-seconds="${seconds}"`) });
    });
    const own = await page.request.get(`${base}/carry-out?person=${person}&breakdown=${job}`);
    if (options.clock) await page.clock.install();
    await page.goto(own.url());
    await page.waitForSelector("#draw[data-ready]");
    await page.selectOption("#watched", await page.locator("#watched option:not([data-against])").nth(1).getAttribute("value"));
    await page.evaluate(() => {
      const place = document.querySelector(".stage-what");
      window.said = [];
      new MutationObserver(() => window.said.push([place.textContent, performance.now()])).observe(place, { childList: true });
    });
    await page.locator("#begin").tap();
    await page.keyboard.press("PageDown");
    return page;
  }
  const told = async (page) => new Map(await page.evaluate(() => window.said));
  const offBy = (said, from, to, seconds) => said.get(to) - said.get(from) - seconds * 1000;

  // Ten minutes of contact and ten of drying by a clock that is wound forward: nothing adds up to an error.
  async function tenMinutesWoundForward(person, job) {
    const page = await ready(person, job, 600, { clock: true });
    await page.keyboard.press("t");
    await page.clock.runFor(599_000);
    // The clock was wound a moment after the time began, so that a little more than a second is left.
    const left = Number(await page.locator(".stage-figure").innerText());
    check(left === 1 || left === 2, `timers: a second is left of ten minutes, found ${left}`);
    await page.clock.runFor(602_000);
    const said = await told(page);
    for (const [from, to] of [["tops contact: 600 seconds", "tops dry: 600 seconds"], ["tops dry: 600 seconds", "tops dry: the time has passed"]]) {
      const off = offBy(said, from, to, 600);
      console.log(`Ten minutes wound forward, to “${to}”: ${Math.round(off)} ms off.`);
      check(Math.abs(off) <= MOST_OFF_MS, `timers: to “${to}” ${off} ms off, of ${[...said.keys()]}`);
    }
    await page.context().close();
  }

  // Behind another page, then frozen as a locked phone freezes it, then woken: on waking the figure is right at once.
  async function behindAndAsleep(person, job) {
    const page = await ready(person, job, 12);
    await page.keyboard.press("t");
    await page.waitForFunction(() => window.said.some(([words]) => words.startsWith("tops contact: ")));
    const other = await page.context().newPage();
    await other.goto(`${base}/health`);
    await other.bringToFront();
    await other.waitForTimeout(5000);
    const control = await page.context().newCDPSession(page);
    await control.send("Page.setWebLifecycleState", { state: "frozen" });
    await other.waitForTimeout(4000);
    await control.send("Page.setWebLifecycleState", { state: "active" });
    await page.bringToFront();
    await page.waitForTimeout(150);
    const [figure, real] = await page.evaluate(() => {
      const began = window.said.find(([words]) => words.startsWith("tops contact: "))[1];
      return [Number(document.querySelector(".stage-figure").textContent), 12 - (performance.now() - began) / 1000];
    });
    check(Math.abs(figure - Math.ceil(real - 0.05)) <= 1 && figure >= real - 0.2, `timers: woken with ${real.toFixed(2)} s left it shows ${figure}`);
    await page.waitForFunction(() => window.said.some(([words]) => words.startsWith("tops dry: 12")), null, { timeout: 20_000 });
    const off = offBy(await told(page), "tops contact: 12 seconds", "tops dry: 12 seconds", 12);
    console.log(`A time of 12 s, 5 s behind another page and 4 s asleep: ${Math.round(off)} ms off.`);
    check(Math.abs(off) <= MOST_OFF_MS, `timers: asleep and woken ${off} ms off`);
    await page.context().close();
  }

  // The real ten minutes, of which most lies behind another page and one minute is slept through.
  async function tenRealMinutes(person, job) {
    const page = await ready(person, job, 600);
    await page.keyboard.press("t");
    await page.waitForFunction(() => window.said.some(([words]) => words.startsWith("tops contact: ")));
    const other = await page.context().newPage();
    await other.goto(`${base}/health`);
    await other.bringToFront();
    await other.waitForTimeout(420_000);
    const control = await page.context().newCDPSession(page);
    await control.send("Page.setWebLifecycleState", { state: "frozen" });
    await other.waitForTimeout(60_000);
    await control.send("Page.setWebLifecycleState", { state: "active" });
    await other.waitForTimeout(125_000);
    await page.bringToFront();
    const said = await told(page);
    const off = offBy(said, "tops contact: 600 seconds", "tops dry: 600 seconds", 600);
    console.log(`Ten real minutes, seven behind another page, one asleep, two behind again: the time ended ${Math.round(off)} ms off.`);
    check(Math.abs(off) <= MOST_OFF_MS, `timers: ten minutes ${off} ms off, of ${[...said.keys()]}`);
    await page.context().close();
  }

  const quick = { tenMinutesWoundForward, behindAndAsleep };
  Object.defineProperty(quick, "tenRealMinutes", { value: tenRealMinutes, enumerable: false });
  return quick;
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  const { chromium } = await import("playwright-core");
  const base = process.argv[2];
  if (!base) { console.error("Give the address of a running site: node timers.mjs http://127.0.0.1:8437"); process.exit(2); }
  const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu", "--no-first-run"] });
  const findings = [];
  const open = async (size, options = {}) => {
    const context = await browser.newContext({ viewport: size, ...options });
    return context.newPage();
  };
  const all = timers({ base, open, check: (holds, what) => { if (!holds) findings.push(what); } });
  const page = await open({ width: 1440, height: 900 });
  await page.goto(`${base}/people`);
  const person = (await page.locator(".people tbody th a").first().getAttribute("href")).slice("/people/".length);
  await page.context().close();
  try { await all.tenRealMinutes(person, "vein"); } catch (error) { findings.push(error.stack); }
  await browser.close();
  for (const finding of findings) console.error(finding);
  console.log(`${findings.length} findings.`);
  process.exit(findings.length === 0 ? 0 : 1);
}
