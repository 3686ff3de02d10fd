// What every page at the bed shares: entries kept on this device until the record book has them, a clock that nobody can
// move, scanners that type, and signing this device out. Pages that mark and save work without it, as plain forms.
"use strict";

window.bedside = (() => {
  const say = window.say;
  const DRAFT = "wardwright:draw:";
  const OUT = "wardwright:signed-out";
  const PAGES = "wardwright-pages";
  const V7 = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;

  const stored = {
    get(name) { try { return localStorage.getItem(name); } catch { return null; } },
    set(name, value) { try { localStorage.setItem(name, value); return true; } catch { return false; } },
    remove(name) { try { localStorage.removeItem(name); } catch { /* Nothing was kept, then. */ } },
    names(prefix) {
      try { return Object.keys(localStorage).filter((name) => name.startsWith(prefix)); } catch { return []; }
    },
  };
  const isOut = () => stored.get(OUT) !== null;

  function element(tag, text, more = {}) {
    const made = document.createElement(tag);
    if (text) made.textContent = text;
    for (const [name, value] of Object.entries(more)) {
      if (typeof value === "function") made.addEventListener(name, value); else made.setAttribute(name, value);
    }
    return made;
  }
  const button = (text, act, more = {}) => element("button", text, { type: "button", click: act, ...more });

  // An identifier as the server makes them: 48 bits of time, then chance (RFC 9562, version 7).
  function newEntry() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    let time = Date.now();
    for (let place = 5; place >= 0; place -= 1) { bytes[place] = time % 256; time = Math.floor(time / 256); }
    bytes[6] = (bytes[6] & 0x0f) | 0x70;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  // Milliseconds that go on evenly, whatever is done to the device's clock. Where the device slept, its steady clock stood
  // still: what the other clock went on by while the page was hidden is added. Where it moved while the page was seen,
  // somebody set it, and it is not believed.
  const steady = (() => {
    let [even, wall, total, moved, slept, wasHidden] = [performance.now(), Date.now(), 0, 0, 0, document.hidden];
    function now() {
      const [nextEven, nextWall] = [performance.now(), Date.now()];
      const [evenStep, wallStep] = [nextEven - even, nextWall - wall];
      const more = wallStep - evenStep;
      [even, wall] = [nextEven, nextWall];
      total += evenStep;
      if (Math.abs(more) > 1500) {
        if (wasHidden && more > 0) { total += more; slept += more; } else { moved += more; }
      }
      wasHidden = document.hidden;
      return total;
    }
    document.addEventListener("visibilitychange", () => { if (document.hidden) { now(); wasHidden = true; } else now(); });
    setInterval(now, 500);
    return { now, moved: () => { now(); return moved; }, slept: () => { now(); return slept; } };
  })();

  // The unit's local time, as the program last said it, going on by the steady clock.
  let known = null;
  function minute() {
    const offset = Number(stored.get("wardwright:clock") ?? 0);
    const at = known ? new Date(known.at + steady.now() - known.steady) : new Date(Date.now() + offset);
    const two = (n) => String(n).padStart(2, "0");
    return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
  }

  // What a form must carry now, and the unit's time. Fails where there is no network.
  async function freshKey() {
    const response = await fetch("/bedside/key", { cache: "no-store", signal: AbortSignal.timeout(4000) });
    if (!response.ok) throw new Error(String(response.status));
    const [secret, now] = (await response.text()).trim().split("\n");
    const at = new Date(now).getTime();
    known = { at, steady: steady.now() };
    if (!isOut()) stored.set("wardwright:clock", String(at - Date.now()));
    return secret;
  }

  // The entries that the record book does not have yet.
  function outbox(mode, act) {
    return new Promise((done, failed) => {
      const opening = indexedDB.open("wardwright", 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore("outbox", { keyPath: "id" });
      opening.onerror = () => failed(opening.error);
      opening.onsuccess = () => {
        const base = opening.result;
        const work = base.transaction("outbox", mode);
        const asked = act(work.objectStore("outbox"));
        work.oncomplete = () => { base.close(); done(asked?.result); };
        work.onabort = work.onerror = () => { base.close(); failed(work.error); };
      };
    });
  }
  const all = () => outbox("readonly", (store) => store.getAll());
  const put = (entry) => outbox("readwrite", (store) => store.put(entry));
  const remove = (id) => outbox("readwrite", (store) => store.delete(id));

  // Keeps an entry on this device and tries to send it. Answers "sent", "waiting" or "refused".
  async function write(fields) {
    const id = fields.find(([name]) => name === "entry")[1];
    const sent = fields.filter(([name]) => name !== "form-secret" && name !== "do");
    await put({ id, fields: sent, at: Date.now(), state: "waiting", reasons: [] });
    stored.remove(DRAFT + id);
    await flush();
    const left = (await all()).find((entry) => entry.id === id);
    return left ? left.state : "sent";
  }

  let flushing = null;
  let lastSent = 0;
  function flush() {
    flushing ??= sendAll().finally(() => { flushing = null; show(); });
    return flushing;
  }

  async function sendAll() {
    try {
      const waiting = (await all()).filter((entry) => entry.state === "waiting");
      if (waiting.length === 0) return;
      const secret = await freshKey();
      for (const entry of waiting) {
        const body = new URLSearchParams(entry.fields);
        body.set("form-secret", secret);
        body.set("do", "send");
        const response = await fetch("/observe", { method: "POST", body, signal: AbortSignal.timeout(15000) });
        const [first, ...reasons] = (await response.text()).trim().split("\n");
        const state = first.split(" ")[0];
        if (state === "recorded" || state === "already") {
          await remove(entry.id);
          lastSent += 1;
        } else if (state === "refused") {
          await put({ ...entry, state: "refused", reasons });
        } else if (response.status >= 400 && response.status < 500 && state !== "stale") {
          await put({ ...entry, state: "refused", reasons: [say("not-taken", response.status)] });
        }
      }
    } catch { /* No network, or the program is not there: it waits. */ }
  }

  const value = (entry, name) => entry.fields.find(([field]) => field === name)?.[1] ?? "";
  const about = (entry) => say("draw-of", value(entry, "drawn"), value(entry, "breakdown"), value(entry, "started"));

  // What the bedside page adds: its list of what waits, and this device.
  let bedPage = null;

  // What waits, what was refused, what is unfinished: on every page in one line, on the bedside page in full.
  async function show() {
    let entries = [];
    try { entries = await all(); } catch { /* This browser keeps nothing. */ }
    const waiting = entries.filter((entry) => entry.state === "waiting");
    const refused = entries.filter((entry) => entry.state === "refused");
    const words = [];
    if (waiting.length) words.push(say("n-waiting", waiting.length));
    if (refused.length) words.push(say("n-refused", refused.length));
    if (!waiting.length && lastSent) words.push(say("n-sent", lastSent));
    const line = document.getElementById("waiting-line");
    line.textContent = words.join(", ");
    line.parentElement.hidden = words.length === 0;
    bedPage?.list(entries);
  }

  function tools(...all) {
    const made = element("p", "", { class: "tools" });
    made.append(...all);
    return made;
  }

  // A button that asks once more.
  function twice(first, second, act) {
    const made = button(first, () => {
      if (made.dataset.asked) act();
      made.dataset.asked = "yes";
      made.textContent = second;
    }, { class: "second" });
    return made;
  }

  // Pages and files for work without network. Nothing is kept on a device that was signed out.
  async function keepReady() {
    if (isOut() || !("serviceWorker" in navigator)) return;
    try {
      await navigator.serviceWorker.register("/bedside-worker.js", { scope: "/" });
      const pages = await caches.open(PAGES);
      const wanted = document.querySelector("[data-keep-pages]")?.dataset.keepPages.split(" ") ?? [];
      for (const address of wanted) {
        const response = await fetch(`${address}&entry=${newEntry()}`);
        if (response.ok && !isOut()) await pages.put(address, response);
      }
      const here = new URL(location.href);
      const key = here.pathname + (here.searchParams.get("breakdown") ? `?breakdown=${encodeURIComponent(here.searchParams.get("breakdown"))}` : "");
      // The first page was opened before there was anybody to keep it.
      if (!here.searchParams.get("version") && !(await pages.match(key)) && document.querySelector("[data-keep]")) {
        const response = await fetch(here.href);
        if (response.ok && !response.redirected && !isOut()) await pages.put(key, response);
      }
    } catch { /* Without network there is nothing new to keep. */ }
  }

  // BEGIN the bedside page alone: other pages of the bed come without it.
  // Opens a refused entry on its form again: it becomes a draft, under a new identifier where the old one is taken.
  async function reopen(entry, id) {
    const fields = entry.fields.map(([name, old]) => [name, name === "entry" ? id : old]);
    const version = value(entry, "version");
    const draft = { about: `${value(entry, "breakdown")}|${version}`, at: Date.now(), began: null, fields };
    if (!stored.set(DRAFT + id, JSON.stringify(draft))) return;
    await remove(entry.id);
    const page = value(entry, "mode") === "carry-out" ? "/carry-out" : "/observe/new";
    location.assign(`${page}?breakdown=${encodeURIComponent(value(entry, "breakdown"))}&version=${version}&entry=${id}`);
  }

  // What waits, in full.
  function showList(entries) {
    const list = document.getElementById("waiting");
    if (!list) return;
    list.replaceChildren();
    for (const entry of entries) {
      const item = element("li", about(entry));
      if (entry.state === "refused") {
        item.append(element("p", say("refused-here"), { class: "is-fault" }));
        const reasons = element("ul");
        for (const reason of entry.reasons) reasons.append(element("li", reason));
        item.append(reasons, tools(
          button(say("change-it"), () => reopen(entry, entry.id)),
          button(say("as-new"), () => reopen(entry, newEntry())),
          twice(say("throw"), say("throw-really"), async () => { await remove(entry.id); show(); }),
        ));
      } else {
        item.append(element("p", say("waits"), { class: "note" }));
      }
      list.append(item);
    }
    for (const name of stored.names(DRAFT)) {
      let draft = null;
      try { draft = JSON.parse(stored.get(name)); } catch { continue; }
      const entry = { fields: draft.fields };
      const id = name.slice(DRAFT.length);
      const page = value(entry, "mode") === "carry-out" ? "/carry-out" : "/observe/new";
      const address = `${page}?breakdown=${encodeURIComponent(value(entry, "breakdown"))}&version=${value(entry, "version")}&entry=${id}`;
      const item = element("li", say("unfinished", about(entry)) + " ");
      item.append(tools(element("a", say("go-on-with"), { href: address, class: "go" }),
        twice(say("throw"), say("throw-really"), () => { stored.remove(name); show(); })));
      list.append(item);
    }
    if (!list.children.length) list.append(element("li", say("nothing-waits")));
  }

  async function signOut() {
    stored.set(OUT, "yes");
    try {
      const workers = await navigator.serviceWorker.getRegistrations();
      await Promise.all(workers.map((worker) => worker.unregister()));
      for (const name of await caches.keys()) if (name.startsWith("wardwright-")) await caches.delete(name);
    } catch { /* Then there is none. */ }
    for (const name of stored.names("wardwright:")) if (name !== OUT) stored.remove(name);
    await new Promise((done) => {
      const gone = indexedDB.deleteDatabase("wardwright");
      gone.onsuccess = gone.onerror = gone.onblocked = done;
    });
    location.replace("/bedside?signed-out");
  }

  async function device() {
    const place = document.getElementById("device");
    if (!place) return;
    if (isOut()) {
      place.replaceChildren(
        element("p", say("is-out")),
        button(say("use-device"), () => { stored.remove(OUT); location.replace("/bedside"); }),
      );
      return;
    }
    const count = (await all().catch(() => [])).length + stored.names("wardwright:").filter((name) => name !== "wardwright:clock").length;
    const warn = count ? " " + say("out-loses", count) : "";
    place.replaceChildren(
      element("p", say("device-keeps") + warn),
      twice(say("out"), say(count ? "out-remove" : "out-really"), signOut),
    );
  }

  bedPage = { list: showList, device };
  // END the bedside page alone.

  // Most milliseconds between two signs of a scanner, and least between two keys of a hand; common practice, no source.
  const FAST_MS = 90;

  // A scanner types fast and ends with Enter. Single keys go on to `key`; a stream that stops short is half a code.
  function keys({ key, scan, half }) {
    let held = [];
    let last = 0;
    let timer = null;
    const typing = (target) => target.closest?.("textarea, select, input:not([type=radio]):not([type=checkbox])");
    function release() {
      clearTimeout(timer);
      const events = held;
      held = [];
      if (events.length >= 4) half(events.map((event) => event.key).join("")); else events.forEach((event) => key(event));
    }
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || typing(event.target)) return;
      const gap = event.timeStamp - last;
      last = event.timeStamp;
      if (event.key.length === 1 && event.key !== " ") {
        if (held.length && gap > FAST_MS) release();
        held.push(event);
        event.preventDefault();
        clearTimeout(timer);
        timer = setTimeout(release, held.length > 1 ? 2 * FAST_MS : FAST_MS);
      } else if (event.key === "Enter" && held.length >= 4 && gap < 2 * FAST_MS) {
        clearTimeout(timer);
        const code = held.map((each) => each.key).join("");
        held = [];
        event.preventDefault();
        event.stopPropagation();
        scan(code);
      } else if (event.key !== "Shift") {
        if (held.length) release();
        key(event);
      }
    }, true);
  }

  // What a code looks like beside the laboratory's own: letters as A, digits as 9.
  function look(code, shapes) {
    const shape = code.replace(/\p{L}/gu, "A").replace(/\d/g, "9");
    if (shapes.length === 0 || shapes.includes(shape)) return "fits";
    return shapes.some((each) => each.startsWith(shape)) ? "half" : "other";
  }

  document.addEventListener("DOMContentLoaded", async () => {
    const saved = document.querySelector("[data-saved]");
    if (saved) {
      stored.remove(DRAFT + saved.dataset.saved);
      await remove(saved.dataset.saved).catch(() => {});
    }
    show();
    bedPage?.device();
    freshKey().then(flush).catch(() => {});
    keepReady();
  });
  window.addEventListener("online", flush);
  setInterval(() => { if (!document.hidden) flush(); }, 20000);
  document.getElementById("send-now")?.addEventListener("click", flush);

  return { DRAFT, V7, say, stored, element, button, twice, tools, newEntry, steady, minute, freshKey, write, flush, keys, look, isOut };
})();
