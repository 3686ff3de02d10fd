// What the plan and the timetable write; used by live.mjs.

import { join } from "node:path";
import { says, stands } from "./says.mjs";

const PHONE = { width: 360, height: 740 };

// The ways of writing, each under its name.
export function plan({ base, folder, open, check }) {
  // A plan is kept, planned again after an absence with what would change shown first, and a date is set; without scripts.
  const planned = async () => {
    const page = await open(PHONE, { javaScriptEnabled: false });
    const settled = async (address) => {
      await page.goto(base + address);
      // A plan is worked out beside the page, which loads itself again.
      await page.locator("h1", { hasNotText: "being worked out" }).waitFor({ timeout: 20_000 });
    };
    await settled("/plan");
    check(await says(page.locator("main"), "not kept yet"), "planned: nothing is kept at first");
    await page.getByRole("button", { name: "Keep this plan" }).click();
    check(page.url().includes("/plan?job="), `planned: keeping leads to the kept plan, found ${page.url()}`);
    const kept = await page.locator("main").innerText();
    check(kept.includes("Kept plan, made on"), "planned: the plan is kept");
    const first = page.locator(".pairs tbody tr").first();
    const preceptor = await first.locator('[data-label="With"] span').innerText();
    await page.screenshot({ path: join(folder, "plan-kept-phone.png"), fullPage: true });
    const calendar = await page.locator("#calendars").locator("xpath=ancestor::section").locator("a").first().getAttribute("href");
    const file = await page.request.get(base + calendar);
    check(file.status() === 200 && (await file.text()).startsWith("BEGIN:VCALENDAR"), "planned: a calendar is given");
    const value = await page.locator("#person option", { hasText: preceptor }).first().getAttribute("value");
    await page.selectOption("#person", value);
    const day = await first.locator("th time").getAttribute("datetime");
    await page.fill("#from", day);
    await page.fill("#to", day);
    await page.getByRole("button", { name: "Show what would change" }).click();
    await page.locator("h1", { hasNotText: "being worked out" }).waitFor({ timeout: 20_000 });
    const proposal = await page.locator("main").innerText();
    check(/Another preceptor:|Dropped:/.test(proposal), "planned: what would change is shown first");
    await page.screenshot({ path: join(folder, "plan-proposed-phone.png"), fullPage: true });
    await page.goto(base + "/plan");
    check(await says(page.locator("main"), "Kept plan, made on"), "planned: until then the old plan stays");
    await page.goBack();
    await page.getByRole("button", { name: "Keep this plan" }).click();
    check(await says(page.locator("main"), "Not planned"), "planned: the absence stays with the plan");
    await page.goto(base + "/timetable");
    await page.locator(".trade td a").first().click();
    await page.selectOption("#who", { index: 1 });
    await page.fill("#by", "2030-06-30");
    await page.getByRole("button", { name: "Set the date" }).click();
    check(page.url().endsWith("/timetable#people"), `planned: a date set leads to the timetable, found ${page.url()}`);
    check(await says(page.locator("main"), "30 June 2030"), "planned: the date stands in the timetable");
    await page.context().close();
  };
  // From who takes the next draw to its form in one tap, names filled in.
  const nextDraw = async () => {
    const page = await open(PHONE, { javaScriptEnabled: false });
    await page.goto(`${base}/next-draw`);
    const begin = page.getByRole("button", { name: "Begin: mark this draw" });
    if ((await begin.count()) > 0) {
      const offer = page.locator(".offer").filter({ has: begin }).first();
      const names = await offer.locator(".who strong").allInnerTexts();
      await begin.first().click();
      const chosen = await page.locator("#drawn, #watched").evaluateAll((all) => all.map((one) => one.selectedOptions[0].textContent.trim()));
      check(chosen[0] === names[0] && chosen[1].startsWith(names[1]), `nextDraw: both names are filled in, found ${chosen}`);
    } else {
      check(await says(page.locator("main"), "Nobody on duty may draw"), "nextDraw: where nobody watches, the page says so");
    }
    await page.context().close();
  };
  // Somebody goes on leave and comes back, on a phone without scripts; the record says both.
  const leave = async () => {
    const page = await open(PHONE, { javaScriptEnabled: false });
    await page.goto(`${base}/away?person=n034`);
    await page.selectOption("#away-who", { index: 1 });
    await page.screenshot({ path: join(folder, "away-phone.png"), fullPage: true });
    await page.getByRole("button", { name: "Write down that they are away" }).click();
    check(page.url().includes("/people/n034"), `leave: leads to the record, found ${page.url()}`);
    check(await says(page.locator("main"), "left the unit or on leave"), "leave: the record says so");
    await page.getByRole("link", { name: "Leave and return" }).click();
    check(await stands(page.locator("#coming"), 1), "leave: the form to come back is there");
    await page.selectOption("#back-who", { index: 1 });
    await page.getByRole("button", { name: "Write down that they are back" }).click();
    check(!(await page.locator("main").innerText()).includes("left the unit or on leave"), "leave: back, and where they stood");
    await page.context().close();
  };
  return { planned, nextDraw, leave };
}
