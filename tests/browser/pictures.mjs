// Takes the pictures that docs show, of the invented demo unit.
//
//   node pictures.mjs http://127.0.0.1:8437 ../../docs/images
//
// The site must serve the demo. Fails where a picture is larger than 150 kB. CHROMIUM names another browser.

import { stat } from "node:fs/promises";
import { join } from "node:path";
import { chromium } from "playwright-core";

const [base, folder] = process.argv.slice(2);
if (!base || !folder) {
  console.error("Give the address of a site that serves the demo, and a folder: node pictures.mjs http://127.0.0.1:8437 ../../docs/images");
  process.exit(2);
}

const MOST_BYTES = 150_000;
const DESK = { width: 1000, height: 620 };
const PHONE = { width: 360, height: 740 };
const PICTURES = [
  { name: "today", address: "/", size: DESK },
  { name: "results", address: "/results", size: DESK },
  { name: "timetable-dark", address: "/timetable", size: DESK, dark: true },
  { name: "next-draw-phone", address: "/next-draw?at=2026-11-02T21:30", size: PHONE },
  { name: "mark-a-draw-phone", address: "/observe/new?breakdown=vein", size: PHONE },
  { name: "find", address: "/find?q=skin", size: DESK },
];

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"],
});
let n_large = 0;
for (const { name, address, size, dark } of PICTURES) {
  const context = await browser.newContext({ viewport: size, colorScheme: dark ? "dark" : "light" });
  const page = await context.newPage();
  await page.goto(base + address);
  const path = join(folder, `${name}.png`);
  await page.screenshot({ path });
  const { size: n_bytes } = await stat(path);
  console.log(`${name}.png ${Math.round(n_bytes / 1000)} kB`);
  if (n_bytes > MOST_BYTES) n_large += 1;
  await context.close();
}
await browser.close();
if (n_large > 0) {
  console.error(`${n_large} larger than ${MOST_BYTES / 1000} kB: take a smaller window`);
  process.exit(1);
}
