// Drives what the pages write, in Chromium, on a running site whose record book may be written to.
//
//   node live.mjs http://127.0.0.1:8437 FOLDER
//
// A whole teach-back by keyboard alone at desk size, one by tap on a phone and on a tablet with a reload in the middle, one without
// scripts; a transcript decided on by keys with a reload in the middle, and without scripts; drafts listed and cleared; a form sent
// twice; a breakdown's next version, its draft after a reload, two people writing at once; text
// that tries to break a page. What happens at a bed is in bedside.mjs. FOLDER receives screenshots. CHROMIUM names another
// browser than /usr/bin/chromium.

import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { bedside } from "./bedside.mjs";
import { drawPlan } from "./draw_plan.mjs";
import { timers } from "./timers.mjs";
import { plan } from "./plan.mjs";
import { release } from "./release.mjs";
import { ways } from "./ways.mjs";
import { says, stands } from "./says.mjs";

const [base, folder] = process.argv.slice(2);
if (!base || !folder) {
  console.error("Give the address of a running site and a folder for screenshots: node live.mjs http://127.0.0.1:8437 FOLDER");
  process.exit(2);
}
await mkdir(folder, { recursive: true });

const PHONE = { width: 360, height: 740 };
const TABLET = { width: 820, height: 1180 };
const DESK = { width: 1440, height: 900 };
const HOSTILE = [
  "<script>document.title='taken'</script><img src=x onerror=alert(1)>",
  "\u202eדנה שדה אמרה הכול",
  "👩🏽‍⚕️🩸 ok’d",
];

const findings = [];
const check = (holds, what) => { if (!holds) findings.push(what); };

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});

let part = "";
const parts = {
  keyboard, phone: (...who) => byTap(...who, PHONE, "phone"), tablet: (...who) => byTap(...who, TABLET, "tablet"), withoutScripts, twoTabs, transcript, transcriptWithoutScripts, drafts, editor,
  ...bedside({ base, folder, browser, open, check, fits }), ...release({ base, folder, open, check }),
  ...plan({ base, folder, open, check }), ...drawPlan({ base, folder, open, check, fits }), ...timers({ base, open, check }),
  ...ways({ base, folder, open, check }),
};
try {
  const { person, job } = await somebody();
  for (const [name, run] of Object.entries(parts)) {
    part = name;
    await run(person, job);
  }
} catch (error) {
  findings.push(`${part}: ${error.stack}`);
} finally {
  await browser.close();
}
console.log(`${Object.keys(parts).length} ways of writing on pages: ${findings.length} findings.`);
for (const finding of findings) console.error(finding);
process.exit(findings.length === 0 ? 0 : 1);

async function open(size, options = {}, { quiet } = {}) {
  const context = await browser.newContext({ viewport: size, ...options });
  const page = await context.newPage();
  page.on("console", (message) => {
    // A form that is refused answers with its own status, which the browser reports as an error.
    if (message.type() === "error" && !/status of (409|422)/.test(message.text()) && !quiet?.test(message.text())) findings.push(`${part}: console: ${message.text()}`);
  });
  page.on("pageerror", (error) => findings.push(`${part}: ${error.stack}`));
  page.on("dialog", (dialog) => { findings.push(`${part}: a dialog: ${dialog.message()}`); dialog.dismiss(); });
  return page;
}

async function somebody() {
  const page = await open(DESK);
  await page.goto(base + "/people");
  const person = (await page.locator(".people tbody th a").first().getAttribute("href")).slice("/people/".length);
  await page.goto(base + "/breakdowns");
  const job = (await page.locator(".jobs h2 a").first().getAttribute("href")).slice("/breakdowns/".length);
  await page.context().close();
  return { person, job };
}

function form(person, job) {
  return `${base}/teach-back/new?person=${person}&breakdown=${job}`;
}

function count(page) {
  return page.locator("#judged").innerText();
}

function listener(page) {
  return page.locator("#by option").nth(1).getAttribute("value");
}

