// Reads every date field back in words: a browser writes 11/02/2026 in its own order, and nobody should have to know which.
(() => {
  const language = document.documentElement.lang === "en" ? "en-GB" : document.documentElement.lang;
  const inWords = new Intl.DateTimeFormat(language, {
    weekday: "long", day: "numeric", month: "long", year: "numeric", timeZone: "UTC",
  });
  for (const field of document.querySelectorAll("input[type=date]")) {
    const said = document.createElement("output");
    said.className = "date-said";
    said.htmlFor.add(field.id);
    const say = () => { said.textContent = Number.isNaN(field.valueAsNumber) ? "" : inWords.format(field.valueAsNumber); };
    field.after(said);
    field.addEventListener("input", say);
    field.addEventListener("change", say);
    addEventListener("pageshow", say);
    say();
  }
})();
