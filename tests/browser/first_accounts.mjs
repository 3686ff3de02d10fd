// The beginning of a unit that has accounts from its first hour: an administrator takes in the people and makes the trainer's
// account; the trainer publishes the first breakdown and plans the first learner.
//
//   node first_accounts.mjs http://127.0.0.1:8437 FOLDER PASSWORD
//
// The site must serve a folder as `wardwright setup` makes it, with one account “boss”, an administrator of nobody, whose first password
// is PASSWORD. FOLDER receives screenshots. CHROMIUM names another browser than /usr/bin/chromium.

import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { says } from "./says.mjs";

const [base, folder, first] = process.argv.slice(2);
if (!first) {
  console.error("Give an address, a folder and the first password: node first_accounts.mjs http://127.0.0.1:8437 FOLDER PASSWORD");
  process.exit(2);
}
await mkdir(folder, { recursive: true });
const findings = [];
const check = (holds, what) => { if (!holds) findings.push(what); };
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});

try {
  const boss = await somebody();
  await boss.goto(base);
  await signIn(boss, "boss", first, "seven grey herons by a weir");
  await boss.goto(`${base}/accounts`);
  await shot(boss, "accounts-of-nobody-yet");
  await boss.getByRole("link", { name: "Take in the first people" }).click();
  await boss.fill("#list", "staff id,name,role,started\nt1,Ansa Wolfendale,trainer,2019-05-06\nn1,Juno Castellane,nurse,2026-01-12\n");
  await boss.getByRole("button", { name: "Show how it is read" }).click();
  await boss.getByRole("button", { name: "Take in 2 people" }).click();
  check(await says(boss.locator("main"), "2 people are on the unit"), `the administrator takes in the first people, found ${await boss.locator("main").innerText()}`);
  await shot(boss, "begin-as-administrator");
  check((await boss.getByRole("link", { name: "Publish a ready breakdown" }).count()) === 0, "no way is shown that an administrator may not go");
  await boss.getByRole("link", { name: "Make accounts" }).click();
  await boss.getByLabel("Name to sign in with").fill("ansa");
  await boss.getByLabel(/^trainer:/).check();
  await boss.getByLabel("Person of the record book").selectOption("t1");
  await boss.getByRole("button", { name: "Make the account" }).click();
  const given = await boss.locator("code.first-password").innerText();
  for (const shut of ["/start/people", "/start/breakdown", "/people", "/timetable/date?person=n1"]) {
    check((await boss.goto(base + shut)).status() === 403, `now that there is a trainer, an administrator is refused at ${shut}`);
  }

  const ansa = await somebody();
  await ansa.goto(base);
  await signIn(ansa, "ansa", given, "four herons and two mills");
  await ansa.goto(base);
  await ansa.getByRole("link", { name: "Go on beginning" }).click();
  await shot(ansa, "begin-as-trainer");
  await ansa.getByRole("link", { name: "Publish a ready breakdown" }).click();
  await ansa.getByRole("link", { name: "Read it and publish" }).first().click();
  await ansa.fill("#approved-by", "Infection prevention lead (invented)");
  await ansa.check("input[name=read]");
  await ansa.getByRole("button", { name: "Publish" }).click();
  check(ansa.url().endsWith("/start"), `publishing leads on, found ${ansa.url()}: ${await ansa.locator("main").innerText()}`);
  await ansa.getByRole("link", { name: "Set the first date" }).click();
  await ansa.selectOption("#person", "n1");
  await ansa.selectOption("#job", { index: 1 });
  await ansa.fill("#by", "2031-06-30");
  await ansa.getByRole("button", { name: "Set the date" }).click();
  check(await says(ansa.locator("main"), "30 June 2031"), `the first learner is planned, found ${await ansa.locator("main").innerText()}`);
  await ansa.goto(`${base}/start`);
  check(await says(ansa.locator("main"), "There are accounts"), "the beginning knows that there are accounts");
  await shot(ansa, "begun-with-accounts");
} catch (error) {
  findings.push(error.stack);
} finally {
  await browser.close();
}
console.log(`From an empty record book with accounts to the first planned learner: ${findings.length} findings.`);
for (const finding of findings) console.error(finding);
process.exit(findings.length === 0 ? 0 : 1);

async function somebody() {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  context.setDefaultTimeout(20_000);
  return context.newPage();
}

// Signs in with a first password, and takes one of their own.
async function signIn(page, name, password, own) {
  await page.getByLabel("Name of the account").fill(name);
  await page.getByLabel("Password").fill(password);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByLabel("Password now").fill(password);
  await page.getByLabel("New password", { exact: true }).fill(own);
  await page.getByLabel("New password, once more").fill(own);
  await page.getByRole("button", { name: "Change the password" }).click();
}

async function shot(page, name) {
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}