// Everything by keys: no pointer is moved.
async function keyboard(person, job) {
  const page = await open(DESK);
  await page.goto(form(person, job));
  const n_items = await page.locator(".said[data-item]").count();
  await page.focus("#by");
  await page.keyboard.press("ArrowDown");
  // Forward with the tabulator until the first item has the focus.
  for (let stop = 0; stop < 12; stop += 1) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(() => document.activeElement.closest(".said[data-item]") !== null)) break;
  }
  check((await focused(page)) === "1", `keyboard: the first item has the focus, found ${await focused(page)}`);
  await page.keyboard.press("u");
  await page.keyboard.press("p");
  check((await focused(page)) !== "1", "keyboard: a key goes on to the next item");
  await page.keyboard.press("ArrowUp");
  await page.keyboard.press("w");
  await page.keyboard.press("ArrowUp");
  await page.keyboard.press("Backspace");
  check((await count(page)).startsWith("1 of"), `keyboard: Backspace takes a mark away, found ${await count(page)}`);
  await page.keyboard.press("m");
  for (let item = 2; item < n_items; item += 1) await page.keyboard.press(item % 7 === 0 ? "l" : "Enter");
  check((await count(page)) === `${n_items} of ${n_items} items judged`, `keyboard: every item judged, found ${await count(page)}`);
  check((await page.locator("#elapsed").innerText()).match(/^\d+:\d\d$/) !== null, "keyboard: the clock runs");
  await page.screenshot({ path: join(folder, "keyboard-form.png") });
  await page.focus("button[value=summary]");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".decide");
  check((await page.locator("h1").innerText()) === "Look over, then save", "keyboard: a summary comes first");
  check((await page.locator("[aria-labelledby=practise] li").count()) > 0, "keyboard: what to practise is listed");
  await page.screenshot({ path: join(folder, "keyboard-summary.png"), fullPage: true });
  await page.focus("button[value=save]");
  await page.keyboard.press("Enter");
  await page.waitForSelector("[data-saved]");
  await page.screenshot({ path: join(folder, "keyboard-saved.png"), fullPage: true });
  const address = page.url();
  check((await page.evaluate(() => Object.keys(localStorage).length)) === 0, "keyboard: the draft leaves the device once it is saved");
  await page.goto(`${base}/people/${person}`);
  check(await stands(page.locator(`[id="entry-${address.split("/").pop()}"]`), 1), "keyboard: the record shows the entry");
  await page.context().close();
}

function focused(page) {
  return page.evaluate(() => document.activeElement.closest(".said")?.dataset.item);
}

