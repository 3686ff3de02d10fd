// Leads through the pages by single keys. They can be switched off on the page that lists them, and none works
// while somebody types, chooses in a field or holds another key.
(() => {
  const PLACE = "wardwright:keys";
  const kept = () => { try { return localStorage.getItem(PLACE); } catch { return null; } };
  let on = kept() !== "off";
  const targets = () => [...document.querySelectorAll("[data-key]")];
  const announce = () => {
    for (const each of targets()) {
      if (on) each.setAttribute("aria-keyshortcuts", each.dataset.key.toUpperCase());
      else each.removeAttribute("aria-keyshortcuts");
    }
  };
  const choice = document.getElementById("keys-on");
  if (choice) {
    document.getElementById("keys-off").hidden = false;
    choice.checked = on;
    choice.addEventListener("change", () => {
      on = choice.checked;
      try { if (on) localStorage.removeItem(PLACE); else localStorage.setItem(PLACE, "off"); } catch { /* this page alone, then */ }
      announce();
    });
  }
  announce();
  document.addEventListener("keydown", (event) => {
    if (!on || event.defaultPrevented || event.repeat || event.isComposing) return;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target instanceof Element && event.target.closest("input, select, textarea, [contenteditable]")) return;
    const key = event.key.toLowerCase();
    if (key === "k") {
      event.preventDefault();
      location.assign("/keys");
      return;
    }
    const target = targets().find((each) => each.dataset.key === key && each.getClientRects().length > 0);
    if (!target) return;
    event.preventDefault();
    if (target instanceof HTMLInputElement) target.focus(); else target.click();
  });
})();
