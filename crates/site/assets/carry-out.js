// Leads through a draw one step at a time: contact and drying times that can be heard and seen from afar, when to stop one
// tap away, wristband and label held against each other on this device and nowhere else.
"use strict";

(() => {
  const draw = window.drawForm;
  if (!draw) return;
  const { say, element, button, tools, steady } = window.bedside;
  const { form, steps, get } = draw;
  const bar = form.querySelector(".bar");
  const LEAD_S = 5;
  let at = -1;
  let running = null;
  let turn = null;
  let sound = null;

  // Sound: made here, so that nothing has to be fetched. Ends are put on the sound's own clock, so they are in time also
  // while the page lies behind another.
  function audio() {
    try { sound ??= new AudioContext(); sound.resume(); } catch { sound = null; }
    return sound;
  }
  function beep(inS, pitches, longS = 0.18) {
    if (!sound) return [];
    return pitches.map((pitch, place) => {
      const tone = sound.createOscillator();
      const loud = sound.createGain();
      const when = sound.currentTime + inS + place * (longS + 0.1);
      tone.frequency.value = pitch;
      loud.gain.setValueAtTime(0, when);
      loud.gain.linearRampToValueAtTime(0.5, when + 0.01);
      loud.gain.setValueAtTime(0.5, when + longS - 0.02);
      loud.gain.linearRampToValueAtTime(0, when + longS);
      tone.connect(loud).connect(sound.destination);
      tone.start(when);
      tone.stop(when + longS);
      return tone;
    });
  }

  // The screen: what is to be done now, and a figure that can be read from two metres.
  const stage = element("section", "", { class: "stage", "aria-label": say("time"), hidden: "" });
  const what = element("p", "", { class: "stage-what", role: "status" });
  const big = element("p", "", { class: "stage-figure", "aria-hidden": "true" });
  const under = element("p", "", { class: "stage-under" });
  const startNow = button(say("start-time"), () => startOwn(), { class: "start-now" });
  startNow.hidden = true;
  stage.append(what, big, startNow, under);

  const timers = [...form.querySelectorAll(".timer")].map((place) => ({
    place,
    what: place.dataset.what,
    seconds: Number(place.dataset.seconds),
    byItself: place.dataset.byItself !== undefined,
    follows: place.dataset.follows !== undefined,
    step: Number(place.closest("[data-step]").dataset.step),
    passed: false,
  }));
  for (const timer of timers) {
    timer.button = button(say("start"), () => begin(timer), { class: "second", "aria-label": say("start-of", timer.what, timer.seconds) });
    timer.place.append(" ", timer.button);
  }

  const after = (timer) => {
    const next = timers[timers.indexOf(timer) + 1];
    return timers.includes(timer) && next?.follows && next.step === timer.step ? next : null;
  };

  function begin(timer, leadS = 0) {
    audio();
    cancel();
    const from = steady.now() + leadS * 1000;
    // The ends of all times that follow one another are put on the sound's clock at once.
    const tones = [];
    let inS = leadS;
    for (let each = timer; each; each = after(each)) {
      inS += each.seconds;
      tones.push(...beep(inS, each.follows ? [660, 660, 880] : [880, 880]));
    }
    if (leadS) beep(0, [440]);
    run(timer, from, tones);
    if (leadS) what.textContent = say("get-ready", timer.what);
    tick();
  }

  function run(timer, from, tones) {
    running = { timer, from, tones, isSaid: from <= steady.now() };
    startNow.hidden = true;
    what.textContent = say("runs", timer.what, timer.seconds);
    stage.hidden = false;
  }

  function cancel() {
    for (const tone of running?.tones ?? []) try { tone.stop(); } catch { /* It has ended. */ }
    running = null;
  }

  function passed() {
    const { timer, from, tones } = running;
    const ended = from + timer.seconds * 1000;
    running = null;
    timer.passed = true;
    timer.button.textContent = say("again");
    // Drying begins where contact ends, also where this page was asleep then: nobody has to touch anything.
    const next = after(timer);
    if (next) { run(next, ended, tones); tick(); return; }
    what.textContent = say("passed", timer.what);
    big.textContent = "✓";
    if (handsFree() && timer.byItself) turn = { from: steady.now(), seconds: 3 };
  }

  function tick() {
    const now = steady.now();
    if (running) {
      const gone = (now - running.from) / 1000;
      const left = running.timer.seconds - Math.max(0, gone);
      if (left <= 0) passed();
      else {
        if (gone >= 0 && !running.isSaid) {
          running.isSaid = true;
          what.textContent = say("runs", running.timer.what, running.timer.seconds);
        }
        big.textContent = String(Math.ceil(gone < 0 ? -gone : left));
      }
    } else if (turn && handsFree()) {
      const left = turn.seconds - (now - turn.from) / 1000;
      if (left <= 0) { turn = null; if (at < labelStep) go(at + 1); }
      else if (!big.textContent.includes("✓")) big.textContent = String(Math.ceil(left));
    }
    const moved = Math.round(steady.moved() / 1000);
    const slept = Math.round(steady.slept() / 1000);
    const words = [];
    if (moved) words.push(say("moved", moved));
    if (slept) words.push(say("slept", slept));
    if (under.textContent !== words.join(" ")) under.textContent = words.join(" ");
  }

  // The time of this step that has not passed yet, or its first once more.
  function startOwn() {
    const own = timers.filter((timer) => timer.step === at + 1 && timer.byItself);
    const next = own.find((timer) => !timer.passed) ?? own[0];
    if (next) begin(next);
  }

  // The step in which something is labelled: there hands are free again, and the leading waits.
  const labelStep = (() => {
    const found = steps.findIndex((step) => /label/i.test(step.querySelector("h2").textContent));
    return found < 0 ? steps.length - 1 : found;
  })();

  function go(to) {
    cancel();
    turn = null;
    at = Math.max(0, Math.min(steps.length, to));
    draw.start();
    form.classList.add("is-led");
    if (at === steps.length) { draw.end(); }
    const shown = steps[at];
    for (const part of form.querySelectorAll(".part")) {
      part.hidden = at === steps.length ? part.dataset.step !== undefined || part.contains(document.getElementById("stops")) : part !== shown;
    }
    stage.hidden = at === steps.length;
    next.textContent = say(at === steps.length - 1 ? "done" : "next");
    next.hidden = at === steps.length;
    back.hidden = at === 0;
    document.getElementById("save").hidden = at !== steps.length;
    what.textContent = "";
    big.textContent = "";
    if (shown) {
      draw.stepBegan(shown.dataset.step);
      const own = timers.filter((timer) => timer.step === Number(shown.dataset.step) && timer.byItself && !timer.passed);
      big.textContent = own.length ? String(own[0].seconds) : "";
      if (own.length) what.textContent = say("at-least", own[0].what, own[0].seconds);
      startNow.hidden = own.length === 0;
      if (handsFree() && own.length) begin(own[0], LEAD_S);
      else if (handsFree() && at < labelStep && at > 0) turn = { from: steady.now(), seconds: Number(pace.value) };
      stage.hidden = own.length === 0 && !handsFree();
      const heading = shown.querySelector("h2");
      heading.tabIndex = -1;
      heading.focus({ preventScroll: true });
    }
    window.scrollTo(0, 0);
    draw.keep();
  }

  const next = button(say("next"), () => go(at + 1), { class: "next-step" });
  const back = button(say("back"), () => go(at - 1), { class: "second" });
  next.hidden = back.hidden = true;
  document.getElementById("save").before(back, next);

  // When to stop: each rule is a button that is there on every step.
  const dialog = element("dialog", "", { class: "stop-dialog", "aria-label": say("when-to-stop") });
  document.body.append(dialog);
  const stops = element("div", "", { class: "stop-buttons", role: "group", "aria-label": say("when-to-stop") });
  const articles = [...form.querySelectorAll("article.stop")];
  for (const article of articles) stops.append(button(article.dataset.button, () => stop(article), { class: "stop-button" }));
  bar.prepend(stops);

  function stop(article) {
    const copy = article.cloneNode(true);
    const pressing = article.dataset.press ? { what: say("pressing"), seconds: Number(article.dataset.press), button: {} } : null;
    dialog.replaceChildren(copy, tools(
      button(say("stopped"), () => {
        get("stopped").value = article.dataset.stop;
        dialog.close();
        go(steps.length);
      }),
      ...(pressing ? [button(say("time-pressing", pressing.seconds / 60), () => { dialog.close(); begin(pressing); })] : []),
      button(say("go-on-draw"), () => dialog.close(), { class: "second" }),
    ));
    dialog.showModal();
  }

  // Wristband and label: both codes live in this function and nowhere else.
  let expecting = null;
  function compare() {
    let band = null;
    const words = element("p", say("scan-band"), { role: "status", class: "stage-what" });
    const typed = element("input", "", { type: "password", autocomplete: "off", "aria-label": say("code"), class: "code" });
    const take = (code) => {
      const clean = code.replace(/\s+/g, "");
      typed.value = "";
      if (clean === "") return;
      if (band === null) { band = clean; words.textContent = say("scan-label"); typed.focus(); return; }
      const same = band === clean;
      band = null;
      words.textContent = say(same ? "same" : "differ");
      dialog.classList.toggle("is-different", !same);
      again.hidden = false;
      again.focus();
    };
    const again = button(say("compare-again"), compare, { class: "second", hidden: "" });
    typed.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); take(typed.value); } });
    dialog.classList.remove("is-different");
    dialog.replaceChildren(
      element("h3", say("band-and-label")), words, typed,
      tools(button(say("take"), () => take(typed.value)), ...draw.cameraButtons(dialog, take), again, button(say("close"), () => dialog.close(), { class: "second" })),
      element("p", say("codes-stay"), { class: "note" }),
    );
    expecting = { take, half: (said) => { words.textContent = said; } };
    if (!dialog.open) dialog.showModal();
    typed.focus();
  }
  dialog.addEventListener("close", () => { expecting = null; dialog.replaceChildren(); dialog.classList.remove("is-different"); });
  bar.querySelector(".stop-buttons").append(button(say("band-label"), compare, { class: "second" }));

  draw.scan = (code) => {
    if (expecting) { expecting.take(code); return; }
    const fits = draw.scanned(code);
    draw.alarm(say({ fits: "specimen", half: "half-code" }[fits] ?? "other-code-led", code));
  };
  draw.half = (words) => { if (expecting) expecting.half(words); else draw.alarm(words); };
  draw.otherKey = (event) => {
    if (dialog.open || at < 0) return;
    const onButton = event.target.closest?.("button, a, summary");
    if (event.key === "PageDown" || event.key === "ArrowRight" || (!onButton && (event.key === " " || event.key === "Enter"))) go(at + 1);
    else if (event.key === "PageUp" || event.key === "ArrowLeft") go(at - 1);
    else if (event.key.toLowerCase() === "t") startOwn();
    else if (event.key.toLowerCase() === "s") stops.querySelector("button").focus();
    else return;
    event.preventDefault();
  };
  draw.showAll = () => {
    form.classList.add("is-begun");
    for (const part of form.querySelectorAll(".part")) part.hidden = part.contains(document.getElementById("stops"));
  };

  // How it is led: chosen before the draw begins. A tap that came before this script was remembered on the button.
  const lead = form.querySelector(".lead-choice");
  const pace = document.getElementById("pace");
  function handsFree() { return lead.querySelector("[value=free]").checked; }
  const startButton = document.getElementById("begin");
  startButton.onclick = () => {
    audio();
    navigator.wakeLock?.request("screen").catch(() => {});
    go(0);
  };
  form.querySelector(".part").before(stage);
  const first = startButton.closest(".part");
  for (const part of form.querySelectorAll(".part")) part.hidden = part !== first;
  document.getElementById("save").hidden = true;
  if (draw.isBegun() || form.dataset.fresh === undefined) {
    form.classList.add("is-begun");
    draw.showAll();
    document.getElementById("save").hidden = false;
  }
  form.dataset.ready = "yes";
  if (startButton.dataset.early) startButton.click();
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && at >= 0) navigator.wakeLock?.request("screen").catch(() => {});
    tick();
  });
  setInterval(tick, 100);
  // The pulse of a page that lies behind another is slowed down; this one is not.
  try { new Worker(form.dataset.ticker).onmessage = tick; } catch { /* Then there is only the slow one. */ }
})();
