// What a trainer writes on release: a changed rule published, a learner's confidence, a decision signed; at desk size with
// scripts and on a phone without.

import { join } from "node:path";
import { says, stands } from "./says.mjs";

export function release({ base, folder, open, check }) {
  const DESK = { width: 1440, height: 900 };
  const PHONE = { width: 360, height: 740 };

  async function shot(page, name) {
    await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
  }

  // Changed, looked at, published; the old rule stays in the list.
  async function rule() {
    const page = await open(DESK);
    await page.goto(`${base}/rules`);
    const before = await page.locator(".rules tbody tr").count();
    const sentence = () => page.locator("[aria-labelledby=does] .sentence").last().innerText();
    const was = await sentence();
    await page.fill("#rule-name", "eight draws, <last> four clean");
    await page.fill("#rule-draws", "8");
    await page.fill("#rule-clean", "4");
    await page.fill("#rule-prompted", "10");
    await page.getByRole("button", { name: "Work it out" }).click();
    await page.waitForSelector("[aria-labelledby=publish]");
    check((await sentence()) !== was, "rule: the chances change with the rule");
    check(await stands(page.locator("figure.chart .wide svg .chart-row"), 2), "rule: both curves are drawn");
    await shot(page, "rule-changed");
    await page.selectOption("#by", await page.locator("#by option").nth(1).getAttribute("value"));
    await page.fill("#why", "Too many who were not ready came through.");
    await page.getByRole("button", { name: /^Publish version/ }).click();
    await page.waitForSelector("[role=status]");
    check(await stands(page.locator(".rules tbody tr"), before + 1), "rule: the rule before stays in the list");
    check(await says(page.locator(".rules tbody tr").first(), "eight draws, <last> four clean"), "rule: the name is text");
    await shot(page, "rule-published");
    await page.context().close();
  }

  // On a phone, without scripts: the learner says how sure they are.
  async function confidence(person, job) {
    const page = await open(PHONE, { javaScriptEnabled: false });
    await page.goto(`${base}/confidence?person=${person}&breakdown=${job}`);
    check(await stands(page.locator("input[name=clean]"), 11), "confidence: nought to ten");
    await page.getByRole("button", { name: "Save" }).click();
    await page.locator("input[name=clean][value='8']").check();
    await shot(page, "confidence-phone");
    await page.getByRole("button", { name: "Save" }).click();
    check(page.url().includes(`/people/${person}#entry-`), `confidence: leads to the entry, found ${page.url()}`);
    const entry = page.url().split("#").pop();
    check(await says(page.locator(`[id="${entry}"]`), "no safety point missed on 8"), "confidence: the record shows it");
    await page.context().close();
  }

  // A decision needs a reason, and is an entry afterwards. Not yet, for whoever is learning; else a withdrawal.
  async function signing(person, job) {
    const page = await open(DESK);
    await page.goto(`${base}/signing?person=${person}&breakdown=${job}`);
    check((await page.locator("[aria-labelledby=evidence] .entries li").count()) > 0, "signing: the evidence is listed");
    await shot(page, "signing");
    const decision = page.locator("input[name=decision]").last();
    const code = await decision.getAttribute("value");
    await decision.check();
    await page.fill("#reason", "Invented for a test: <b>one more</b> night shift first.");
    await page.selectOption("#by", await page.locator("#by option").nth(1).getAttribute("value"));
    const another = await page.context().newPage();
    await another.goto(page.url());
    await page.getByRole("button", { name: "Sign" }).click();
    check(page.url().includes(`/people/${person}#entry-`), `signing: leads to the entry, found ${page.url()}`);
    const entry = page.url().split("#").pop();
    check(await says(page.locator(`[id="${entry}"]`), "<b>one more</b>"), `signing: the record shows the reason of ${code}`);
    // What was opened before knows nothing of the new entry.
    const late = another.locator("input[name=decision]").last();
    if ((await late.count()) > 0) {
      await late.check();
      await another.fill("#reason", "Late.");
      await another.selectOption("#by", await another.locator("#by option").nth(1).getAttribute("value"));
      await another.getByRole("button", { name: "Sign" }).click();
      const said = await another.locator(".refused, h1").allInnerTexts();
      check(another.url().includes("#entry-") || said.join(" ").includes("when the page was opened"), `signing: an old page is told of what is new, found ${said}`);
    }
    await page.context().close();
  }

  return { rule, confidence, signing };
}
