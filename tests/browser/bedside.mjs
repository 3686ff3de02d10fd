// What happens at a bed, in Chromium: a draw marked by keys alone, by thumb on a phone and on a tablet, without network,
// without scripts, and carried out one step at a time, by touch and by keys alone. live.mjs runs these with the others.

import { createServer, request } from "node:http";
import { cpus, loadavg } from "node:os";
import { join } from "node:path";
import { comes, says, stands } from "./says.mjs";

// Most bytes of one page with everything it is made of, and most milliseconds until it can be used on a middling phone.
const MOST_BYTES = 60_000;

export function bedside({ base, folder, browser, open, check, fits }) {
  const PHONE = { width: 360, height: 740 };
  const TABLET = { width: 820, height: 1180 };
  const DESK = { width: 1440, height: 900 };
  const form = (person, job, to = base) => `${to}/observe/new?person=${person}&breakdown=${job}`;
  const shot = (page, name, fullPage = false) => page.screenshot({ path: join(folder, `${name}.png`), fullPage });
  const watcher = (page) => page.locator("#watched option:not([data-against])").nth(1).getAttribute("value");

  // The draw's own identifier, and how often the person's record shows it.
  async function onRecord(page, person, entry) {
    await page.goto(`${base}/people/${person}`);
    return page.locator(`[id="entry-${entry}"]`).count();
  }

  // A clean draw by keys: no pointer is moved.
  async function drawByKeys(person, job) {
    const page = await open(DESK);
    await page.goto(form(person, job));
    const began = Date.now();
    await page.focus("#watched");
    await page.selectOption("#watched", await watcher(page));
    for (let stop = 0; stop < 12; stop += 1) {
      await page.keyboard.press("Tab");
      if (await page.evaluate(() => document.activeElement.closest(".said[data-item]") !== null)) break;
    }
    const focused = () => page.evaluate(() => document.activeElement.closest(".said")?.dataset.item);
    check((await focused()) === "1.1", `keys: the first key point has the focus, found ${await focused()}`);
    await page.keyboard.press("Enter");
    await page.keyboard.press("p");
    await page.waitForTimeout(300);
    check((await focused()) === "1.3", `keys: a key goes on to the next point, found ${await focused()}`);
    await page.keyboard.press("ArrowUp");
    await page.keyboard.press("Backspace");
    await page.keyboard.press("Enter");
    check(await says(page.locator("#judged"), /^2 of/), "keys: Backspace takes a mark away, Enter marks");
    check(await says(page.locator("#elapsed"), /^\d+:\d\d$/), "keys: the clock runs from the first mark");
    await page.focus("#rest-look button");
    await page.keyboard.press("Enter");
    const listed = await page.locator("#rest-look li").count();
    check(listed > 10 && (await says(page.locator("#rest-look li").first(), "Safety")), "keys: what is left is listed, safety points first");
    await shot(page, "draw-rest");
    await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    const judged = (await page.locator("#judged").innerText()).match(/^(\d+) of (\d+)/);
    check(judged[1] === judged[2], `keys: everything is marked, found ${judged[0]}`);
    check(await stands(page.locator(".said.is-together"), listed), "keys: what was marked together is shown as such");
    await page.focus("#fill-aerobic");
    await page.keyboard.type("9");
    await page.keyboard.press("Tab");
    await page.keyboard.type("9");
    await page.focus("#clock");
    await page.keyboard.press("Enter");
    check((await page.locator("#clock").innerText()) === "Go on", "keys: the draw has ended");
    await page.focus("#save");
    await page.keyboard.press("Enter");
    await page.waitForSelector(".decide");
    check(await says(page.locator(".where-stands"), "Counts towards release"), "keys: it says that the draw counts");
    await shot(page, "draw-summary", true);
    await page.focus("button[value=save]");
    await page.keyboard.press("Enter");
    await page.waitForSelector("[data-saved]");
    console.log(`A clean draw by keys alone: ${((Date.now() - began) / 1000).toFixed(1)} s of the machine's own attention.`);
    await shot(page, "draw-saved", true);
    const entry = page.url().split("/").pop();
    check((await page.evaluate(() => Object.keys(localStorage).filter((name) => name.startsWith("wardwright:draw:")).length)) === 0, "keys: the draft leaves the device");
    check((await onRecord(page, person, entry)) === 1, "keys: the record shows the entry");
    await page.context().close();
  }

  // By thumb on a phone: large targets, a reload in the middle, a watcher who may not precept.
  const drawByThumb = (person, job) => byThumb(person, job, PHONE, "phone");
  const drawOnTablet = (person, job) => byThumb(person, job, TABLET, "tablet");
  async function byThumb(person, job, size, name) {
    const page = await open(size, { hasTouch: true, isMobile: true, serviceWorkers: "block" });
    await page.goto(form(person, job));
    const small = await page.$$eval(".draw .choice, .bar button, .bar a, #watched, #drawn, .pick, .wide, #fill-aerobic", (all) =>
      all.filter((each) => { const box = each.getBoundingClientRect(); return box.height < 48 || box.width < 48 - 14 * Number(each.matches(".bar a")); }).map((each) => each.className + each.id));
    check(small.length === 0, `thumb: targets under 48 px: ${[...new Set(small)]}`);
    await fits(page, "thumb: the form");
    const against = page.locator("#watched option[data-against]").first();
    if (await against.count()) {
      await page.selectOption("#watched", await against.getAttribute("value"));
      check(await says(page.locator("#against"), "will not count towards release"), "thumb: a watcher who may not precept is told at once");
      await shot(page, `draw-${name}-top`);
    }
    const tap = (item, mark) => page.locator(`.said[data-item="${item}"] .choice[data-mark="${mark}"]`).tap();
    await tap("1.1", "missed");
    check(await page.locator("#alarm").isVisible(), "thumb: a missed safety point is said at once");
    await tap("1.2", "done");
    await tap("1.2", "done");
    check(await says(page.locator("#judged"), /^1 of/), "thumb: a second tap takes the mark away");
    await tap("1.2", "wrong");
    await shot(page, `draw-${name}-marks`);
    await page.reload();
    check(await says(page.locator("#kept"), /^Restored from this device/), "thumb: a reload says that it restored");
    check(await says(page.locator("#judged"), /^2 of/), "thumb: a reload loses no mark");
    check(await says(page.locator("#elapsed"), /^\d+:\d\d$/), "thumb: the clock goes on");
    await page.goto(form(person, job));
    check(await says(page.locator("#kept"), "was not saved"), "thumb: an unfinished draw is offered again");
    await page.goto(`${base}/bedside`);
    check(await says(page.locator("#waiting"), "Unfinished"), "thumb: and listed at the bedside");
    await shot(page, `bedside-${name}`, true);
    await fits(page, "thumb: the bedside page");
    if (size === TABLET) {
      await page.locator("#waiting a", { hasText: "Go on with it" }).tap();
      await page.waitForSelector("#rest-look button");
      await page.selectOption("#watched", await watcher(page));
      await page.locator("#rest-look button").first().tap();
      await page.locator("#rest-look button").first().tap();
      await page.locator("#save").tap();
      await page.waitForSelector(".decide");
      await fits(page, "tablet: the summary");
      await shot(page, "draw-tablet-summary", true);
      const entry = await page.inputValue(".decide input[name=entry]");
      await page.locator("button[value=save]").tap();
      await page.waitForSelector("[data-saved]");
      check((await onRecord(page, person, entry)) === 1, "tablet: the record shows the draw");
    }
    await page.context().close();
  }

  // A whole draw led through by keys alone: every stop of the tabulator can be seen, and when to stop is one key away.
  async function carriedOutByKeys(person, job) {
    const page = await open(TABLET, { serviceWorkers: "block" });
    const own = await page.request.get(`${base}/carry-out?person=${person}&breakdown=${job}`);
    await page.goto(own.url());
    await page.waitForSelector("#draw[data-ready]");
    // What has the focus is drawn with an outline, inside the window, and nothing lies over its middle (WCAG 2.2, 2.4.7 and 2.4.11).
    const unseen = () => page.evaluate(() => {
      const at = document.activeElement;
      const box = at.matches("input") ? at.closest(".choice, .pick") ?? at : at;
      const { left, top, right, bottom: end } = box.getBoundingClientRect();
      // A browser shows of a large field the line that is written in.
      const bottom = at.matches("textarea") ? Math.min(end, top + 48) : end;
      const over = document.elementFromPoint((left + right) / 2, (top + bottom) / 2);
      const drawn = [box, at].some((each) => getComputedStyle(each).outlineStyle !== "none" && parseFloat(getComputedStyle(each).outlineWidth) >= 2);
      const why = !drawn ? "no outline" : top < 0 || bottom > innerHeight ? "outside the window" : !box.contains(over) && !over?.contains(box) ? `under ${over?.className || over?.tagName}` : "";
      return why && `${at.tagName} ${at.id || at.textContent.slice(0, 30) || at.name}: ${why}`;
    });
    // A radio button moves on as a browser scrolls: looked at once it is at rest.
    const press = async (key) => {
      await page.keyboard.press(key);
      await page.waitForTimeout(40);
      const why = key === "Tab" ? await unseen() : "";
      check(!why, `carry out by keys: ${why}`);
    };
    const until = async (what, selector) => {
      for (let stop = 0; stop < 60; stop += 1) {
        if (await page.evaluate((selector) => document.activeElement.matches(selector), selector)) return;
        await press("Tab");
      }
      check(false, `carry out by keys: ${what} is not reached with the tabulator`);
    };
    await until("who watches", "#watched");
    for (let turn = 0; turn < 40; turn += 1) {
      await page.keyboard.press("ArrowDown");
      if (await page.evaluate(() => { const [one] = document.getElementById("watched").selectedOptions; return one.value !== "" && one.dataset.against === undefined && one.value !== document.getElementById("drawn").value; })) break;
    }
    await until("Start", "#begin");
    await press("Enter");
    const step = () => page.evaluate(() => document.querySelector("[data-step]:not([hidden])")?.dataset.step ?? "end");
    let n_points = 0;
    for (let number = 1; (await step()) !== "end" && number < 20; number += 1) {
      check((await step()) === String(number), `carry out by keys: step ${number}, found ${await step()}`);
      const points = await page.locator("[data-step]:not([hidden]) .said[data-item]").count();
      if (points > 0) {
        await until("a key point", ".said[data-item] input");
        for (let point = 0; point < points; point += 1) {
          await page.keyboard.press(point === 0 ? "Enter" : "d");
          // A single sign waits a moment, because a scanner types too.
          await page.waitForTimeout(150);
        }
        n_points += points;
        check(await says(page.locator("#judged"), `${n_points} of`), `carry out by keys: ${n_points} marked, found ${await page.locator("#judged").innerText()}`);
      }
      if (number === 2) {
        await page.keyboard.press("t");
        await page.waitForFunction(() => /: \d+ seconds$/.test(document.querySelector(".stage-what").textContent));
        // When to stop: one key, then Enter; Escape goes back to where it was.
        await page.keyboard.press("s");
        await page.waitForFunction(() => document.activeElement.closest(".stop-buttons") !== null);
        check(!(await unseen()), `carry out by keys: when to stop: ${await unseen()}`);
        await shot(page, "carry-keys-stop-button");
        for (let rule = 0; rule < 4; rule += 1) {
          await press("Enter");
          check(await page.locator("dialog ol li").first().isVisible(), `carry out by keys: rule ${rule + 1} of when to stop is read`);
          check(!(await unseen()) && (await page.evaluate(() => document.activeElement.closest("dialog") !== null)), "carry out by keys: the focus is in the dialog");
          if (rule === 0) await shot(page, "carry-keys-stop");
          await page.keyboard.press("Escape");
          check(await page.evaluate(() => document.activeElement.closest(".stop-buttons") !== null), "carry out by keys: the focus comes back from the dialog");
          await press("Tab");
        }
      }
      await page.keyboard.press("PageDown");
      await page.waitForTimeout(40);
    }
    check(await says(page.locator("#judged"), `${n_points} of ${n_points}`), `carry out by keys: everything is marked, found ${await page.locator("#judged").innerText()}`);
    await until("the fill of the aerobic bottle", "#fill-aerobic");
    await page.keyboard.type("9");
    await press("Tab");
    await page.keyboard.type("9");
    await until("Finish", "#save");
    await shot(page, "carry-keys-end");
    await press("Enter");
    await page.waitForSelector(".decide");
    check(await says(page.locator(".where-stands"), "Counts towards release"), "carry out by keys: it counts");
    const entry = await page.inputValue(".decide input[name=entry]");
    await until("Save", "button[value=save]");
    await press("Enter");
    await page.waitForSelector("[data-saved]");
    check((await onRecord(page, person, entry)) === 1, "carry out by keys: the record shows the draw");
    await page.context().close();
  }

  // A plain form.
  async function drawWithoutScripts(person, job) {
    const page = await open(PHONE, { javaScriptEnabled: false });
    await page.goto(form(person, job));
    await page.selectOption("#watched", await watcher(page));
    await page.locator('.said[data-item="1.2"] input[value=prompt]').check();
    await page.locator("#rest").check();
    await shot(page, "draw-plain", true);
    await page.locator("button[value=summary]").click();
    await page.waitForSelector(".decide");
    check(await says(page.locator("[aria-labelledby=seen]"), "in one action"), "plain: what was marked together is said");
    const fields = await page.$$eval(".decide input", (all) => all.map((each) => [each.name, each.value]));
    await page.locator("button[value=save]").click();
    await page.waitForSelector("[data-saved]");
    const address = page.url();
    const again = await page.request.post(`${base}/observe`, { form: Object.fromEntries([...fields, ["do", "save"]]) });
    check(again.status() === 200 && again.url() === address, `plain: sent twice it is one entry, found ${again.status()} ${again.url()}`);
    check((await onRecord(page, person, address.split("/").pop())) === 1, "plain: the record shows it once");
    await page.context().close();
  }

  // Stands between browser and program, and can be taken away: no network.
  async function line() {
    const to = new URL(base);
    const sockets = new Set();
    let server = null;
    let port = 0;
    const up = () => new Promise((done) => {
      server = createServer((asked, answer) => {
        const passed = request({ host: to.hostname, port: to.port, path: asked.url, method: asked.method, headers: asked.headers }, (got) => {
          answer.writeHead(got.statusCode, got.headers);
          got.pipe(answer);
        });
        passed.on("error", () => answer.destroy());
        asked.pipe(passed);
      });
      server.on("connection", (socket) => { sockets.add(socket); socket.on("close", () => sockets.delete(socket)); });
      server.listen(port, "127.0.0.1", () => { port = server.address().port; done(); });
    });
    const down = () => new Promise((done) => { for (const socket of sockets) socket.destroy(); server.close(done); });
    await up();
    return { base: `http://127.0.0.1:${port}`, up, down };
  }

  // Written without network, kept over a reload, sent once there is one, sent twice is once; refused is shown and kept.
  async function withoutNetwork(person, job) {
    const network = await line();
    const page = await open(PHONE, { hasTouch: true, isMobile: true }, { quiet: /ERR_CONNECTION|ERR_EMPTY|Failed to load resource|status of 422/ });
    await page.goto(`${network.base}/bedside`);
    const isReady = () => page.evaluate(async (job) => {
      const pages = await caches.open("wardwright-pages");
      const kept = await Promise.all([`/observe/new?breakdown=${job}`, `/carry-out?breakdown=${job}`, "/bedside"].map((each) => pages.match(each)));
      return kept.every(Boolean) && (await navigator.serviceWorker.ready).active?.state === "activated";
    }, job);
    for (let wait = 0; wait < 100 && !(await isReady()); wait += 1) await page.waitForTimeout(100);
    check(await isReady(), "no network: the pages of the bed are kept");
    await network.down();
    const asked = Date.now();
    await page.goto(`${network.base}/carry-out?person=${person}&breakdown=${job}`);
    await page.waitForSelector("#draw[data-ready]");
    console.log(`Carry-out page without network, kept on the device: ready after ${Date.now() - asked} ms, load of the machine ${loadavg()[0].toFixed(1)}.`);
    await page.locator("#begin").tap();
    check(await stands(page.locator(".stop-button:visible"), 4), "no network: a draw is led through, with when to stop");
    await page.evaluate(() => { for (const name of Object.keys(localStorage)) if (name.startsWith("wardwright:draw:")) localStorage.removeItem(name); });
    await page.goto(form(person, job, network.base));
    check((await page.locator("h1").innerText()) === "Mark an observed draw", "no network: the form opens all the same");
    check((await page.inputValue("#drawn")) === person, "no network: the person of the address is chosen");
    const entry = new URL(page.url()).searchParams.get("entry");
    check(entry !== null && (await page.locator("input[name=entry]").getAttribute("value")) !== null, "no network: the draw has an identifier of its own");
    await page.selectOption("#watched", await watcher(page));
    await page.locator('.said[data-item="1.1"] .choice[data-mark="done"]').tap();
    await page.locator('.said[data-item="1.2"] .choice[data-mark="prompt"]').tap();
    await page.reload();
    check(await says(page.locator("#judged"), /^2 of/), "no network: a reload loses nothing");
    await page.locator("#save").tap();
    await page.waitForSelector("#alarm button");
    await shot(page, "offline-finish");
    await page.locator("#alarm button").tap();
    await page.waitForURL(/bedside/);
    await page.waitForSelector("#waiting li .note");
    check(await says(page.locator("#waiting"), "Waits for the network"), "no network: what waits is shown");
    await page.reload();
    await page.waitForSelector("#waiting li .note");
    check(await says(page.locator("#waiting-line"), "1 not sent yet"), "no network: and still after a reload");
    await shot(page, "offline-waiting", true);
    await fits(page, "no network: the bedside page");
    const fields = await page.evaluate(() => new Promise((done) => {
      const opening = indexedDB.open("wardwright", 1);
      opening.onsuccess = () => { opening.result.transaction("outbox").objectStore("outbox").getAll().onsuccess = (event) => { done(event.target.result[0].fields); opening.result.close(); }; };
    }));
    await network.up();
    await page.locator("#send-now").tap();
    await page.waitForFunction(() => document.getElementById("waiting").innerText.includes("Nothing waits"));
    check(await says(page.locator("#waiting-line"), "1 sent"), "no network: it says that it was sent");
    // As a device does that lost the answer and sends once more.
    const state = await page.evaluate((fields) => window.bedside.write(fields), fields);
    check(state === "sent", `no network: sent twice is taken as sent, found ${state}`);
    check((await onRecord(page, person, entry)) === 1, "no network: the record shows one entry");
    // Another content under the same identifier.
    await page.goto(`${network.base}/bedside`);
    const changed = fields.map(([name, value]) => [name, name === "m-1.2" ? "missed" : value]);
    const refused = await page.evaluate((fields) => window.bedside.write(fields), changed);
    check(refused === "refused", `no network: other content is refused, found ${refused}`);
    await page.waitForSelector("#waiting .is-fault");
    check((await says(page.locator("#waiting"), "says something else")) || (await page.locator("#waiting li li").count()) > 0, "no network: the reason is shown and the entry kept");
    await shot(page, "offline-refused", true);
    await page.locator("#waiting button", { hasText: "Write it as a new entry" }).tap();
    await page.waitForURL(/observe\/new/);
    check(await page.locator('.said[data-item="1.2"] input[value=missed]').isChecked(), "no network: a refused entry opens again with everything typed");
    await page.goto(`${network.base}/bedside`);
    await page.locator("#device button").tap();
    check(await says(page.locator("#device"), "are not in the record book"), "sign out: what would be lost is said first");
    await page.locator("#device button").tap();
    await page.waitForURL(/signed-out/);
    await page.waitForTimeout(500);
    const left = await page.evaluate(async () => ({
      caches: (await caches.keys()).filter((name) => name.startsWith("wardwright-")),
      drafts: Object.keys(localStorage).filter((name) => name !== "wardwright:signed-out"),
      workers: (await navigator.serviceWorker.getRegistrations()).length,
    }));
    check(left.caches.length + left.drafts.length + left.workers === 0, `sign out: nothing stays on the device, found ${JSON.stringify(left)}`);
    await shot(page, "signed-out");
    await page.context().close();
    await network.down();
  }

  // Led through with short times: contact runs into drying, the screen goes on by itself, stop rules on every step.
  async function carriedOut(person, job) {
    const page = await open(PHONE, { hasTouch: true, isMobile: true, serviceWorkers: "block" });
    await page.route("**/carry-out?*", async (route) => {
      const answer = await route.fetch();
      return route.fulfill({ response: answer, body: (await answer.text()).replaceAll(/data-seconds="\d+"/g, 'data-seconds="2"') });
    });
    // With an identifier of its own, so that the page is not reached by another address.
    const own = await page.request.get(`${base}/carry-out?person=${person}&breakdown=${job}`);
    await page.goto(own.url());
    await page.selectOption("#watched", await watcher(page));
    await shot(page, "carry-before", true);
    await page.locator(".lead-choice input").nth(1).check();
    // What the screen said, and when by a clock that cannot be moved.
    await page.evaluate(() => {
      const place = document.querySelector(".stage-what");
      window.said = [];
      new MutationObserver(() => window.said.push([place.textContent, performance.now()])).observe(place, { childList: true });
    });
    await page.locator("#begin").tap();
    const step = () => page.evaluate(() => document.querySelector("[data-step]:not([hidden])")?.dataset.step ?? "end");
    check((await step()) === "1", `carry out: begins with step 1, found ${await step()}`);
    check(await stands(page.locator(".stop-button:visible"), 4), "carry out: every stop rule is one tap away");
    await page.locator(".stop-button").first().tap();
    check(await says(page.locator("dialog"), "needle out at once"), "carry out: in plain words");
    await shot(page, "carry-stop");
    await page.locator("dialog button", { hasText: "Go on with the draw" }).tap();
    // Wristband and label: held against each other, kept nowhere.
    for (const [label, words] of [["WB-1234", "The same"], ["WB-9999", "They differ"]]) {
      await page.locator(".stop-buttons button", { hasText: "Band and label" }).tap();
      for (const code of ["WB-1234", label]) { await page.keyboard.type(code); await page.keyboard.press("Enter"); }
      check(await says(page.locator("dialog"), words), `carry out: band and label: ${words}`);
      if (words === "They differ") await shot(page, "carry-differ");
      await page.locator("dialog button", { hasText: "Close" }).tap();
    }
    const stored = await page.evaluate(() => JSON.stringify(localStorage) + new URLSearchParams(new FormData(document.querySelector("form.draw"))));
    check(!stored.includes("WB-"), "carry out: the codes of band and label are not kept and would not be sent");
    // A scanner that stops half way, then a whole code.
    await page.keyboard.type("INV-2");
    await page.waitForTimeout(600);
    check(await says(page.locator("#alarm"), "half a code"), "carry out: half a code is asked for again");
    const whole = (await page.getAttribute("#draw", "data-shapes")).split("\n")[0].replaceAll("A", "X").replaceAll("9", "7");
    await page.keyboard.type(whole);
    await page.keyboard.press("Enter");
    check((await page.inputValue("#specimen")) === whole, `carry out: a whole code is taken, found ${await page.inputValue("#specimen")}`);
    await page.keyboard.press("PageDown");
    check((await step()) === "2", "carry out: a key goes on");
    const heard = (words) => page.waitForFunction((words) => window.said.some(([said]) => said === words), words);
    await heard("tops contact: 2 seconds");
    await shot(page, "carry-time");
    // The clock of the device is set an hour on, in the middle.
    await page.evaluate(() => { const old = Date.now; Date.now = () => old() + 3_600_000; });
    const height = await page.locator(".stage-figure").evaluate((figure) => parseFloat(getComputedStyle(figure).fontSize));
    check(height >= 100, `carry out: the figure is large, found ${height} px`);
    await heard("tops dry: the time has passed");
    const told = new Map(await page.evaluate(() => window.said));
    const spans = [["tops contact: 2 seconds", "tops dry: 2 seconds"], ["tops dry: 2 seconds", "tops dry: the time has passed"]];
    for (const [first, then] of spans) {
      const offMs = Math.round(told.get(then) - told.get(first) - 2000);
      console.log(`Carry out: a time of 2 s was ${offMs} ms off.`);
      check(Math.abs(offMs) <= 200, `carry out: from “${first}” to “${then}” ${offMs} ms off: a moved clock moves no time`);
    }
    check(await says(page.locator(".stage-under"), "was moved by 36"), "carry out: that the clock was moved is said");
    await page.waitForFunction(() => Number(document.querySelector("[data-step]:not([hidden])")?.dataset.step) >= 3);
    while ((await step()) !== "end") await page.keyboard.press("PageDown");
    await shot(page, "carry-end", true);
    await fits(page, "carry out: the end");
    check(await page.locator("#save").isVisible(), "carry out: at the end it can be saved");
    // The marks are the watcher's.
    await page.locator("#rest-look button").first().tap();
    await page.locator("#rest-look button").first().tap();
    await page.locator("#save").tap();
    await page.waitForSelector(".decide");
    check(await says(page.locator("[aria-labelledby=circumstances]"), "Steps began"), "carry out: the times came along");
    check(await says(page.locator("[aria-labelledby=circumstances]"), "was moved by"), "carry out: also that the clock was moved");
    const entry = await page.inputValue(".decide input[name=entry]");
    await page.locator("button[value=change]").tap();
    await page.waitForSelector("#draw");
    check((await page.inputValue("#drawn")) === person && (await page.inputValue("#draw input[name=entry]")) === entry, "carry out: changed, it stays the same draw of the same person");
    check((await page.locator(".said.is-together").count()) > 10, "carry out: changed, it stays marked as it was");
    await page.locator("#save").tap();
    await page.waitForSelector(".decide");
    await page.locator("button[value=save]").tap();
    await page.waitForSelector("[data-saved]");
    check(page.url().endsWith(entry) && (await onRecord(page, person, entry)) === 1, "carry out: what was done is an observed draw");
    await page.context().close();
  }

  // Cold, on a middling phone with a slow network: how long until it can be used, and how heavy it is. Times are the page's
  // own, from the moment its address was followed: what drives the browser takes its share of a slowed processor too, so
  // it keeps still until the page has been painted.
  async function cold(person, job) {
    for (const [name, kbps, delayMs] of [["no limit", 0, 0], ["slow 3G (400 kbit/s, 400 ms)", 400, 400]]) {
      const page = await open(PHONE, { hasTouch: true, isMobile: true, serviceWorkers: "block" });
      const control = await page.context().newCDPSession(page);
      await control.send("Network.enable");
      await control.send("Emulation.setCPUThrottlingRate", { rate: 4 });
      if (kbps) await control.send("Network.emulateNetworkConditions", { offline: false, latency: delayMs, downloadThroughput: kbps * 125, uploadThroughput: kbps * 125 });
      let n_bytes = 0;
      control.on("Network.loadingFinished", (event) => { n_bytes += event.encodedDataLength; });
      await page.addInitScript(clockOfThePage);
      await page.goto(`${base}/carry-out?person=${person}&breakdown=${job}&entry=01890a5d-ac96-774b-bcce-b302099a8057`, { waitUntil: "commit" });
      const asked = async (expression) => (await control.send("Runtime.evaluate", { expression, returnByValue: true })).result.value;
      check(await comes(() => asked("window.coldMs?.painted !== undefined"), 10_000), `cold: painted with its button, ${name}`);
      // Who watches is chosen, and "Start" is tapped: taken at once, or as soon as the scripts are there.
      const [x, y] = await asked(`(() => {
        document.querySelector("#watched").value = document.querySelectorAll("#watched option:not([data-against])")[1].value;
        const button = document.querySelector("#begin");
        button.scrollIntoView({ block: "center", behavior: "instant" });
        const box = button.getBoundingClientRect();
        return [box.left + box.width / 2, box.top + box.height / 2];
      })()`);
      await control.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [{ x, y }] });
      await control.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
      check(await comes(() => asked("window.coldMs?.led !== undefined"), 10_000), `cold: a tap on “Start” leads, ${name}`);
      const { painted, tapped, led } = await asked("window.coldMs");
      console.log(`Carry-out page, cold, CPU four times slower, ${name}: can be used after ${Math.round(painted)} ms, a tap taken after ${Math.round(tapped)} ms, led after ${Math.round(led)} ms, ${n_bytes} bytes, load of the machine ${loadavg()[0].toFixed(1)}.`);
      check((await page.inputValue("#watched")) !== "", "cold: what was chosen before the scripts were there stays chosen");
      await page.waitForLoadState("networkidle");
      check(n_bytes < MOST_BYTES, `cold: ${n_bytes} bytes, more than ${MOST_BYTES}`);
      // A machine at work on other things says nothing about a phone.
      const isBusy = loadavg()[0] > cpus().length;
      const mostMs = Number(process.env.WARDWRIGHT_MOST_COLD_MS ?? 1000);
      if (!isBusy) check(painted < mostMs, `cold: can be used after ${Math.round(painted)} ms, more than ${mostMs}`);
      await page.context().close();
    }
  }

  // In the page, before anything of its own: when the button has been painted and hears a tap, when a tap reached it,
  // when the first step stands there.
  function clockOfThePage() {
    const times = {};
    window.coldMs = times;
    const look = () => {
      const button = document.getElementById("begin");
      // The frame that shows it is out when the task after it runs.
      if (button?.onclick || document.querySelector("#draw[data-ready]")) setTimeout(() => { times.painted ??= performance.now(); });
      if (document.querySelector(".is-led")) times.led ??= performance.now();
      if (times.led === undefined) requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
    addEventListener("click", (event) => { if (event.target.closest?.("#begin")) times.tapped ??= performance.now(); }, true);
  }

  // The camera, in a browser that reads codes: a stand-in gives first half a code, then two codes at once, then the whole.
  async function readByCamera(person, job) {
    const page = await open(PHONE, { hasTouch: true, isMobile: true, serviceWorkers: "block", permissions: ["camera"] });
    await page.addInitScript(() => {
      const seen = [["INV-2"], [], ["INV-2"], ["INV-26-000118", "OTHER-1"]];
      window.BarcodeDetector = class {
        static async getSupportedFormats() { return ["code_128"]; }
        async detect() { return (seen.shift() ?? [document.body.dataset.code]).map((rawValue) => ({ rawValue })); }
      };
      navigator.mediaDevices ??= {};
      navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream();
      HTMLMediaElement.prototype.play = async () => {};
    });
    await page.goto(form(person, job));
    const whole = (await page.getAttribute("#draw", "data-shapes")).split("\n")[0].replaceAll("A", "X").replaceAll("9", "7");
    await page.evaluate((code) => { document.body.dataset.code = code; }, whole);
    const camera = page.locator(".field button", { hasText: "Use the camera" });
    check((await camera.count()) === 1, "camera: offered where the browser reads codes");
    await camera.tap();
    await page.waitForFunction(() => document.getElementById("specimen").value !== "");
    check((await page.inputValue("#specimen")) === whole, `camera: the whole code is taken, and no half one, found ${await page.inputValue("#specimen")}`);
    check(await stands(page.locator("video"), 0), "camera: it is off again");
    await page.context().close();
    const without = await open(PHONE, { hasTouch: true, isMobile: true, serviceWorkers: "block" });
    await without.addInitScript(() => { delete window.BarcodeDetector; });
    await without.goto(form(person, job));
    check((await without.locator("button", { hasText: "camera" }).count()) === 0, "camera: not offered where the browser cannot");
    await without.context().close();
  }

  return { drawByKeys, drawByThumb, drawOnTablet, drawWithoutScripts, withoutNetwork, carriedOut, carriedOutByKeys, readByCamera, cold };
}
