// Opens every page of a running site in Chromium and fails on what a reader would trip over.
//
//   node pages.mjs http://127.0.0.1:8437 FOLDER [PART]
//
// At phone, tablet and desk size: console errors, a page wider than the window, anything but one h1, a script that is no
// file of the site and not named in the page's policy, more than 150 kB sent with all that it loads, a first tabulator stop that does not skip to the content. Any
// finding of axe-core under WCAG 2.2 A and AA and its good practices, in light, and at desk size in the dark; at the other
// sizes a page differs in the dark by its colours alone, so those on contrast. Without scripts: a page that is empty, or a
// form that cannot be sent. A page that takes the server more than 50 ms (WARDWRIGHT_MOST_MS), the best of five; three times that for a search. FOLDER
// receives one screenshot for each page, size and scheme, and one of each page as printed. CHROMIUM names another browser than /usr/bin/chromium.

import { createHash } from "node:crypto";
import { mkdir, readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join } from "node:path";
import { chromium } from "playwright-core";

// PART looks only at addresses that hold it.
const [base, folder, part] = process.argv.slice(2);
if (!base || !folder) {
  console.error("Give the address of a running site and a folder for screenshots: node pages.mjs http://127.0.0.1:8437 FOLDER");
  process.exit(2);
}

const MOST_BYTES = 150_000;
const MOST_MS = Number(process.env.WARDWRIGHT_MOST_MS ?? 50);
const SIZES = [
  { name: "phone", width: 360, height: 740 },
  { name: "tablet", width: 820, height: 1180, schemes: ["light"] },
  { name: "desk", width: 1440, height: 900 },
];
// A rule changed in its form, with prompts; and a search for the shortest.
const RULE = "/rules?name=a+changed+rule&draws=8&clean=4&prompts=1&seen=yes&look=3&watch=all&points=&lost=&passes=2&days=yes&share=90&checks=1&counts=&most=14&lapse=90&update=30&after=7%2C+30%2C+91&every=365&prompted=10";
const SEARCH = "/rules?not-ready=20&most-released=5&ready=2&most-held-back=10&within=60";
const STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
await mkdir(folder, { recursive: true });

const findings = [];
let largest = { address: "", n_bytes: 0 };
const found = (where, what) => findings.push(`${where}: ${what}`);

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
  ],
});

try {
  const pages = (await everyPage()).filter(({ address }) => !part || address.includes(part));
  for (const size of SIZES) {
    for (const scheme of size.schemes ?? ["light", "dark"]) {
      const context = await browser.newContext({
        viewport: { width: size.width, height: size.height },
        colorScheme: scheme,
        reducedMotion: "reduce",
      });
      await twoAtOnce(pages, (page) => look(context, page, size, scheme));
      await context.close();
    }
  }
  await withoutScripts(pages);
  const slowest = await times(pages);
  console.log(`${pages.length} pages, ${SIZES.length} sizes, light and dark, as printed, without scripts: ${findings.length} findings.`);
  console.log(`Largest ${Math.round(largest.n_bytes / 1000)} kB: ${largest.address}. Slowest ${slowest.ms.toFixed(1)} ms: ${slowest.address}.`);
} finally {
  await browser.close();
}

for (const finding of findings) console.error(finding);
process.exit(findings.length === 0 ? 0 : 1);

// Waits, a minute at most, until a page does not ask for itself again.
async function planned(address) {
  for (let turn = 0; turn < 60; turn += 1) {
    const answer = await fetch(base + address);
    await answer.arrayBuffer();
    if (!answer.headers.has("refresh")) return;
    await new Promise((done) => setTimeout(done, 1_000));
  }
}

// One page is drawn while another is looked at.
async function twoAtOnce(pages, work) {
  const waiting = [...pages];
  const hand = async () => {
    while (waiting.length > 0) await work(waiting.shift());
  };
  await Promise.all([hand(), hand()]);
}

