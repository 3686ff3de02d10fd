// From an empty data folder to the first published breakdown and the first planned learner, on pages alone.
//
//   node first.mjs http://127.0.0.1:8437 FOLDER
//
// The site must serve an empty folder. Every page of the unit is then looked at while there is next to nothing on it, with
// axe-core, and read for words that say what to do first. FOLDER receives screenshots. CHROMIUM names another browser.

import { mkdir, readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { says } from "./says.mjs";

const [base, folder] = process.argv.slice(2);
if (!base || !folder) {
  console.error("Give the address of a site that serves an empty folder, and a folder for screenshots: node first.mjs http://127.0.0.1:8437 FOLDER");
  process.exit(2);
}
await mkdir(folder, { recursive: true });
const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

const findings = [];
const check = (holds, what) => { if (!holds) findings.push(what); };
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const began = performance.now();
let n_acts = 0;
try {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  context.setDefaultTimeout(20_000);
  const page = await context.newPage();
  const act = async (doing) => { n_acts += 1; await doing; };
  const shot = (name) => page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
  const press = (name) => act(page.getByRole("button", { name }).click());
  const go = (name) => act(page.getByRole("link", { name, exact: true }).click());

  await page.goto(`${base}/people`);
  check(page.url().endsWith("/start"), `an empty folder leads to the beginning, found ${page.url()}`);
  await looked(page, "an empty folder");
  await shot("1-empty");
  await page.evaluate(() => document.querySelector("#unit").removeAttribute("required"));
  await press("Make the record book");
  check(await says(page.locator(".refused"), "Name of the unit: found nothing"), "a unit without a name is refused");
  await act(page.fill("#unit", "Invented Ward 7 <b>"));
  await press("Make the record book");
  check(await says(page.locator("main"), "Invented Ward 7 <b>"), "the unit has its name, as text");
  await looked(page, "the beginning");
  await shot("2-named");

  // What is said where there is nothing yet.
  for (const [address, words] of [
    ["/people", "Take in people"], ["/breakdowns", "Publish a ready one"], ["/results", "take-in"], ["/reports", "take-in"],
    ["/next-draw", "Publish one first"], ["/plan", "Publish one first"], ["/timetable", "Publish one first"], ["/follow-up", "A trainer decides"],
    ["/watching", "Publish one first"], ["/bedside", "Publish the first one"], ["/teach-back/new", "Begin"],
    ["/draw/plan", "policy.toml"], ["/drafts", "No draft waits"], ["/find", "key point"],
  ]) {
    const empty = await context.newPage();
    await empty.goto(base + address);
    const text = (await empty.locator("main").innerText()).replaceAll("\u00a0", " ");
    check(text.includes(words), `${address} says what to do first: “${words}”, found “${text.slice(0, 300)}”`);
    await looked(empty, `${address}, empty`);
    await empty.close();
  }
  await page.goto(base);
  check(page.url().endsWith("/start"), "the first page leads to the beginning while nobody is there");

  await go("Take in people");
  await act(page.fill("#list", "staff id,name,role,started\nt1,Ansa Wolfendale,trainer,2019-05-06\np1,Tomas Kerrin,preceptor,2020-01-13\nn1,Juno Castellane,nurse,2026-01-12\nn2,,nurse,\nn3,Piet Oduya,chief,03/04/2026\n"));
  await press("Show how it is read");
  const preview = await page.locator("#read-as").locator("xpath=ancestor::section").innerText();
  check(preview.includes("3 people can be taken in") && preview.includes("2 rows with a fault"), `the preview counts, found “${preview.slice(0, 200)}”`);
  check(preview.includes("“chief”") && preview.includes("“03/04/2026”"), "the preview names each fault");
  await looked(page, "the preview");
  await shot("3-preview");
  await page.setViewportSize({ width: 360, height: 740 });
  await shot("3-preview-phone");
  await page.setViewportSize({ width: 1440, height: 900 });
  await press("Take in 3 people");
  check(await says(page.locator("main"), "3 people are on the unit"), "the people are there");

  await go("Publish a ready breakdown");
  await act(page.getByRole("link", { name: "Read it and publish" }).first().click());
  await press("Publish");
  check(await says(page.locator(".refused"), "Held against policy"), "nothing is published unread");
  await looked(page, "a ready breakdown");
  await act(page.fill("#approved-by", "Infection prevention lead (invented)"));
  await act(page.check("input[name=read]"));
  await shot("4-breakdown");
  await press("Publish");
  check(page.url().endsWith("/start"), `publishing leads on, found ${page.url()}`);

  await go("Set the first date");
  await act(page.selectOption("#person", "n1"));
  await act(page.selectOption("#job", { index: 1 }));
  await act(page.fill("#by", "2031-06-30"));
  await act(page.selectOption("#who", "t1"));
  await press("Set the date");
  check(await says(page.locator("main"), "30 June 2031"), "the first learner is planned");
  await shot("5-planned");
  const seconds = (performance.now() - began) / 1000;

  await page.goto(base);
  check(page.url() === `${base}/`, "from then on the first page is today’s");
  check(!(await page.locator("main").innerText()).includes("Not begun yet"), "and speaks of the beginning no more");
  await shot("6-today");

  // Undone: the entry of a person, by a correction that stands beside it.
  await page.goto(`${base}/people/n1`);
  await page.getByRole("link", { name: /^Correct/ }).first().click();
  await page.fill("#reason", "Written for the wrong day <script>alert(1)</script>");
  await page.selectOption("#by", "t1");
  await shot("7-correct");
  await page.getByRole("button", { name: "It did not happen so" }).click();
  check(await says(page.locator("main"), "Written for the wrong day <script>"), "the correction stands beside the entry");
  await shot("8-corrected");
  console.log(`From an empty folder to the first planned learner: ${n_acts} acts, ${seconds.toFixed(0)} s by a machine; ${findings.length} findings.`);
} catch (error) {
  findings.push(error.stack);
} finally {
  await browser.close();
}
for (const finding of findings) console.error(finding);
process.exit(findings.length === 0 ? 0 : 1);

async function looked(page, where) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate((only) => window.axe.run(document, { runOnly: only, resultTypes: ["violations"] }), { type: "tag", values: STANDARDS });
  for (const { id, help, nodes } of violations) findings.push(`${where}: axe ${id}: ${help}; first ${nodes[0].html.slice(0, 160)}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  if (wide > 0) findings.push(`${where}: ${wide} px too wide`);
}
