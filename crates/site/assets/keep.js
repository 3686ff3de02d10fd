// Keeps what is typed in a form on this device until it is saved, so that a reload or a closed window loses nothing.
// A form says under which name with data-draft; a page that shows what was saved says it with data-saved.
"use strict";

(() => {
  const PREFIX = "wardwright:form:";
  const form = document.querySelector("form[data-keep]");
  const kept = document.getElementById("kept");
  for (const done of document.querySelectorAll("[data-kept-done]")) forget(PREFIX + done.dataset.keptDone);
  if (!form) return;
  const key = PREFIX + form.dataset.keep;

  function forget(name) {
    try { localStorage.removeItem(name); } catch { /* Nothing was kept, then. */ }
  }

  function fields() {
    return [...form.elements].filter((field) => field.name && field.type !== "hidden" && field.type !== "submit");
  }

  function keep() {
    const values = fields().map((field) => [field.name, field.type === "checkbox" ? field.checked : field.value]);
    try {
      localStorage.setItem(key, JSON.stringify({ at: Date.now(), values }));
    } catch {
      kept.textContent = "This browser keeps no draft: save before you leave the page.";
    }
  }

  // A page that came back from the server shows what was sent; only a fresh one takes the draft.
  if (form.dataset.fresh !== undefined) {
    try {
      const draft = JSON.parse(localStorage.getItem(key) ?? "null");
      const known = new Map(fields().map((field) => [field.name, field]));
      const changed = draft?.values.filter(([name, value]) => {
        const field = known.get(name);
        return field && (field.type === "checkbox" ? field.checked : field.value) !== value;
      }) ?? [];
      if (changed.length > 0 && draft.values.length === known.size) {
        for (const [name, value] of changed) {
          const field = known.get(name);
          if (field.type === "checkbox") field.checked = value; else field.value = value;
        }
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = "Throw the draft away";
        button.addEventListener("click", () => { forget(key); form.reset(); kept.textContent = "The draft is gone."; });
        kept.textContent = `Restored from this device: what was typed until ${new Date(draft.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}. `;
        kept.append(button);
      }
    } catch { /* A draft that cannot be read is no draft. */ }
  } else {
    keep();
  }
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
})();
