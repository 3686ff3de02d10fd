// Makes the teach-back form quick: a key for each mark, order and time by themselves, a draft on this device. Where marks
// are decided on a transcript, Enter takes what is proposed, and times are the transcript's.
// Without it the form still works; the server checks and keeps everything.
"use strict";

(() => {
  const say = window.say;
  const PREFIX = "wardwright:teach-back:";
  const KEYS = { u: "unprompted", p: "prompted", l: "led", a: "partial", m: "missed", w: "wrong", s: "unsafe", Enter: "unprompted" };
  const saved = document.querySelector("[data-saved]");
  if (saved) forget(PREFIX + saved.dataset.saved);
  const form = document.querySelector("form.pass");
  if (!form) return;

  const key = PREFIX + form.dataset.draft;
  const isLive = form.dataset.mode !== "transcript";
  if (!isLive) KEYS.n = "not-judged";
  const kept = document.getElementById("kept");
  const judged = document.getElementById("judged");
  const elapsed = document.getElementById("elapsed");
  const items = [...form.querySelectorAll(".said[data-item]")];
  const orders = [...form.querySelectorAll(".said[data-first]")];
  let startedAt = null;

  const radios = (group) => [...group.querySelectorAll("input[type=radio]")];
  const chosen = (group) => radios(group).find((radio) => radio.checked)?.value ?? "";
  const time = (group) => group.querySelector("input[type=hidden]");

  function forget(name) {
    try { localStorage.removeItem(name); } catch { /* Nothing was kept, then. */ }
  }

  function choose(group, value) {
    const radio = radios(group).find((each) => each.value === value);
    if (radio) radio.checked = true;
    else if (value === "") for (const each of radios(group)) each.checked = false;
    else return;
    changed(group);
  }

  // What happens after a mark was given or taken away.
  function changed(group) {
    if (group.dataset.item && isLive) {
      const value = chosen(group);
      const at = time(group);
      if (startedAt === null && value !== "") { startedAt = Date.now(); tick(); }
      if (value === "" || value === "missed") at.value = "";
      else if (at.value === "") at.value = ((Date.now() - startedAt) / 1000).toFixed(1);
      followTheClock();
    } else if (!group.dataset.item) {
      group.dataset.byHand = "yes";
    }
    show();
    keep();
  }

  // A binding order follows from the times of its two marks, unless somebody has said otherwise.
  function followTheClock() {
    if (!isLive) return;
    for (const order of orders) {
      if (order.dataset.byHand) continue;
      const [first, then] = [order.dataset.first, order.dataset.then].map((item) => {
        const group = items.find((each) => each.dataset.item === item);
        return group && time(group).value !== "" ? Number(time(group).value) : null;
      });
      const heard = first === null || then === null ? "" : then < first ? "turned" : "kept";
      const radio = radios(order).find((each) => each.value === heard);
      if (radio) radio.checked = true;
    }
  }

  function show() {
    const marked = items.filter((item) => chosen(item) !== "");
    const unsafe = items.filter((item) => chosen(item) === "unsafe" || (chosen(item) === "wrong" && item.classList.contains("is-safety")));
    const turned = orders.filter((order) => chosen(order) === "turned");
    judged.textContent = say(isLive ? "n-judged" : "n-decided", marked.length, items.length);
    if (!isLive) showSure();
    for (const item of items) item.classList.toggle("is-marked", chosen(item) !== "");
    for (const order of orders) order.classList.toggle("is-turned", chosen(order) === "turned");
    let words = "";
    if (unsafe.length > 0) words = say("unsafe", unsafe.map((item) => item.dataset.item).join(", ")) + " ";
    if (turned.length > 0) words += say("turned", turned.map((order) => say("before", order.dataset.then, order.dataset.first)).join(", "));
    const alarm = document.getElementById("alarm");
    if (alarm.textContent !== words) alarm.textContent = words;
    alarm.hidden = words === "";
  }

  // Items that may be confirmed together, and nobody has decided on yet.
  const sureOnes = () => items.filter((item) => item.dataset.sure !== undefined && chosen(item) === "");

  function showSure() {
    const button = document.getElementById("take-sure");
    if (!button) return;
    const left = sureOnes().length;
    document.getElementById("n-sure").textContent = left;
    button.hidden = left === 0;
  }

  document.getElementById("take-sure")?.addEventListener("click", (event) => {
    event.preventDefault();
    for (const item of sureOnes()) radios(item).find((radio) => radio.value === item.dataset.proposed).checked = true;
    show();
    keep();
  });

  function tick() {
    if (!isLive) return;
    if (startedAt === null) { elapsed.textContent = say("clock-starts"); return; }
    const seconds = Math.max(0, Math.round((Date.now() - startedAt) / 1000));
    elapsed.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  }

  function keep() {
    const values = [...form.elements]
      .filter((field) => field.name && (field.type === "radio" || field.type === "checkbox" ? field.checked : field.type !== "submit" && field.name !== "form-secret"))
      .map((field) => [field.name, field.value]);
    const byHand = orders.filter((order) => order.dataset.byHand).map((order) => order.dataset.first + "|" + order.dataset.then);
    try {
      localStorage.setItem(key, JSON.stringify({ about: form.dataset.about, at: Date.now(), startedAt, byHand, values }));
    } catch {
      kept.textContent = say("no-draft");
    }
  }

  function restore() {
    let draft = null;
    try { draft = JSON.parse(localStorage.getItem(key) ?? "null"); } catch { /* A draft that cannot be read is no draft. */ }
    if (!draft || draft.about !== form.dataset.about) { offerOther(); return; }
    startedAt = draft.startedAt;
    // Of what was taken away, nothing was written down: nothing is marked but what the draft says.
    if (!isLive) for (const item of items) for (const radio of radios(item)) radio.checked = false;
    for (const [name, value] of draft.values) {
      for (const field of form.elements) {
        if (field.name !== name || field.type === "submit") continue;
        if (field.type === "checkbox") field.checked = true;
        else if (field.type === "radio") field.checked = field.value === value;
        else if (field.type !== "hidden" || name.startsWith("at-")) field.value = value;
      }
    }
    for (const order of orders) {
      if (draft.byHand.includes(order.dataset.first + "|" + order.dataset.then)) order.dataset.byHand = "yes";
    }
    offer(say("restored", clock(draft.at)), say("throw-draft"), () => {
      forget(key);
      location.reload();
    });
  }

  // Another pass of the same person and job that was begun here and never saved.
  function offerOther() {
    try {
      for (let place = 0; place < localStorage.length; place += 1) {
        const name = localStorage.key(place);
        if (!name.startsWith(PREFIX) || name === key) continue;
        const other = JSON.parse(localStorage.getItem(name));
        if (!isLive || other?.about !== form.dataset.about || other.startedAt === null) continue;
        offer(say("other-pass", clock(other.startedAt)), say("go-on-with"), () => {
          const address = new URL(location.href);
          address.searchParams.set("entry", name.slice(PREFIX.length));
          location.assign(address);
        });
        const drop = document.createElement("button");
        drop.type = "button";
        drop.textContent = say("throw");
        drop.addEventListener("click", () => { forget(name); kept.textContent = say("gone"); });
        kept.append(" ", drop);
        return;
      }
    } catch { /* Nothing to offer. */ }
  }

  function offer(words, label, act) {
    kept.textContent = words + " ";
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", act);
    kept.append(button);
  }

  const clock = (at) => new Date(at).toLocaleTimeString(say("locale"), { hour: "2-digit", minute: "2-digit" });

  function go(group, by) {
    const all = [...form.querySelectorAll(".said")];
    const next = all[all.indexOf(group) + by];
    if (!next) return;
    const radio = radios(next).find((each) => each.checked) ?? radios(next)[0];
    radio.focus({ preventScroll: true });
    next.scrollIntoView({ block: "center", behavior: "auto" });
  }

  form.addEventListener("keydown", (event) => {
    const group = event.target.closest?.(".said");
    if (!group || event.target.type !== "radio" || event.ctrlKey || event.altKey || event.metaKey) return;
    const pressed = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (pressed === "ArrowDown" || pressed === "ArrowUp") {
      go(group, pressed === "ArrowDown" ? 1 : -1);
    } else if (pressed === "Backspace" || pressed === "Delete") {
      choose(group, "");
      (radios(group).find((radio) => radio.checked) ?? radios(group)[0]).focus();
    } else if (group.dataset.item && KEYS[pressed]) {
      choose(group, pressed === "Enter" ? group.dataset.proposed ?? KEYS.Enter : KEYS[pressed]);
      go(group, 1);
    } else if (pressed === "Enter") {
      go(group, 1);
    } else {
      return;
    }
    event.preventDefault();
  });

  // A second tap on a mark takes it away. The state before the tap is known only when the finger goes down.
  let wasChosen = null;
  form.addEventListener("pointerdown", (event) => {
    const radio = event.target.closest?.(".choice")?.querySelector("input");
    wasChosen = radio?.checked && radio.value !== "" ? radio : null;
  });
  form.addEventListener("click", (event) => {
    const group = event.target.closest?.(".said");
    if (group && event.target.type === "radio" && event.target === wasChosen) choose(group, "");
    if (event.target.type === "radio") wasChosen = null;
  });
  form.addEventListener("change", (event) => {
    const group = event.target.closest?.(".said");
    if (group) changed(group); else keep();
  });
  form.addEventListener("input", (event) => { if (event.target.type !== "radio") keep(); });

  restore();
  followTheClock();
  show();
  tick();
  setInterval(tick, 1000);
})();
