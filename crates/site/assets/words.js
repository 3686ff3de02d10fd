// The words of the scripts: the page brings them in its block "script-words", so that no script holds a sentence of its own.
"use strict";

window.say ??= (() => {
  const words = JSON.parse(document.getElementById("script-words")?.textContent ?? "{}");
  return (key, ...parts) => words[key].replace(/\{(\d)\}/g, (_, place) => parts[place]);
})();
