// The page in a browser, on a virtual rig: the job by clicking, and everything that ends it early.

import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";
import { Bench } from "./bench.mjs";

let bench;
let faults = "";
beforeEach(async () => { bench = await Bench.open(faults); });
afterEach(async () => { await bench.close(); });

async function restsWithin(ms) {
  const latest = Date.now() + ms;
  while ((await bench.state()).doing !== "nothing") {
    assert.ok(Date.now() < latest, "the bench never came to rest");
    await new Promise((done) => setTimeout(done, 50));
  }
}

test("connect, home, sweep and find the record, by clicking", async () => {
  await bench.operate();
  await bench.connectAndHome();
  await bench.page.getByRole("link", { name: "Sweep" }).click();
  await bench.page.getByLabel("Speed").press("Enter");
  assert.equal((await bench.state()).doing, "nothing");
  await bench.beginSweep({ speed: "10 mm/s" });
  await bench.agreeUntil(async () => /^Kept as/.test(await bench.endWords()));
  assert.equal(bench.metadata().state, "complete");
  // A loop ends where it began; the axis must span it all the same.
  const axis_mm = async () => Number(await bench.page.locator("canvas").getAttribute("data-axis-end"));
  assert.ok((await axis_mm()) >= 100, `the axis ends at ${await axis_mm()} mm`);
  await bench.page.getByRole("link", { name: "Records" }).click();
  await bench.page.getByRole("button", { name: "larch-160-001.csv" }).click();
  await bench.page.getByText(/Larch 160: \d+ rows/).waitFor();
  assert.match(await bench.page.locator("tbody").textContent(), /complete/);
  assert.ok((await axis_mm()) >= 100, `the axis ends at ${await axis_mm()} mm`);
  assert.deepEqual(bench.page.problems, []);
});

test("fit two sweeps, turn a knob, compare, and write a report, by clicking", async () => {
  await bench.operate();
  await bench.connectAndHome();
  for (const [pressure, name] of [["70 psi", "larch-160-001.csv"], ["95 psi", "larch-160-002.csv"]]) {
    await bench.beginSweep({ speed: "8 mm/s", to: "130 mm", pressure });
    await bench.agreeUntil(async () => (await bench.endWords()).includes(name));
  }
  const page = bench.page;
  for (const name of ["larch-160", "larch-160-002"]) {
    await page.getByRole("link", { name: "Fitted" }).click();
    await page.getByText("Fit sweeps of one fork").click();
    await page.getByLabel(/^Sweeps/).selectOption(["larch-160-001.csv", "larch-160-002.csv"]);
    await page.getByLabel("Name of the model").fill(name);
    await page.getByRole("button", { name: "Fit these sweeps" }).click();
    await page.getByText(/^Residual/).waitFor().catch(async (error) => {
      throw new Error(`${error.message}\n${await page.locator("body").innerText()}`);
    });
    assert.match(await page.locator("table.narrow").textContent(), /positive volume\d+/);
    await page.getByRole("link", { name: "Records" }).click();
  }
  await page.getByRole("link", { name: "Fitted" }).click();
  await page.getByLabel("Spacers").fill("3");
  await page.getByRole("link", { name: "Compare" }).click();
  await page.getByText("By thirds of the travel").waitFor();
  await page.getByLabel("Name of a new one").fill("twice");
  await page.getByRole("button", { name: "Write the report" }).click();
  const [report] = await Promise.all([page.context().waitForEvent("page"), page.getByRole("link", { name: "twice" }).click()]);
  await report.getByText("In short").waitFor();
  assert.deepEqual(page.problems, []);
});

test("Stop in the middle of a sweep, from a page that only watches", async () => {
  await bench.operate();
  await bench.connectAndHome();
  await bench.beginSweep({ speed: "1 mm/s", cycles: "200" });
  await bench.agreeUntil(() => bench.measuring());
  const watcher = await bench.newPage();
  await watcher.getByRole("button", { name: "Stop", exact: true }).click();
  await restsWithin(5000);
  assert.match((await bench.state()).message, /Stopped by the operator/);
  assert.equal(bench.metadata().state, "interrupted");
});

test("the operator's page closes in the middle of a sweep", async () => {
  await bench.operate();
  await bench.connectAndHome();
  await bench.beginSweep({ speed: "1 mm/s", cycles: "200" });
  await bench.agreeUntil(() => bench.measuring());
  await bench.page.close();
  await restsWithin(5000);
  assert.equal(bench.metadata().state, "interrupted");
});

test("a second tab of the same browser watches, and says so", async () => {
  await bench.operate();
  const second = await bench.newPage(bench.page.context());
  await second.getByText("This page watches; another one operates.").waitFor();
  await second.getByRole("button", { name: "Operate the rig from here" }).click();
  await second.getByText("Another page operates the rig; this one watches. Stop works from here.").waitFor();
  assert.ok(await second.getByRole("button", { name: "Connect", exact: true }).isDisabled());
  assert.ok(await second.getByRole("button", { name: "Stop", exact: true }).isEnabled());
  // The first one still operates.
  await bench.connectAndHome();
});

