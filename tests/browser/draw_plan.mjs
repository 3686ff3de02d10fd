// One collection planned on a page, in Chromium: by keys at a desk and by thumb on a phone, with what people get wrong.
// live.mjs runs these with the others.

import { join } from "node:path";
import { says, stands } from "./says.mjs";

export function drawPlan({ base, folder, open, check, fits }) {
  const PHONE = { width: 360, height: 740 };
  const DESK = { width: 1440, height: 900 };
  const at = (fields) => `${base}/draw/plan?${new URLSearchParams(fields)}`;
  const shot = (page, name, fullPage = false) => page.screenshot({ path: join(folder, `${name}.png`), fullPage });
  const adult = { who: "adult", weight: "70", taken: "25", access: "vein", "antibiotic": "none" };

  // Typed by keys alone; what comes back is the plan of the command, worked out by hand: two sets of two bottles of 10 mL.
  async function collectionByKeys() {
    const page = await open(DESK);
    await page.goto(`${base}/draw/plan`);
    await page.focus("#who");
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("Tab");
    await page.keyboard.type("70");
    await page.keyboard.press("Tab");
    await page.keyboard.type("25");
    await page.keyboard.press("Enter");
    await page.waitForSelector(".plan-sets");
    check(await stands(page.locator(".plan-sets > li"), 2), "plan: two sets of an adult");
    const bottles = await page.locator(".plan-sets ul strong").allInnerTexts();
    check(bottles.join().replaceAll("\u00a0", " ") === "aerobic 10 mL,anaerobic 10 mL,aerobic 10 mL,anaerobic 10 mL", `plan: bottles in the order of filling, found ${bottles}`);
    const blood = await page.locator("section[aria-labelledby=blood]").innerText();
    // 70 kg at 70 mL/kg is 4900 mL, 3 % of it 147 mL; 25 and 40 are 65 mL.
    check(blood.includes("65 mL of at most 147 mL"), `plan: the day against the limit, found ${blood}`);
    check(await says(page.locator("section[aria-labelledby=time]"), "the puncture, filling and labels are not in it"), "plan: what the shortest time leaves out is said");
    await shot(page, "draw-plan-desk", true);
    await page.locator("summary", { hasText: "Change what was entered" }).click();
    check((await page.inputValue("#weight")) === "70", "plan: what was entered is still there");
    // A breakdown that is chosen is carried out from here.
    await page.locator("#job input").first().check();
    await page.locator("button", { hasText: "Plan" }).last().click();
    check((await page.locator(".plan-sets").count()) === 1 && (await page.locator("section[aria-labelledby=carry] a").count()) > 0, "plan: with a breakdown chosen there is a plan and the way to carry it out");
    await page.context().close();
  }

  // What a phone shows first, and how long it is.
  async function collectionOnAPhone() {
    const page = await open(PHONE, { hasTouch: true, isMobile: true });
    await page.goto(at(adult));
    await fits(page, "plan on a phone");
    const screens = await page.evaluate(() => document.documentElement.scrollHeight / innerHeight);
    console.log(`The plan on a phone is ${screens.toFixed(1)} screens long.`);
    check(screens < 6, `plan on a phone: ${screens.toFixed(1)} screens`);
    const top = await page.locator(".plan-sets").boundingBox();
    check(top.y < 740, `plan on a phone: the sets begin at ${Math.round(top.y)} px, below the first screen`);
    await shot(page, "draw-plan-phone", true);
    await page.context().close();
  }

  // Plain words, the field named and kept, and no plan.
  async function collectionWithBadInput() {
    const page = await open(PHONE, { hasTouch: true, isMobile: true });
    const soon = new Date(Date.now() + 3 * 3_600_000).toISOString().slice(0, 16).replace("T", " ");
    const cases = [
      ["weight 0", { ...adult, weight: "0" }, "expected 0.3 to 400 kg", "weight"],
      ["weight 700", { ...adult, weight: "700" }, "expected 0.3 to 400 kg", "weight"],
      ["weight in words", { ...adult, weight: "seventy" }, "a number with a point", "weight"],
      ["no weight", { ...adult, weight: "" }, "weight", "weight"],
      ["a child of 7.0 kg typed as 70", { who: "child", weight: "70", access: "vein" }, "Read the weight again", "weight"],
      ["an adult of 7 kg", { ...adult, weight: "7" }, "Read the weight again", "weight"],
      ["a child with adult bottles", { who: "child", weight: "10", "weight-read": "twice", bottles: "adult", access: "vein" }, "paediatric", "bottles"],
      ["an antibiotic in the future", { ...adult, antibiotic: "given", "antibiotic-time": soon }, "a time that has passed", "antibiotic"],
      ["an antibiotic without a time", { ...adult, antibiotic: "given" }, "no time", "antibiotic"],
      ["no access", { who: "adult", weight: "70" }, "Blood can be had from", "access"],
      ["a line suspected that is not there", { ...adult, suspected: "yes" }, "line", "suspected"],
      ["the limit reached", { ...adult, taken: "147" }, "is left", "weight"],
      ["blood below nought", { ...adult, taken: "-5" }, "24 hours", "taken"],
      ["haemoglobin in g/dL", { ...adult, haemoglobin: "8.5" }, "85 g/L", "haemoglobin"],
    ];
    for (const [what, fields, words, anchor] of cases) {
      const answer = await page.goto(at(fields));
      check(answer.status() === 200, `plan, ${what}: answered ${answer.status()}`);
      const text = (await page.locator(".refused").count()) ? await page.locator(".refused").innerText() : "";
      check(text.toLowerCase().includes(words.toLowerCase()), `plan, ${what}: expected “${words}”, found “${text}”`);
      check(await stands(page.locator(".plan-sets"), 0), `plan, ${what}: there is a plan all the same`);
      const to = (await page.locator(".refused").count()) ? await page.locator(".refused a").getAttribute("href") : "";
      check(to === `#${anchor}` && (await page.locator(to === "" ? "#none" : to).count()) === 1, `plan, ${what}: the way to the field, found ${to}`);
      if (fields.weight) check((await page.inputValue("#weight")) === fields.weight, `plan, ${what}: what was typed is kept`);
      if (what.startsWith("a child of 7.0")) {
        await shot(page, "draw-plan-weight");
        await page.locator("input[name=weight-read]").check();
        await page.locator("button", { hasText: "Plan" }).click();
        check(await stands(page.locator(".plan-sets"), 1), "plan: a weight read twice is taken");
      }
    }
    await page.context().close();
  }

  return { collectionByKeys, collectionOnAPhone, collectionWithBadInput };
}
