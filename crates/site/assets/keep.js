// Keeps what is typed in a form on this device until it is saved, so that a reload or a closed window loses nothing.
// A form names its draft with data-keep; the page that shows what was saved names it with data-kept-done.
"use strict";

(() => {
  const say = window.say;
  const PREFIX = "wardwright:form:";
  for (const done of document.querySelectorAll("[data-kept-done]")) forget(PREFIX + done.dataset.keptDone);
  const form = document.querySelector("form[data-keep]");
  if (!form) return;
  const key = PREFIX + form.dataset.keep;
  const kept = document.getElementById("kept");

  function forget(name) {
    try { localStorage.removeItem(name); } catch { /* Nothing was kept, then. */ }
  }

  // Everything the form would send, but for the secret of this run.
  function values() {
    return [...new FormData(form)].filter(([name]) => name !== "form-secret");
  }

  function keep() {
    try {
      localStorage.setItem(key, JSON.stringify({ at: Date.now(), values: values() }));
    } catch {
      kept.textContent = say("no-draft-publish");
    }
  }

  // The draft may have other steps than the page: the server lays it out, as it does after every button.
  function bringBack(draft) {
    const sent = document.createElement("form");
    sent.method = "post";
    sent.action = form.getAttribute("action");
    const secret = new FormData(form).get("form-secret");
    for (const [name, value] of [...draft.values, ["form-secret", secret], ["do", "check"]]) {
      const field = document.createElement("textarea");
      field.name = name;
      field.value = value;
      sent.append(field);
    }
    sent.hidden = true;
    document.body.append(sent);
    sent.submit();
  }

  function button(label, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = label;
    made.addEventListener("click", act);
    return made;
  }

  // A page that came back from the server shows what was sent; only a fresh one may be behind the draft.
  function offer() {
    let draft = null;
    try { draft = JSON.parse(localStorage.getItem(key) ?? "null"); } catch { /* A draft that cannot be read is no draft. */ }
    const told = (list) => JSON.stringify(list.filter(([name]) => name !== "at"));
    if (!draft || told(draft.values) === told(values())) return;
    const time = new Date(draft.at).toLocaleTimeString(say("locale"), { hour: "2-digit", minute: "2-digit" });
    kept.textContent = say("form-draft", time) + " ";
    kept.append(
      button(say("bring-back"), () => bringBack(draft)), " ",
      button(say("throw"), () => { forget(key); kept.textContent = say("draft-gone"); }),
    );
  }

  // Loading such a page again sends the old form again, so what was typed since is only in the draft.
  const again = performance.getEntriesByType("navigation")[0]?.type !== "navigate";
  if (form.dataset.fresh === undefined && !again) keep(); else offer();
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
})();
