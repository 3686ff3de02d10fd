// What a page comes to say: many of its words are written by its script a moment after it has loaded, and on a busy
// machine that moment is long. A check waits for the words as a reader would, and fails when they do not come.

const MOST_MS = 5000;

// Whether the place comes to say the words: all of a text, or what matches.
export async function says(place, wanted, most = MOST_MS) {
  const holds = (text) => (wanted instanceof RegExp ? wanted.test(text) : text.replaceAll("\u00a0", " ").includes(wanted));
  return comes(async () => holds(await place.innerText({ timeout: most })), most);
}

// Whether there come to be as many of them.
export async function stands(places, count, most = MOST_MS) {
  return comes(async () => (await places.count()) === count, most);
}

// Whether something comes to hold.
export async function comes(holds, most = MOST_MS) {
  const end = Date.now() + most;
  while (!(await holds())) {
    if (Date.now() > end) return false;
    await new Promise((done) => setTimeout(done, 50));
  }
  return true;
}