// By thumb, with a reload in the middle and text that tries to break the page.
async function byTap(person, job, size, name) {
  const page = await open(size, { hasTouch: true, isMobile: true });
  await page.goto(form(person, job));
  await page.selectOption("#by", await listener(page));
  const small = await page.$$eval(".choice, .bar a, .bar button, #by, #started", (all) =>
    all.filter((each) => each.getBoundingClientRect().height < 48).map((each) => each.className + each.id));
  check(small.length === 0, `phone: targets under 48 px: ${[...new Set(small)]}`);
  const tap = (item, mark) => page.locator(`.said[data-item="${item}"] .choice[data-mark="${mark}"]`).tap();
  const items = await page.$$eval(".said[data-item]", (all) => all.map((each) => each.dataset.item));
  await tap(items[0], "unprompted");
  await tap(items[1], "partial");
  await tap(items[1], "partial");
  check((await count(page)).startsWith("1 of"), `phone: a second tap takes the mark away, found ${await count(page)}`);
  await tap(items[1], "prompted");
  await page.waitForTimeout(300);
  await tap(items[3], "unsafe");
  check(await page.locator("#alarm").isVisible(), "phone: unsafe is said aloud");
  await page.fill("#note", HOSTILE[0]);
  await page.screenshot({ path: join(folder, `${name}-form.png`) });
  const times = await page.$$eval(".said input[type=hidden]", (all) => all.map((each) => each.value));
  await page.reload();
  check(await says(page.locator("#kept"), /^Restored from this device/), "phone: a reload says that it restored");
  check((await count(page)).startsWith("3 of"), `phone: a reload loses nothing, found ${await count(page)}`);
  check((await page.inputValue("#note")) === HOSTILE[0], "phone: the note came back");
  const after = await page.$$eval(".said input[type=hidden]", (all) => all.map((each) => each.value));
  check(JSON.stringify(after) === JSON.stringify(times), "phone: the times came back");
  await page.screenshot({ path: join(folder, `${name}-restored.png`) });
  // The window is closed and the form opened anew: the pass that was begun is offered.
  const entry = new URL(page.url()).searchParams.get("entry");
  await page.goto(form(person, job));
  check(await says(page.locator("#kept"), "was not saved"), "phone: a pass that was begun is offered again");
  await page.locator("#kept button").first().tap();
  await page.waitForURL((url) => url.searchParams.get("entry") === entry);
  check((await count(page)).startsWith("3 of"), "phone: it goes on where it stopped");
  for (const note of HOSTILE) {
    await page.fill("#note", note);
    await page.locator("button[value=summary]").tap();
    await page.waitForSelector(".decide");
    check((await page.locator("[aria-labelledby=said-note] p").innerText()) === note, `phone: a note comes back as typed: ${note}`);
    check((await page.title()).startsWith("Look over"), "phone: the note is text and nothing else");
    await fits(page, "phone: the summary");
    await page.locator("button[value=change]").tap();
    await page.waitForSelector("#pass");
  }
  await page.evaluate(() => { document.getElementById("note").removeAttribute("maxlength"); });
  await page.fill("#note", "x".repeat(600));
  await page.locator("button[value=summary]").tap();
  await page.waitForSelector(".refused");
  check(await says(page.locator(".refused"), "600 characters"), "phone: an over-long note is refused in words");
  check((await page.inputValue("#note")).length === 600, "phone: and stays on the form");
  await fits(page, "phone: a refused form");
  await page.screenshot({ path: join(folder, "phone-refused.png") });
  await page.fill("#note", HOSTILE[1]);
  await page.locator("button[value=summary]").tap();
  await page.waitForSelector(".decide");
  await page.screenshot({ path: join(folder, "phone-summary.png"), fullPage: true });
  await page.locator("button[value=save]").tap();
  await page.waitForSelector("[data-saved]");
  await fits(page, "phone: the saved pass");
  await page.goto(`${base}/practice/${job}?person=${person}`);
  const summaries = page.locator("[aria-labelledby=open] details.hidden > summary");
  check((await summaries.count()) > 0, "phone: practice begins with what was open");
  check(!(await page.locator(".answer").first().isVisible()), "phone: answers are hidden");
  await summaries.first().tap();
  check(await page.locator("[aria-labelledby=open] .answer").first().isVisible(), "phone: and shown one by one");
  await page.screenshot({ path: join(folder, "phone-practice.png"), fullPage: true });
  await page.context().close();
}

async function fits(page, where) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  check(wide <= 0, `${where} is ${wide} px wider than the window`);
}

// A plain form: chosen, summed up, saved, sent twice.
async function withoutScripts(person, job) {
  const page = await open(PHONE, { javaScriptEnabled: false });
  await page.goto(form(person, job));
  await page.selectOption("#by", await listener(page));
  const first = page.locator(".said[data-item]").first();
  await first.locator("input[value=missed]").check();
  await page.locator(".said[data-item]").nth(1).locator("input[value=prompted]").check();
  if (await page.locator(".said[data-first]").count()) {
    await page.locator(".said[data-first]").first().locator("input[value=turned]").check();
  }
  await page.screenshot({ path: join(folder, "plain-form.png"), fullPage: true });
  await page.locator("button[value=summary]").click();
  await page.waitForSelector(".decide");
  const fields = await page.$$eval(".decide input", (all) => all.map((each) => [each.name, each.value]));
  await page.locator("button[value=save]").click();
  await page.waitForSelector("[data-saved]");
  const address = page.url();
  // As a browser does that lost the answer and sends the form once more.
  const again = await page.request.post(`${base}/teach-back`, { form: Object.fromEntries([...fields, ["do", "save"]]) });
  check(again.status() === 200 && again.url() === address, `plain: sent twice it is one entry, found ${again.status()} ${again.url()}`);
  await page.goto(`${base}/people/${person}`);
  check(await stands(page.locator(`[id="entry-${address.split("/").pop()}"]`), 1), "plain: the record shows it once");
  await page.context().close();
}