// Every kind of page, with as many of each kind as differ: records and reports are many, so the first, the last
// and those that today's page leads to stand for them.
async function everyPage() {
  const context = await browser.newContext();
  const page = await context.newPage();
  const links = async (address, prefix) => {
    await page.goto(base + address);
    const all = await page.$$eval("a[href]", (anchors) => anchors.map((anchor) => anchor.getAttribute("href")));
    return [...new Set(all.filter((link) => link.startsWith(prefix)))];
  };
  const ends = (all) => [...all.slice(0, 1), ...all.slice(-1)];
  const urgent = await links("/", "/people/");
  const people = await links("/people", "/people/");
  const jobs = await links("/breakdowns", "/breakdowns/");
  const months = await links("/reports", "/reports/");
  const forms = people.slice(0, 1).flatMap((person) => jobs.flatMap((job) => {
    const [id, code] = [person.slice("/people/".length), job.slice("/breakdowns/".length)];
    return [
      `/teach-back/new?person=${id}&breakdown=${code}`, `/teach-back/transcript?person=${id}&breakdown=${code}`, `/practice/${code}?person=${id}`,
      `/observe/new?person=${id}&breakdown=${code}`, `/carry-out?breakdown=${code}`,
      `/signing?person=${id}&breakdown=${code}`, `/confidence?person=${id}&breakdown=${code}`,
    ];
  }));
  await context.close();
  for (const [kind, all] of Object.entries({ people, jobs, months })) {
    if (all.length === 0) found(kind, "the site has none, so their pages were not looked at");
  }
  // A plan that is being worked out asks for itself again; it is looked at once it stands.
  for (const job of jobs) await planned(`/plan?job=${job.slice("/breakdowns/".length)}`);
  await planned("/plan");
  const addresses = [
    "/", "/people", "/people?name=a&standing=decision+due", "/people?name=nobody-is-called-this", "/breakdowns", "/results", "/results/pairs",
    "/reports", "/methods", "/next-draw", "/next-draw?at=2026-11-02T21:30", "/next-draw?at=2031-01-01T03:00", "/plan", "/timetable",
    ...jobs.map((job) => `/plan/proposed?job=${job.slice("/breakdowns/".length)}&weeks=4`), "/timetable/date", "/away", ...jobs, ...ends(people), ...urgent.slice(0, 3), ...ends(months),
    "/draw/plan", "/draw/plan?who=adult&weight=70&height=175&sex=male&taken=25&haemoglobin=85&access=vein&access=central-line&lumens=3&suspected=yes",
    "/draw/plan?who=child&weight=70&access=vein", "/draw/plan?who=child&weight=3.5&age=1&weight-read=twice&access=vein",
    ...people.slice(0, 1).map((person) => `${person}/after`),
    "/find", "/find?q=skin", "/find?q=nothing+is+called+this", "/keys", "/start", "/start/people", "/start/breakdown", "/start/breakdown?ready=vein",
    "/teach-back/new", "/teach-back/transcript", "/drafts", "/editor", "/bedside", "/follow-up", "/watching", "/rules", RULE, SEARCH, ...jobs.map((job) => `${job}/missed`), `${jobs[0]}?weight=70&height=1.75&patient=man&draws=12`, `${jobs[0]}?weight=none&draws=x`, `/editor?breakdown=${jobs[0]?.slice("/breakdowns/".length)}`, ...forms, ...jobs.map((job) => job.replace("/breakdowns/", "/practice/")),
  ];
  const good = [...new Set(addresses)].map((address) => ({ address, status: 200 }));
  return [
    ...good, { address: "/nowhere", status: 404 }, { address: "/reports/2026-13", status: 400 },
    { address: "/teach-back/1", status: 400 },
    { address: "/plan/proposed?weeks=200", status: 422 }, { address: "/next-draw?at=soon", status: 400 }, { address: "/observe/1", status: 400 },
    { address: "/signing", status: 400 }, { address: "/rules?draws=five", status: 422 },
  ];
}

async function look(context, { address, status }, size, scheme) {
  const where = `${address} (${size.name}, ${scheme})`;
  const page = await context.newPage();
  page.on("console", (message) => {
    // The browser reports the expected status of a problem page as an error of its own.
    const expected = status !== 200 && message.text().includes(`status of ${status}`);
    if (message.type() === "error" && !expected) found(where, `console: ${message.text()}`);
  });
  page.on("pageerror", (error) => found(where, `error: ${error.message}`));
  try {
    const loaded = [];
    page.on("response", (each) => loaded.push(each.request().sizes().then((sizes) => sizes.responseBodySize, () => 0)));
    const response = await page.goto(base + address, { waitUntil: "load" });
    if (response.status() !== status) found(where, `status ${response.status()}, expected ${status}`);
    const n_bytes = (await Promise.all(loaded)).reduce((sum, each) => sum + each, 0);
    if (n_bytes > largest.n_bytes) largest = { address, n_bytes };
    if (n_bytes > MOST_BYTES) found(where, `${n_bytes} bytes, more than ${MOST_BYTES}`);
    await openEverything(page);
    await checkShape(page, where, response.headers()["content-security-policy"] ?? "");
    await checkSkip(page, where);
    await checkAxe(page, scheme === "light" || size.name === "desk", where);
    const name = address === "/" ? "today" : address.slice(1).replaceAll(/[^A-Za-z0-9-]+/g, "-");
    await page.screenshot({ path: join(folder, `${name}-${size.name}-${scheme}.png`), fullPage: true });
    if (size.name === "desk" && scheme === "light") await print(page, name, where);
  } catch (error) {
    found(where, `could not be looked at: ${error.message}`);
  } finally {
    await page.close();
  }
}

// What is folded away must hold up too.
async function openEverything(page) {
  await page.$$eval("details", (all) => all.forEach((each) => { each.open = true; }));
}

