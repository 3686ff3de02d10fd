// Signs in, in Chromium, on a running site whose unit has accounts.
//
//   node accounts.mjs http://127.0.0.1:8437 FOLDER TRAINER LEARNER PASSWORD
//
// TRAINER and LEARNER are staff identifiers; their accounts have the names trainer and learner, with PASSWORD as first
// password. FOLDER receives screenshots. CHROMIUM names another browser than /usr/bin/chromium.

import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { says, stands } from "./says.mjs";

const [base, folder, trainer, learner, first] = process.argv.slice(2);
if (!first) {
  console.error("Give an address, a folder, two staff identifiers and the first password: node accounts.mjs http://127.0.0.1:8437 FOLDER n001 n012 PASSWORD");
  process.exit(2);
}
await mkdir(folder, { recursive: true });

const PHONE = { width: 360, height: 740 };
const DESK = { width: 1440, height: 900 };
const OWN = "seven grey herons by a weir";

const findings = [];
const check = (holds, what) => { if (!holds) findings.push(what); };
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});

try {
  const desk = await (await browser.newContext({ viewport: DESK })).newPage();
  await desk.goto(`${base}/methods`);
  check(new URL(desk.url()).pathname === "/sign-in", `nobody lands on ${desk.url()}`);
  await shot(desk, "sign-in-desk");
  await signIn(desk, "trainer", "not this one, surely");
  check(await says(desk.locator(".refused"), /do(es)? not belong/), "a wrong password is told");
  await signIn(desk, "trainer", first);
  check(new URL(desk.url()).pathname === "/account", `a first password leads to ${desk.url()}`);
  await change(desk, first, OWN);
  await desk.goto(`${base}/`);
  check((await desk.locator("h1").innerText()).length > 0 && new URL(desk.url()).pathname === "/", "the trainer sees today");
  const cookies = await desk.context().cookies();
  check(cookies.length === 1 && cookies[0].secure && cookies[0].httpOnly && cookies[0].sameSite === "Lax", `cookies: ${JSON.stringify(cookies.map(({ value, ...rest }) => rest))}`);
  await desk.goto(`${base}/people/${learner}`);
  check((await desk.goto(`${base}/people/${learner}`)).status() === 200, "the trainer sees a learner's page");
  await shot(desk, "trainer-desk");

  const phone = await (await browser.newContext({ viewport: PHONE, javaScriptEnabled: false })).newPage();
  await phone.goto(`${base}/`);
  await shot(phone, "sign-in-phone");
  await signIn(phone, "learner", first);
  await change(phone, first, OWN);
  await phone.goto(`${base}/`);
  check(new URL(phone.url()).pathname === `/people/${learner}`, `the learner begins on ${phone.url()}`);
  await shot(phone, "learner-phone");
  for (const shut of ["/people", `/people/${trainer}`, "/results", "/editor", `/papers/person/${trainer}.pdf`]) {
    check((await phone.goto(base + shut)).status() === 403, `the learner is shown ${shut}`);
  }
  await shot(phone, "not-for-you-phone");
  await phone.goto(`${base}/account`);
  const seen = await phone.locator("table.seen").innerText();
  check(seen.includes("trainer") && seen.includes("Record"), `who saw the learner's figures: ${seen}`);
  await shot(phone, "account-phone");
  await phone.getByRole("button", { name: "Sign out" }).click();
  check(new URL(phone.url()).pathname === "/sign-in", `after signing out: ${phone.url()}`);
  await phone.goto(`${base}/people/${learner}`);
  check(new URL(phone.url()).pathname === "/sign-in", "a session that ended shows nothing");
} catch (error) {
  findings.push(error.stack);
} finally {
  await browser.close();
}
console.log(`Signing in by two roles: ${findings.length} findings.`);
for (const finding of findings) console.error(finding);
process.exit(findings.length === 0 ? 0 : 1);

async function signIn(page, name, password) {
  await page.getByLabel("Name of the account").fill(name);
  await page.getByLabel("Password").fill(password);
  await page.getByRole("button", { name: "Sign in" }).click();
}

async function change(page, old, wanted) {
  await page.getByLabel("Password now").fill(old);
  await page.getByLabel("New password", { exact: true }).fill(wanted);
  await page.getByLabel("New password, once more").fill(wanted);
  await page.getByRole("button", { name: "Change the password" }).click();
  check(await stands(page.locator(".refused"), 0), "the new password is taken");
}

async function shot(page, name) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth).catch(() => 0);
  check(wide <= 0, `${name}: wider than the screen by ${wide}`);
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}
