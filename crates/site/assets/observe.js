// Makes the form of a draw quick: a key or a tap for each mark, a clock, a draft on this device, scanners that type, and
// saving that does not need a network. Without it the form is a plain one, which the server checks and keeps.
"use strict";

window.drawForm = (() => {
  const { DRAFT, V7, say, stored, element, button, newEntry, steady, minute, freshKey, write, keys, look } = window.bedside;
  const KEYS = { d: "done", p: "prompt", w: "wrong", m: "missed", n: "none", Enter: "done" };
  const decide = document.querySelector("form.decide[data-entry]");
  if (decide) decideHere();
  const form = document.querySelector("form.draw");
  if (!form) return null;

  const get = (name) => form.elements.namedItem(name);
  const kept = document.getElementById("kept");
  const points = [...form.querySelectorAll(".said[data-item]")];
  const steps = [...form.querySelectorAll("[data-step]")];
  const shapes = form.dataset.shapes ? form.dataset.shapes.split("\n") : [];
  const carry = form.dataset.mode === "carry-out";
  const together = new Set(get("together").value.split(" ").filter(Boolean));
  // When the draw began on the steady clock, and what a draft had counted before this page was opened.
  let began = null;
  let ended = get("lasted").value !== "" ? Number(get("lasted").value) : null;
  let id = fitEntry();

  // A page that was kept for work without network holds the entry and the person of another draw.
  function fitEntry() {
    const asked = new URL(location.href).searchParams;
    const wanted = asked.get("entry") ?? "";
    const own = get("entry").value;
    // A form that was sent and came back has no entry in its address.
    if (form.dataset.fresh === undefined || (wanted === own)) return own;
    const entry = V7.test(wanted) ? wanted : newEntry();
    get("entry").value = entry;
    const address = new URL(location.href);
    address.searchParams.set("entry", entry);
    history.replaceState(null, "", address);
    get("drawn").value = asked.get("person") ?? "";
    get("watched").value = asked.get("watched") ?? "";
    get("started").value = minute();
    return entry;
  }

  const radios = (group) => [...group.querySelectorAll("input[type=radio]")];
  const chosen = (group) => radios(group).find((radio) => radio.checked)?.value ?? "";
  const isSafety = (group) => group.classList.contains("is-safety");
  const text = (group) => group.querySelector(".what bdi").textContent;
  const clock = (at) => new Date(at).toLocaleTimeString(say("locale"), { hour: "2-digit", minute: "2-digit" });
  const figure = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;
  const elapsed = () => (began === null ? null : (steady.now() - began) / 1000);

  function start() {
    if (began !== null) return;
    began = steady.now();
    ended = null;
    get("started").value = minute();
    show();
    keep();
  }

  function end() {
    if (began === null || ended !== null) return;
    ended = Math.round(elapsed());
    get("lasted").value = String(ended);
    const moved = Math.round(steady.moved() / 1000);
    get("moved").value = moved === 0 ? "" : String(moved);
    show();
    keep();
  }

  function goOn() {
    ended = null;
    get("lasted").value = "";
    show();
  }

  // The step began with its first mark, or when it was led to.
  function stepBegan(step) {
    const field = get(`began-${step}`);
    if (began !== null && ended === null && field && field.value === "") field.value = String(Math.round(elapsed()));
  }

  function choose(group, value) {
    const radio = radios(group).find((each) => each.value === value);
    if (!radio) return;
    radio.checked = true;
    changed(group);
  }

  function changed(group) {
    together.delete(group.dataset.item);
    group.classList.remove("is-together");
    if (began === null && !carry && chosen(group) !== "") start();
    stepBegan(group.closest("[data-step]").dataset.step);
    show();
    keep();
  }

  function show() {
    const marked = points.filter((point) => chosen(point) !== "");
    document.getElementById("judged").firstChild.textContent = say("of", marked.length, points.length);
    for (const point of points) point.classList.toggle("is-marked", chosen(point) !== "");
    for (const point of points) point.classList.toggle("is-together", together.has(point.dataset.item));
    get("together").value = [...together].join(" ");
    const missed = points.filter((point) => isSafety(point) && ["missed", "wrong"].includes(chosen(point)));
    alarm(missed.length ? say("safety-missed", missed.map((point) => point.dataset.item).join(", ")) : "");
    const who = get("watched").selectedOptions[0]?.dataset.against;
    const against = document.getElementById("against");
    against.textContent = who ? say("does-not-count", who) : "";
    against.hidden = !who;
    const from = get("from").value;
    get("why").closest(".field").hidden = from !== "cannula" && from !== "line";
    if (clockButton) clockButton.textContent = say(began === null ? "start" : ended === null ? "end" : "go-on");
    tick();
  }

  function alarm(words) {
    const place = document.getElementById("alarm");
    if (place.textContent !== words) place.textContent = words;
    place.hidden = words === "";
  }

  function tick() {
    const seconds = ended ?? elapsed();
    document.getElementById("elapsed").textContent = seconds === null ? "" : figure(seconds);
  }

  // A draft: everything the form would send, and how far its clock is.
  const fields = () => [...new FormData(form)].filter(([name]) => name !== "form-secret" && name !== "rest");
  function keep() {
    const draft = { about: form.dataset.about, at: Date.now(), began: elapsed(), fields: fields() };
    if (!stored.set(DRAFT + id, JSON.stringify(draft))) {
      kept.textContent = say("no-draft");
    }
  }

  function fill(list) {
    const last = new Map(list);
    for (const field of form.elements) {
      if (!field.name || field.name === "form-secret" || field.name === "entry" || field.type === "submit") continue;
      if (field.type === "radio") field.checked = field.value === (last.get(field.name) ?? "");
      else if (field.type === "checkbox") field.checked = list.some(([name, value]) => name === field.name && value === field.value);
      else if (last.has(field.name)) field.value = last.get(field.name);
    }
    together.clear();
    for (const item of (last.get("together") ?? "").split(" ").filter(Boolean)) together.add(item);
    ended = get("lasted").value !== "" ? Number(get("lasted").value) : null;
  }

  function restore() {
    let draft = null;
    try { draft = JSON.parse(stored.get(DRAFT + id) ?? "null"); } catch { /* A draft that cannot be read is no draft. */ }
    if (!draft || draft.about !== form.dataset.about) { offerOther(); return; }
    // A form that came back from the server shows what was sent; only a fresh one is behind the draft.
    if (form.dataset.fresh !== undefined) fill(draft.fields);
    // Between then and now there is only the clock of the device.
    if (draft.began !== null) began = steady.now() - draft.began * 1000 - Math.max(0, Date.now() - draft.at);
    if (form.dataset.fresh === undefined) return;
    kept.replaceChildren(say("restored", clock(draft.at)) + " ",
      button(say("throw-draft"), () => { stored.remove(DRAFT + id); location.reload(); }));
  }

  function offerOther() {
    for (const name of stored.names(DRAFT)) {
      let other = null;
      try { other = JSON.parse(stored.get(name)); } catch { continue; }
      if (name === DRAFT + id || other?.about !== form.dataset.about) continue;
      kept.replaceChildren(say("other-draw", clock(other.at)) + " ",
        button(say("go-on-with"), () => {
          const address = new URL(location.href);
          address.searchParams.set("entry", name.slice(DRAFT.length));
          location.assign(address);
        }), " ",
        button(say("throw"), () => { stored.remove(name); kept.textContent = say("gone"); }));
      return;
    }
  }

  // Marks what is left as done, after a look at the list of it: safety points by name and shape.
  function offerRest() {
    const place = document.getElementById("rest-look");
    const open = button(say("mark-rest"), () => {
      const left = points.filter((point) => chosen(point) === "");
      if (left.length === 0) { place.replaceChildren(open, element("p", say("all-marked"), { class: "note", role: "status" })); return; }
      const list = element("ul", "", { class: "points" });
      left.sort((one, other) => Number(isSafety(other)) - Number(isSafety(one)));
      for (const point of left) {
        const item = element("li");
        item.append(element("span", point.dataset.item, { class: "item" }));
        if (isSafety(point)) item.append(point.querySelector(".safety").cloneNode(true), " ");
        item.append(text(point));
        list.append(item);
      }
      const confirm = button(say("saw-all", left.length), () => {
        for (const point of left) {
          radios(point).find((radio) => radio.value === "done").checked = true;
          together.add(point.dataset.item);
        }
        place.replaceChildren(open, element("p", say("marked-together", left.length), { class: "note", role: "status" }));
        show();
        keep();
        document.getElementById("save").focus();
      });
      const heading = element("p", say("ask-rest"), { tabindex: "-1" });
      place.replaceChildren(heading, list, window.bedside.tools(confirm, button(say("by-myself"), () => place.replaceChildren(open), { class: "second" })));
      heading.focus();
    }, { class: "wide" });
    place.replaceChildren(open);
  }

  function scanned(code) {
    const hint = document.getElementById("specimen-hint");
    const field = get("specimen");
    const fits = look(code, shapes);
    if (fits === "fits") {
      field.value = code;
      hint.textContent = "";
      keep();
    } else {
      const words = say(fits === "half" ? "half-code" : "other-code", code, shapes[0]);
      hint.replaceChildren(words + " ", button(say("keep-it"), () => { field.value = code; hint.textContent = ""; keep(); }, { class: "second" }));
    }
    return fits;
  }

  // The camera, where the browser can read codes with it. Its own file is fetched only there.
  function cameraButtons(place, take) {
    if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return [];
    let closed = true;
    const words = element("p", "", { class: "note", role: "status" });
    const stop = () => { closed = true; };
    const open = button(say("camera"), async () => {
      if (!closed) { stop(); return; }
      closed = false;
      open.textContent = say("camera-stop");
      place.append(words);
      try {
        const { read } = await import(form.dataset.camera);
        const code = await read((said, video) => {
          words.textContent = said;
          if (video) words.before(video);
        }, () => closed || !open.isConnected);
        if (code !== null) { words.textContent = say("camera-read", code.length); take(code); }
      } catch { words.textContent = say("camera-fails"); }
      closed = true;
      open.textContent = say("camera");
    }, { class: "second" });
    return [open];
  }

  function go(group, by) {
    const shown = points.filter((point) => point.offsetParent !== null);
    const next = shown[shown.indexOf(group) + by];
    if (!next) {
      if (by > 0 && !carry) document.querySelector("#rest-look button").focus();
      return;
    }
    (radios(next).find((radio) => radio.checked) ?? radios(next)[0]).focus({ preventScroll: true });
    next.scrollIntoView({ block: "center", behavior: "auto" });
  }

  function onKey(event) {
    const group = event.target.closest?.(".said[data-item]");
    if (!group || event.target.type !== "radio") { api.otherKey?.(event); return; }
    const pressed = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (pressed === "ArrowDown" || pressed === "ArrowUp") go(group, pressed === "ArrowDown" ? 1 : -1);
    else if (pressed === "Backspace" || pressed === "Delete") choose(group, "");
    else if (KEYS[pressed]) { choose(group, KEYS[pressed]); go(group, 1); }
    else { api.otherKey?.(event); return; }
    event.preventDefault();
  }

  // A second tap on a mark takes it away.
  let wasChosen = null;
  form.addEventListener("pointerdown", (event) => {
    const radio = event.target.closest?.(".choice")?.querySelector("input");
    wasChosen = radio?.checked && radio.value !== "" ? radio : null;
  });
  form.addEventListener("click", (event) => {
    const group = event.target.closest?.(".said[data-item]");
    if (group && event.target.type === "radio" && event.target === wasChosen) choose(group, "");
    if (event.target.type === "radio") wasChosen = null;
  });
  form.addEventListener("change", (event) => {
    const group = event.target.closest?.(".said[data-item]");
    if (group) { changed(group); return; }
    if (event.target.name === "specimen" && event.target.value) scanned(event.target.value.trim());
    show();
    keep();
  });
  form.addEventListener("input", (event) => { if (event.target.type !== "radio") keep(); });
  // Enter in a field is the end of a scan or a slip, never the end of the draw.
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("input:not([type=radio]):not([type=checkbox])")) {
      event.preventDefault();
      event.target.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });

  function whatIsMissing() {
    if (get("drawn").value === "") return ["drawn", say("who-drew")];
    if (get("watched").value === "") return ["watched", say("who-watched")];
    if (get("watched").value === get("drawn").value) return ["watched", say("not-own")];
    if (!points.some((point) => chosen(point) !== "")) return ["rest", say("none-marked")];
    return null;
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const missing = whatIsMissing();
    if (missing) {
      api.showAll?.();
      alarm(missing[1]);
      document.getElementById(missing[0])?.focus();
      return;
    }
    keep();
    const save = document.getElementById("save");
    save.disabled = true;
    try {
      get("form-secret").value = await freshKey();
      const word = element("input", "", { type: "hidden", name: "do" });
      word.value = "summary";
      form.append(word);
      form.submit();
    } catch {
      save.disabled = false;
      const here = button(say("send-later"), () => saveHere(fields(), alarm));
      const place = document.getElementById("alarm");
      place.replaceChildren(say("no-network") + " ", here);
      place.hidden = false;
      here.focus();
    }
  });

  const clockButton = carry ? null : button(say("start"), () => { if (began === null) start(); else if (ended === null) end(); else goOn(); }, { id: "clock", class: "second" });
  if (clockButton) document.getElementById("judged").before(clockButton);
  keys({
    key: onKey,
    scan: (code) => (api.scan ? api.scan(code) : scanned(code)),
    half: (code) => {
      const words = say("cut-code", code);
      if (api.half) api.half(words); else document.getElementById("specimen-hint").textContent = words;
    },
  });
  const api = { cameraButtons, form, get, points, steps, start, end, stepBegan, elapsed, keep, scanned, show, alarm, figure, isBegun: () => began !== null };
  restore();
  offerRest();
  const specimen = get("specimen").closest(".field");
  specimen.append(...cameraButtons(specimen, scanned));
  show();
  setInterval(tick, 500);
  window.addEventListener("pagehide", () => { if (began !== null && stored.get(DRAFT + id)) keep(); });
  return api;

  // Writes the entry on this device first, then sends it.
  async function saveHere(list, tell) {
    const entry = list.find(([name]) => name === "entry")[1];
    try {
      const state = await write(list);
      location.assign(state === "sent" ? `/observe/${entry}` : "/bedside");
    } catch {
      tell(say("keeps-nothing"));
    }
  }

  // The page on which everything is looked over once more.
  function decideHere() {
    decide.addEventListener("submit", (event) => {
      if (event.submitter?.value !== "save") return;
      event.preventDefault();
      event.submitter.disabled = true;
      const fail = (words) => { decide.querySelector(".note").textContent = words; event.submitter.disabled = false; };
      saveHere([...new FormData(decide)], fail);
    });
  }
})();