async function checkShape(page, where, policy) {
  const shape = await page.evaluate(() => ({
    wide: document.documentElement.scrollWidth,
    window: window.innerWidth,
    headings: document.querySelectorAll("h1").length,
    // Only files of the site's own, and what the page's policy names by its digest; nothing else written into a page must run.
    scripts: [...document.scripts].filter((each) => each.type !== "application/json" && !each.getAttribute("src")?.startsWith("/")).map((each) => each.textContent),
    // The widest element names the culprit; what scrolls in a frame of its own is no culprit.
    culprit: [...document.querySelectorAll("main *")]
      .filter((each) => !each.closest(".scroll, pre") && each.getBoundingClientRect().right > window.innerWidth + 1)
      .map((each) => `${each.tagName.toLowerCase()}.${each.getAttribute("class") ?? ""}`)[0],
  }));
  if (shape.wide > shape.window) found(where, `${shape.wide} px wide in a window of ${shape.window}: ${shape.culprit}`);
  if (shape.headings !== 1) found(where, `${shape.headings} h1, expected 1`);
  const named = (text) => policy.includes(`'sha256-${createHash("sha256").update(text).digest("base64")}'`);
  const strangers = shape.scripts.filter((text) => !named(text)).length;
  if (strangers !== 0) found(where, `${strangers} scripts that are no file of the site and not named in its policy, expected none`);
}

async function checkSkip(page, where) {
  await page.keyboard.press("Tab");
  const first = await page.evaluate(() => {
    const focused = document.activeElement;
    const box = focused.getBoundingClientRect();
    return { href: focused.getAttribute("href"), visible: box.top >= 0 && box.height > 0 };
  });
  if (first.href !== "#content" || !first.visible) found(where, "the first tabulator stop is not a visible way to the content");
  await page.evaluate(() => document.activeElement.blur());
}

// What a page is without scripts: something to read, and forms that can be sent.
async function withoutScripts(pages) {
  const context = await browser.newContext({ viewport: { width: 360, height: 740 }, javaScriptEnabled: false });
  for (const { address, status } of pages) {
    const where = `${address} (without scripts)`;
    const page = await context.newPage();
    const response = await page.goto(base + address);
    if (response.status() !== status) found(where, `status ${response.status()}, expected ${status}`);
    const seen = await page.evaluate(() => ({
      words: document.querySelector("main").innerText.trim().split(/\s+/).length,
      wide: document.documentElement.scrollWidth - window.innerWidth,
      stuck: [...document.querySelectorAll("main form")]
        .filter((form) => form.getClientRects().length > 0 && ![...form.querySelectorAll("button")].some((each) => each.type === "submit"))
        .map((form) => form.getAttribute("action")),
    }));
    if (seen.words < 8) found(where, `${seen.words} words`);
    if (seen.wide > 0) found(where, `${seen.wide} px too wide`);
    for (const action of seen.stuck) found(where, `the form to ${action} has no button that sends it`);
    await page.close();
  }
  await context.close();
}

// How long the server takes for each page: the best of five, since other programs share the machine.
async function times(pages) {
  let slowest = { address: "", ms: 0 };
  for (const { address } of pages) {
    let best = Infinity;
    for (let turn = 0; turn < 5; turn += 1) {
      const began = performance.now();
      await (await fetch(base + address)).arrayBuffer();
      best = Math.min(best, performance.now() - began);
    }
    if (best > slowest.ms) slowest = { address, ms: best };
    // A search is work that somebody asks for by a button, and no page that is merely opened.
    const most = address === SEARCH ? 3 * MOST_MS : MOST_MS;
    if (best > most) found(address, `${best.toFixed(1)} ms, more than ${most}`);
  }
  return slowest;
}

async function checkAxe(page, whole, where) {
  // Evaluated rather than added as an element: the pages' own policy rightly forbids scripts.
  await page.evaluate(axe);
  // A bar that stays at the edge of the window covers part of whatever happens to lie there; a reader scrolls it free.
  await page.evaluate(() => { for (const bar of document.querySelectorAll(".bar, .stage")) bar.style.position = "static"; });
  const { violations } = await page.evaluate(
    (only) => window.axe.run(document, { runOnly: only, resultTypes: ["violations"] }),
    whole ? { type: "tag", values: STANDARDS } : { type: "rule", values: ["color-contrast"] },
  );
  await page.evaluate(() => { for (const bar of document.querySelectorAll(".bar, .stage")) bar.style.position = ""; });
  for (const { id, help, nodes } of violations) {
    found(where, `axe ${id}: ${help}; ${nodes.length} times, first ${nodes[0].html.slice(0, 160)}`);
  }
}

async function print(page, name, where) {
  await page.emulateMedia({ media: "print", colorScheme: "light" });
  const n_bytes = (await page.pdf({ path: join(folder, `${name}.pdf`), format: "A4", printBackground: false })).length;
  if (n_bytes < 1_000) found(where, "the printed page is empty");
}
