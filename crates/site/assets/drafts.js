// Drafts that forms keep on this device: thrown away after a stated time, listed, and cleared when asked.
// It comes before the script that keeps a form's draft, so that nobody is offered one that has run out.
"use strict";

(() => {
  const say = window.say;
  const DAY = 86_400_000;
  const KEPT_DAYS = 14;
  const KINDS = [
    { prefix: "wardwright:teach-back:", of: (draft) => (value(draft, "transcript") === null ? "teach-back" : "transcript") },
    { prefix: "wardwright:form:breakdown:", of: () => "breakdown" },
    { prefix: "wardwright:form:", of: () => "form" },
    { prefix: "wardwright:draw:", of: () => "draw" },
  ];

  const value = (draft, name) => draft.values?.find?.(([known]) => known === name)?.[1] ?? null;

  function names() {
    try { return Object.keys(localStorage).filter((name) => KINDS.some((kind) => name.startsWith(kind.prefix))); } catch { return []; }
  }

  function read(name) {
    try { return JSON.parse(localStorage.getItem(name)); } catch { return null; }
  }

  function forget(name) {
    try { localStorage.removeItem(name); } catch { /* Nothing was kept, then. */ }
  }

  // What cannot be read, and what nobody has touched for two weeks, is thrown away.
  for (const name of names()) {
    const draft = read(name);
    if (draft === null || (typeof draft.at === "number" && draft.at < Date.now() - KEPT_DAYS * DAY)) forget(name);
  }

  const list = document.getElementById("drafts");
  if (!list) return;

  function button(label, act, look = "") {
    const made = document.createElement("button");
    made.type = "button";
    made.className = look;
    made.textContent = label;
    made.addEventListener("click", act);
    return made;
  }

  function text(tag, words) {
    const made = document.createElement(tag);
    made.textContent = words;
    return made;
  }

  const day = (at) => new Date(at).toLocaleDateString(say("locale"), { day: "numeric", month: "long", year: "numeric" });
  const minute = (at) => `${day(at)}, ${new Date(at).toLocaleTimeString(say("locale"), { hour: "2-digit", minute: "2-digit" })}`;

  // The form a draft belongs to. A transcript's is laid out by the server, from what the draft holds.
  function goOn(name, draft) {
    const entry = name.slice(name.lastIndexOf(":") + 1);
    const [person, job, version] = [value(draft, "person"), value(draft, "breakdown"), value(draft, "version")];
    if (name.startsWith("wardwright:form:breakdown:")) {
      const code = value(draft, "code");
      location.assign(`/editor?${code ? `breakdown=${encodeURIComponent(code)}&` : ""}entry=${entry}`);
    } else if (value(draft, "transcript") !== null) {
      const sent = document.createElement("form");
      sent.method = "post";
      sent.action = "/teach-back/confirm";
      const secret = document.querySelector("input[name=form-secret]").value;
      for (const [field, content] of [...draft.values, ["form-secret", secret], ["do", "check"]]) {
        const made = document.createElement("textarea");
        made.name = field;
        made.value = content;
        sent.append(made);
      }
      sent.hidden = true;
      document.body.append(sent);
      sent.submit();
    } else if (name.startsWith("wardwright:teach-back:")) {
      location.assign(`/teach-back/new?person=${encodeURIComponent(person)}&breakdown=${encodeURIComponent(job)}&version=${version}&entry=${entry}`);
    } else {
      location.assign("/bedside");
    }
  }

  function show() {
    const all = names().map((name) => [name, read(name)]).filter(([, draft]) => draft !== null);
    all.sort(([, one], [, other]) => (other.at ?? 0) - (one.at ?? 0));
    list.replaceChildren(...all.map(([name, draft]) => {
      const item = document.createElement("li");
      const kind = KINDS.find((each) => name.startsWith(each.prefix)).of(draft);
      const about = [value(draft, "person"), value(draft, "breakdown") ?? value(draft, "code")].filter(Boolean).join(", ");
      item.append(text("strong", say(`draft-${kind}`)), about ? say("draft-of", about) : "");
      if (typeof draft.at === "number") {
        item.append(text("p", say("touched", minute(draft.at), day(draft.at + KEPT_DAYS * DAY))));
      }
      const actions = text("p", "");
      actions.className = "actions";
      actions.append(
        button(say("go-on-with"), () => goOn(name, draft)),
        button(say("throw"), () => { forget(name); show(); }, "second"),
      );
      item.append(actions);
      return item;
    }));
    document.getElementById("no-drafts").hidden = all.length > 0;
    const clear = document.getElementById("clear");
    clear.hidden = all.length === 0;
    clear.textContent = say(all.length === 1 ? "clear-one" : "clear-all", all.length);
  }

  // Two taps: what is cleared is gone for good.
  const clear = document.getElementById("clear");
  let sure = false;
  clear.addEventListener("click", () => {
    if (!sure) {
      sure = true;
      clear.textContent = say("clear-really");
      return;
    }
    sure = false;
    for (const name of names()) forget(name);
    show();
    document.getElementById("cleared").textContent = say("cleared");
  });
  show();
})();