// What a learner says who knows the job, from the words of the form itself; the third item is left out.
async function words(page, person, job) {
  await page.goto(form(person, job));
  const items = await page.$$eval(".said[data-item] .what", (all) => all.map((each) => [...each.querySelectorAll("bdi")].map((part) => part.textContent).join(" ")));
  const lines = items.map((words, place) => `[${String(Math.floor(place / 8)).padStart(2, "0")}:${String((place % 8) * 7).padStart(2, "0")}] ${words.toLowerCase()}`);
  lines.splice(2, 1);
  return [`[00:00] sorry ${HOSTILE[0]} i am on nights`, ...lines].join("\n");
}

// A transcript as a file, decided on by keys, with a reload and a closed window in the middle.
async function transcript(person, job) {
  const page = await open(DESK);
  const text = await words(page, person, job);
  await page.evaluate(() => localStorage.clear());
  await page.goto(`${base}/teach-back/transcript?person=${person}&breakdown=${job}`);
  await page.screenshot({ path: join(folder, "transcript-hand-in.png"), fullPage: true });
  await page.selectOption("#by", await listener(page));
  await page.locator("form.hand-in button").click();
  await page.waitForSelector(".refused");
  check(await says(page.locator(".refused"), "no file and no words"), "transcript: nothing handed in is said");
  await page.setInputFiles("#file", { name: "pass.txt", mimeType: "text/plain", buffer: Buffer.from(text) });
  await page.locator("form.hand-in button").click();
  await page.waitForSelector("#pass");
  const n_items = await page.locator(".said[data-item]").count();
  check((await count(page)) === `0 of ${n_items} decided`, `transcript: nothing is decided beforehand, found ${await count(page)}`);
  check(await stands(page.locator(".other-job"), 0), "transcript: it is this job");
  check(await says(page.locator("[aria-labelledby=others]"), "on nights"), "transcript: other talk is shown as text");
  await page.screenshot({ path: join(folder, "transcript-desk.png"), fullPage: true });
  await page.locator("button[value=summary]").click();
  await page.waitForSelector(".refused");
  check(await says(page.locator(".refused"), "without one"), "transcript: without a decision nothing goes on");
  // Enter takes what is proposed, a letter another mark, Backspace takes it away.
  await page.locator('.said[data-item="1"] input').first().focus();
  await page.keyboard.press("Enter");
  await page.keyboard.press("p");
  await page.keyboard.press("ArrowUp");
  await page.keyboard.press("Backspace");
  check((await count(page)).startsWith("1 of"), `transcript: keys decide, found ${await count(page)}`);
  await page.keyboard.press("n");
  check((await count(page)).startsWith("2 of"), `transcript: N is not judged, found ${await count(page)}`);
  await page.fill("#note", HOSTILE[1]);
  page.once("dialog", (dialog) => dialog.accept());
  await page.reload();
  await page.waitForSelector("#pass");
  check(await says(page.locator("#kept"), /^Restored/), `transcript: a reload says that it restored, found ${await page.locator("#kept").innerText()}`);
  check((await count(page)).startsWith("2 of"), `transcript: a reload loses nothing, found ${await count(page)}`);
  // The window is closed; the draft waits among the drafts of the device, with the words.
  await page.goto(`${base}/drafts`);
  check(await stands(page.locator("#drafts li"), 1), "transcript: the draft is listed");
  check(await says(page.locator("#drafts"), "from a transcript"), "transcript: by its kind");
  await page.screenshot({ path: join(folder, "drafts.png"), fullPage: true });
  await page.locator("#drafts button").first().click();
  await page.waitForSelector("#pass");
  check((await count(page)).startsWith("2 of"), `transcript: it goes on where it stopped, found ${await count(page)}`);
  check((await page.inputValue("#note")) === HOSTILE[1], "transcript: the note came back");
  await page.locator("#take-sure").click();
  const left = await page.$$eval(".said[data-item]", (all) => all.filter((each) => !each.querySelector("input:checked")).map((each) => each.dataset.sure));
  check(left.every((sure) => sure === undefined), "transcript: only those to decide one by one are left");
  for (const item of await page.locator(".said[data-item]").all()) {
    if ((await item.locator("input:checked").count()) === 0) await item.locator(".choice[data-mark=led]").click();
  }
  for (const order of await page.locator(".said[data-first]").all()) await order.locator("input[value=kept]").check();
  await page.screenshot({ path: join(folder, "transcript-decided.png"), fullPage: true });
  await page.locator("button[value=summary]").click();
  await page.waitForSelector(".decide");
  check(await says(page.locator("[aria-labelledby=proposals]"), "decided otherwise"), "transcript: the summary says where they differ");
  await page.locator("button[value=save]").click();
  await page.waitForSelector("[data-saved]");
  await page.locator("details").evaluateAll((all) => all.forEach((each) => { each.open = true; }));
  check(!(await page.locator("main").innerText()).includes("on nights"), "transcript: words of no item are not kept");
  await page.screenshot({ path: join(folder, "transcript-saved.png"), fullPage: true });
  check((await page.evaluate(() => Object.keys(localStorage).length)) === 0, "transcript: the draft leaves the device");
  await page.context().close();
}