test("the program is killed and started again: the page says so, and nothing moves by itself", async () => {
  await bench.operate();
  await bench.connectAndHome();
  const port = bench.port;
  await bench.kill("SIGKILL");
  await bench.page.getByText("The program does not answer; the rig stops by itself.").waitFor();
  await bench.start(port);
  // What was entered before is void: the new address is needed.
  const page = await bench.newPage();
  await page.getByText("No rig is connected.").waitFor();
  assert.equal((await bench.state()).connected, false);
});

test("the cable is pulled in the middle of a sweep", async () => {
  await bench.close();
  bench = await Bench.open("unplug@40 mm");
  await bench.operate();
  await bench.connectAndHome();
  await bench.beginSweep({ speed: "10 mm/s" });
  await bench.agreeUntil(async () => (await bench.endWords()) !== "");
  assert.match(await bench.endWords(), /is gone|silent/);
  assert.equal(bench.metadata().state, "interrupted");
  await bench.page.getByRole("link", { name: "Rig", exact: true }).click();
  await bench.page.getByText("No rig is connected.").waitFor();
});

test("calibrate a load cell step by step, then check it with one weight, by clicking", async () => {
  const page = bench.page;
  await bench.operate();
  await bench.connectAndHome();
  await page.getByRole("link", { name: "Calibrate" }).click();
  await page.getByLabel("Loads or places").fill("0, 20, 40 kg");
  await page.getByLabel("Name of the certificate").fill("cell");
  await page.getByRole("button", { name: "Begin step by step" }).click();
  const talk = page.getByRole("log");
  const take = page.getByRole("button", { name: "Take it, or go on" });
  await take.waitFor();
  await page.locator(".status").filter({ hasText: "counts" }).waitFor();
  for (let step = 1; await take.isVisible(); ++step) {
    const asked = talk.filter({ hasText: `[${step}/` });
    await Promise.race([asked.waitFor(), take.waitFor({ state: "hidden" })]);
    if (await take.isVisible()) await take.click();
  }
  await page.locator("td").filter({ hasText: "cell.json" }).waitFor();
  assert.match(await talk.textContent(), /All \d+ readings are taken/);
  await page.getByRole("button", { name: "Check with this weight" }).click();
  await talk.filter({ hasText: /Within the expected interval/ }).waitFor();
  // The page's own connection is back; nothing is at home any more.
  await page.getByRole("link", { name: "Rig", exact: true }).click();
  await page.getByText("its position is unknown until it is homed").waitFor();
  assert.deepEqual(page.problems, []);
});

test("the carriage is jogged while the button is held, and not a moment longer", async () => {
  const page = bench.page;
  await bench.operate();
  await bench.connectAndHome();
  const at_mm = async () => (await bench.state()).travel_mm;
  const compress = page.getByRole("button", { name: "Hold: toward compression" });
  const before_mm = await at_mm();
  await compress.hover();
  await page.mouse.down();
  await page.locator("#live").filter({ hasText: "jogging" }).waitFor();
  while ((await at_mm()) < before_mm + 1) await page.waitForTimeout(20);
  await page.mouse.up();
  await restsWithin(2000);
  const after_mm = await at_mm();
  assert.equal((await bench.state()).message, "");
  // A page whose script has stopped holds nothing, however long the button is down.
  await compress.hover();
  await page.mouse.down();
  await page.locator("#live").filter({ hasText: "jogging" }).waitFor();
  await page.evaluate(() => { const end = Date.now() + 1500; while (Date.now() < end); });
  assert.equal((await bench.state()).doing, "nothing");
  assert.ok((await at_mm()) - after_mm < 5, `it went on for ${(await at_mm()) - after_mm} mm`);
  await page.mouse.up();
});

test("the cautions may be read for as long as one likes, before the first motion", async () => {
  const page = bench.page;
  await bench.operate();
  await page.getByRole("button", { name: "Connect", exact: true }).click();
  await page.getByText("is connected").waitFor();
  await page.getByRole("button", { name: "Home", exact: true }).click();
  await page.getByRole("dialog").getByText(/crush a hand/).waitFor();
  await page.waitForTimeout(2500);
  assert.equal((await bench.state()).homed, false);
  await page.getByRole("button", { name: "Yes, it may move" }).click();
  await page.getByText("its position is known").waitFor();
});

test("a phone watches: it reads, it stops, and it can do nothing else", async () => {
  await bench.operate();
  await bench.connectAndHome();
  const phone = await bench.newPage(await bench.browser.newContext({ viewport: { width: 360, height: 720 }, hasTouch: true }));
  await phone.getByText("This page watches; another one operates.").waitFor();
  await phone.getByLabel("Units").selectOption("imperial");
  await phone.locator(".unit").filter({ hasText: "lbf" }).waitFor();
  assert.ok(await phone.getByRole("button", { name: "Stop", exact: true }).isEnabled());
  for (const name of ["Home", "Disconnect", "Hold: toward extension"]) {
    assert.ok(await phone.getByRole("button", { name, exact: true }).isDisabled(), name);
  }
  for (const name of ["Rig", "Calibrate", "Sweep", "Records", "Fitted", "Compare"]) {
    await phone.getByRole("link", { name, exact: true }).click();
    await phone.getByRole("heading", { level: 2 }).waitFor();
    const wide = await phone.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    assert.ok(wide <= 0, `${name} is ${wide} pixels too wide`);
  }
});
