// Pictures of every view, for whoever changes the page: desktop, tablet and phone, light and dark, at twice the zoom.
// Usage: PROGRAM=... SOURCE=... node gallery.mjs WORKSHOP FOLDER, in a folder in which playwright-core is installed.
// WORKSHOP holds at least two fitted models, as the demonstration leaves them.

import { mkdirSync } from "node:fs";
import { Bench } from "./bench.mjs";

const [workshop, folder] = process.argv.slice(2);
const SIZES = {
  desktop: { viewport: { width: 1280, height: 900 } },
  tablet: { viewport: { width: 820, height: 1180 }, hasTouch: true },
  phone: { viewport: { width: 390, height: 844 }, hasTouch: true, deviceScaleFactor: 2 },
  // What a zoom of 200 % leaves of a desktop.
  zoomed: { viewport: { width: 640, height: 450 }, deviceScaleFactor: 2 },
};
const VIEWS = ["Rig", "Calibrate", "Sweep", "Records", "Fitted", "Compare"];
// The figures follow what they are asked by a moment; nothing else on the page says that they are drawn.
const DRAWN_MS = 900;

mkdirSync(folder, { recursive: true });
const bench = await Bench.open("", workshop);
await bench.operate();
await bench.connectAndHome();

const pages = [];
for (const [size, options] of Object.entries(SIZES)) {
  for (const colorScheme of ["light", "dark"]) {
    const page = await bench.newPage(await bench.browser.newContext({ ...options, colorScheme }));
    pages.push({ page, name: `${size}-${colorScheme}` });
  }
}
const each = (work) => Promise.all(pages.map(work));
for (const view of VIEWS) {
  for (const { page, name } of pages) {
    await page.getByRole("link", { name: view, exact: true }).click();
    await page.getByRole("heading", { level: 2 }).waitFor();
    if (view === "Records") await page.locator("tbody button").first().click();
    if (view === "Compare") await page.getByText("By thirds of the travel").waitFor();
    await page.waitForTimeout(DRAWN_MS);
    await page.screenshot({ path: `${folder}/${view.toLowerCase()}-${name}.png`, fullPage: true });
  }
}
await each(({ page }) => page.getByRole("link", { name: "Sweep", exact: true }).click());
await bench.beginSweep({ speed: "2 mm/s", cycles: "40", to: "146 mm" });
await bench.page.getByRole("button", { name: "Done" }).waitFor();
for (const { page, name } of pages) await page.screenshot({ path: `${folder}/question-${name}.png` });
await bench.agreeUntil(() => bench.measuring());
await bench.page.waitForTimeout(2 * DRAWN_MS);
for (const { page, name } of pages) await page.screenshot({ path: `${folder}/sweeping-${name}.png` });
await bench.page.getByRole("button", { name: "Stop", exact: true }).click();
await bench.close();