// The same on a phone with no script: pasted, the sure ones confirmed together, the others one by one.
async function transcriptWithoutScripts(person, job) {
  const page = await open(PHONE, { javaScriptEnabled: false });
  const text = await words(page, person, job);
  await page.goto(`${base}/teach-back/transcript?person=${person}&breakdown=${job}`);
  await fits(page, "plain transcript: the form");
  await page.selectOption("#by", await listener(page));
  await page.fill("#pasted", "WEBVTT\n\nno cue at all");
  await page.locator("form.hand-in button").click();
  await page.waitForSelector("main");
  await page.screenshot({ path: join(folder, "transcript-poor.png"), fullPage: true });
  await page.goto(`${base}/teach-back/transcript?person=${person}&breakdown=${job}`);
  await page.selectOption("#by", await listener(page));
  await page.fill("#pasted", text);
  await page.locator("form.hand-in button").click();
  await page.waitForSelector("#pass");
  await fits(page, "plain transcript: the proposals");
  await page.screenshot({ path: join(folder, "transcript-phone.png"), fullPage: true });
  await page.locator("#take-sure").click();
  await page.waitForSelector("#pass");
  for (const item of await page.locator(".said[data-item]").all()) {
    if ((await item.locator("input:checked").count()) === 0) await item.locator("input[value=not-judged]").check();
  }
  for (const order of await page.locator(".said[data-first]").all()) await order.locator("input[value=kept]").check();
  await page.locator("input[name=keep]").check();
  await page.locator("button[value=summary]").click();
  await page.waitForSelector(".decide");
  await page.locator("button[value=save]").click();
  await page.waitForSelector("[data-saved]");
  await fits(page, "plain transcript: saved");
  check((await page.locator("pre.transcript").textContent()).includes("i am on nights"), "plain transcript: the whole is kept when asked");
  await page.screenshot({ path: join(folder, "transcript-phone-saved.png"), fullPage: true });
  await page.context().close();
}

// A draft runs out after two weeks; what waits can be thrown away, and the device cleared.
async function drafts(person, job) {
  const page = await open(PHONE, { hasTouch: true, isMobile: true });
  await page.goto(form(person, job));
  await page.selectOption("#by", await listener(page));
  await page.locator('.said[data-item="1"] .choice[data-mark="missed"]').tap();
  const name = await page.evaluate(() => Object.keys(localStorage)[0]);
  await page.evaluate((known) => {
    const draft = JSON.parse(localStorage.getItem(known));
    localStorage.setItem(known.replace(/.$/, "0") + "0", JSON.stringify({ ...draft, at: Date.now() - 15 * 86400000 }));
    localStorage.setItem("wardwright:form:breakdown:unreadable", "{");
  }, name);
  await page.goto(`${base}/drafts`);
  check(await stands(page.locator("#drafts li"), 1), `drafts: what ran out is gone, found ${await page.locator("#drafts li").count()}`);
  await fits(page, "drafts");
  await page.screenshot({ path: join(folder, "drafts-phone.png"), fullPage: true });
  await page.locator("#clear").tap();
  check(await stands(page.locator("#drafts li"), 1), "drafts: one tap clears nothing yet");
  await page.locator("#clear").tap();
  check((await page.evaluate(() => Object.keys(localStorage).length)) === 0, "drafts: the device is cleared");
  check(await page.locator("#no-drafts").isVisible(), "drafts: and says so");
  await page.context().close();
}

