// Signs in through an OpenID Connect provider, in Chromium: a certified library's provider, run here, and the administrator's page.
//
//   node provider.mjs http://127.0.0.1:8437 FOLDER ISSUER-PORT PASSWORD LEARNER
//
// The site's provider.toml names http://localhost:ISSUER-PORT as issuer, the client "draws" and the secret below. Its accounts are those
// that accounts.mjs left: "trainer", who is an administrator too, and "learner", of the staff identifier LEARNER. PASSWORD is the trainer's.

import { generateKeyPairSync } from "node:crypto";
import { mkdir, readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { Provider } from "oidc-provider";
import { says, stands } from "./says.mjs";

const [base, folder, port, password, learner] = process.argv.slice(2);
if (!learner) {
  console.error("Give an address, a folder, the provider's port, the administrator's password and a staff identifier.");
  process.exit(2);
}
await mkdir(folder, { recursive: true });

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const STANDARDS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
const SECRET = "invented-secret-of-the-tests";
const PHONE = { width: 360, height: 740 };
const DESK = { width: 1440, height: 900 };
const { privateKey } = generateKeyPairSync("rsa", { modulusLength: 2048 });
const provider = new Provider(`http://localhost:${port}`, {
  clients: [{ client_id: "draws", client_secret: SECRET, redirect_uris: [`${base}/sign-in/back`], post_logout_redirect_uris: [`${base}/sign-in`], response_types: ["code"], grant_types: ["authorization_code"] }],
  jwks: { keys: [{ ...privateKey.export({ format: "jwk" }), use: "sig", alg: "RS256", kid: "made-now" }] },
  cookies: { keys: ["of this run alone"] },
  claims: { openid: ["sub"], profile: ["name"] },
  findAccount: (_, id) => ({ accountId: id, claims: () => ({ sub: id, name: "R. Fenn (invented)" }) }),
  pkce: { required: () => true },
});
const server = await new Promise((resolve) => { const listening = provider.listen(Number(port), "127.0.0.1", () => resolve(listening)); });

const findings = [];
const check = (holds, what) => { if (!holds) findings.push(what); };
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP localhost 127.0.0.1"],
});