// The same form open in two windows: the second to save is told, and keeps what it typed.
async function twoTabs(person, job) {
  const one = await open(DESK);
  await one.goto(form(person, job));
  const two = await one.context().newPage();
  await two.goto(one.url());
  for (const [page, mark] of [[one, "missed"], [two, "led"]]) {
    await page.selectOption("#by", await listener(page));
    await page.locator(`.said[data-item="1"] .choice[data-mark="${mark}"]`).click();
    await page.locator("button[value=summary]").click();
    await page.waitForSelector(".decide");
  }
  await one.locator("button[value=save]").click();
  await one.waitForSelector("[data-saved]");
  await two.locator("button[value=save]").click();
  await two.waitForSelector(".refused");
  check(await says(two.locator(".refused"), "Nothing typed is lost"), "two windows: the second is told");
  check(await two.locator('.said[data-item="1"] input[value=led]').isChecked(), "two windows: and keeps its marks");
  await two.screenshot({ path: join(folder, "two-windows.png") });
  await one.context().close();
}

// Two people write the next version at once; a reload in the middle brings the draft back.
async function editor(person, job) {
  const one = await open(DESK);
  const two = await open(PHONE);
  for (const page of [one, two]) await page.goto(`${base}/editor?breakdown=${job}`);
  await fits(two, "editor: the form");
  await one.locator('button[value="add-point-1"]').click();
  await one.waitForURL(/#step-1$/);
  const last = await one.locator("#step-1 fieldset").count();
  await one.fill(`#step-1-${last}-text`, "Say aloud what you are about to do");
  await one.reload();
  check(await says(one.locator("#kept"), "there is a draft"), "editor: a draft is offered after a reload");
  const entry = await one.locator('input[name="entry"]').getAttribute("value");
  await one.goto(`${base}/editor?breakdown=${job}&entry=${entry}`);
  check(await says(one.locator("#kept"), "there is a draft"), "editor: and when the address is opened anew");
  await one.screenshot({ path: join(folder, "editor-draft.png") });
  await one.locator("#kept button").first().click();
  await one.waitForSelector("[aria-labelledby=checks]");
  check((await one.inputValue(`#step-1-${last}-text`)) === "Say aloud what you are about to do", "editor: the draft came back");
  check(await says(one.locator("[aria-labelledby=checks]"), "has no reason"), "editor: a key point without a reason is named");
  await one.screenshot({ path: join(folder, "editor-checked.png"), fullPage: true });
  await one.fill(`#step-1-${last}-reasons`, "whoever hears it can stop you in time");
  for (const [page, words] of [[one, "A key point more."], [two, HOSTILE[0]]]) {
    await page.selectOption("#by", { index: 1 });
    await page.check('input[name="change-kind"][value="minor"]');
    await page.fill("#change", words);
  }
  await two.fill("#step-1-name", HOSTILE[2]);
  await two.screenshot({ path: join(folder, "editor-phone.png"), fullPage: true });
  await one.locator('button[value="publish"]').click();
  await one.waitForURL(/published=/);
  check(await says(one.locator(".lead").nth(1), /^Published/), "editor: it says that it is published");
  check((await one.evaluate(() => Object.keys(localStorage).length)) === 0, "editor: the draft leaves the device");
  check(await says(one.locator("main"), "Say aloud what you are about to do"), "editor: the new version is shown");
  await two.locator('button[value="publish"]').click();
  await two.waitForSelector("#overtaken");
  check((await two.inputValue("#step-1-name")) === HOSTILE[2], "editor: the second loses nothing");
  check((await two.inputValue("#change")) === HOSTILE[0], "editor: hostile text is text");
  check(await says(two.locator(".refused").first(), "Say aloud what you are about to do"), "editor: the second sees what changed");
  await fits(two, "editor: told that somebody was first");
  await two.screenshot({ path: join(folder, "editor-overtaken.png"), fullPage: true });
  await one.context().close();
  await two.context().close();
}