try {
  const admin = await (await browser.newContext({ viewport: DESK })).newPage();
  await admin.goto(`${base}/sign-in`);
  await shot(admin, "sign-in-with-provider");
  await admin.getByLabel("Name of the account").fill("trainer");
  await admin.getByLabel("Password").fill(password);
  await admin.getByRole("button", { name: "Sign in" }).click();
  await admin.goto(`${base}/accounts`);
  await shot(admin, "accounts-desk");

  // Somebody the provider lets in and nobody here knows.
  const phone = await (await browser.newContext({ viewport: PHONE, javaScriptEnabled: false })).newPage();
  await phone.goto(`${base}/people/${learner}`);
  check(new URL(phone.url()).pathname === "/sign-in", `nobody lands on ${phone.url()}`);
  await shot(phone, "sign-in-with-provider-phone");
  await atProvider(phone, "r.fenn-4711");
  const told = await phone.locator(".refused").innerText();
  check(told.includes("r.fenn-4711") && told.includes("administrator"), `a stranger is told: ${told}`);
  await shot(phone, "stranger-phone");
  check((await phone.goto(`${base}/people/${learner}`)).url().includes("/sign-in"), "a stranger is not let in");

  // The administrator ties the subject to an account.
  await admin.goto(`${base}/accounts`);
  const row = admin.locator("table.strangers tbody tr");
  check(await says(row, "r.fenn-4711"), `who came without an account: ${await row.innerText()}`);
  await shot(admin, "accounts-stranger-desk");
  await row.getByLabel("Account").selectOption("learner");
  await row.getByRole("button", { name: "Tie to this account" }).click();
  check(await says(admin.locator("[role=status]").first(), "tied to r.fenn-4711"), "the tie is told");
  check(await stands(admin.locator("table.strangers"), 0), "nobody waits any more");
  await admin.goto(`${base}/accounts/learner`);
  await shot(admin, "account-of-one-desk");

  // Now the same person gets in, to where they wanted to go.
  await phone.goto(`${base}/people/${learner}`);
  await atProvider(phone, "r.fenn-4711");
  check(new URL(phone.url()).pathname === `/people/${learner}`, `the person tied lands on ${phone.url()}`);
  const cookies = (await phone.context().cookies(base)).filter(({ name }) => name.startsWith("__Host-wardwright"));
  check(cookies.length === 1 && cookies[0].secure && cookies[0].httpOnly, `cookies: ${cookies.map(({ name }) => name)}`);
  check((await phone.goto(`${base}/accounts`)).status() === 403, "a learner is no administrator, whatever the provider says");
  await phone.goto(`${base}/account`);
  await shot(phone, "account-through-provider-phone");

  // Signing out goes on to the provider, which asks, ends its own session and sends the browser back (RP-Initiated Logout 1.0).
  const session = async () => (await phone.context().cookies(`http://localhost:${port}`)).some(({ name }) => name === "_session");
  check(await session(), "the provider keeps a session of its own");
  await phone.getByRole("button", { name: "Sign out" }).click();
  await phone.waitForURL(new RegExp(`^http://localhost:${port}/session/end`), { timeout: 10000 });
  // The provider's own page: it is not ours to measure.
  await phone.screenshot({ path: join(folder, "sign-out-at-provider-phone.png") });
  await phone.getByRole("button", { name: /^Yes/ }).click();
  await phone.waitForURL(`${base}/sign-in`, { timeout: 10000 });
  check((await phone.goto(`${base}/people/${learner}`)).url().includes("/sign-in"), "nobody is signed in here any more");
  await phone.getByRole("link", { name: /^Sign in at/ }).click();
  check(await stands(phone.locator("input[name=login]"), 1), "the next person on this device is asked for a password");
  const known = await phone.context().newPage();
  await known.goto(`http://localhost:${port}/auth?client_id=draws&response_type=code&scope=openid&redirect_uri=${encodeURIComponent(`${base}/sign-in/back`)}&state=s&code_challenge=${"a".repeat(43)}&code_challenge_method=S256`);
  check(await stands(known.locator("input[name=login]"), 1), "and the provider knows nobody in this browser, also when it is not told to ask again");
  await known.close();

  // An answer brought twice, and one made up.
  for (const query of ["code=abc&state=made-up", "", "error=access_denied&state=x"]) {
    const answer = await phone.goto(`${base}/sign-in/back?${query}`);
    check(answer.status() === 401 && (await phone.locator(".refused").count()) === 1, `an answer nobody began: ${answer.status()}`);
  }
  await shot(phone, "not-begun-phone");

  // An administrator makes an account; the first password is shown once.
  await admin.goto(`${base}/accounts`);
  await admin.getByLabel("Name to sign in with").fill("reader");
  await admin.getByLabel(/^results reader/).check();
  await admin.getByRole("button", { name: "Make the account" }).click();
  const first = await admin.locator("code.first-password").innerText();
  check(/^[a-z2-9]{5}(-[a-z2-9]{5}){3}$/.test(first), `a first password: ${first}`);
  await shot(admin, "account-made-desk");
  await admin.goto(`${base}/accounts`);
  check(!(await admin.content()).includes(first), "the first password is not shown again");
  await admin.getByLabel("Name to sign in with").fill("<script>alert(1)</script>");
  await admin.getByLabel(/^trainer:/).check();
  await admin.getByRole("button", { name: "Make the account" }).click();
  check(await says(admin.locator(".refused"), "letters, digits"), "a name that is none is refused with what is expected");
  check((await admin.getByLabel("Name to sign in with").inputValue()) === "<script>alert(1)</script>", "what was typed is still there");
  await admin.goto(`${base}/accounts/trainer`);
  await admin.getByLabel("Yes, end this account").check();
  await admin.getByRole("button", { name: "End the account" }).click();
  check(await says(admin.locator(".refused"), "no administrator would be left"), "the last administrator stays");
  await admin.goto(`${base}/views`);
  check((await admin.locator("table.seen tbody tr").count()) > 0, "views are listed");
  await shot(admin, "views-desk");

  const reader = await (await browser.newContext({ viewport: PHONE })).newPage();
  await reader.goto(`${base}/sign-in`);
  await reader.getByLabel("Name of the account").fill("reader");
  await reader.getByLabel("Password").fill(first);
  await reader.getByRole("button", { name: "Sign in" }).click();
  check(new URL(reader.url()).pathname === "/account", "a first password leads to another one");
  check((await reader.goto(`${base}/accounts`)).url().endsWith("/account"), "and to nothing else");

  const small = await (await browser.newContext({ viewport: PHONE, storageState: await admin.context().storageState() })).newPage();
  for (const [address, name] of [["/accounts", "accounts-phone"], ["/accounts/learner", "account-of-one-phone"], ["/views", "views-phone"]]) {
    await small.goto(base + address);
    await shot(small, name);
    await accessible(small, name);
  }
  for (const address of ["/accounts", "/accounts/learner", "/views"]) {
    await admin.goto(base + address);
    await accessible(admin, address);
  }
  await small.context().clearCookies();
  await small.goto(`${base}/sign-in`);
  await accessible(small, "sign-in");

  // The provider is down.
  server.closeAllConnections();
  await new Promise((resolve) => server.close(resolve));
  await phone.goto(`${base}/sign-in`);
  await phone.getByRole("link", { name: /^Sign in at/ }).click();
  const down = await phone.locator("main").innerText();
  check(down.includes("does not answer") && down.includes("try again"), `the provider is down: ${down}`);
  await shot(phone, "provider-down-phone");
} catch (error) {
  findings.push(error.stack);
} finally {
  await browser.close();
  server.close();
}
console.log(`Signing in through a provider: ${findings.length} findings.`);
for (const finding of findings) console.error(finding);
process.exit(findings.length === 0 ? 0 : 1);

// axe-core under WCAG 2.2 A and AA and its good practices; in the dark, on contrast.
async function accessible(page, name) {
  for (const scheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme: scheme });
    await page.evaluate(axe);
    const only = scheme === "light" ? { type: "tag", values: STANDARDS } : { type: "rule", values: ["color-contrast"] };
    const { violations } = await page.evaluate((runOnly) => window.axe.run(document, { runOnly, resultTypes: ["violations"] }), only);
    for (const { id, help, nodes } of violations) check(false, `${name} ${scheme}: axe ${id}: ${help}; first ${nodes[0].html.slice(0, 160)}`);
  }
  await page.emulateMedia({ colorScheme: "light" });
}

async function atProvider(page, login) {
  await page.getByRole("link", { name: /^Sign in at/ }).click();
  await page.locator("input[name=login]").fill(login);
  await page.locator("input[name=password]").fill("whatever");
  await page.locator("button[type=submit]").click();
  // It asks once whether the site may know the name.
  if (new URL(page.url()).port === port) await page.locator("button[type=submit]").click();
}

async function shot(page, name) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth).catch(() => 0);
  check(wide <= 0, `${name}: wider than the screen by ${wide}`);
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}
