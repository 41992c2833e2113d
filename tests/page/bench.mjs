// The program with its page on a virtual rig, and a browser in front of it.

import { execFileSync, spawn } from "node:child_process";
import { cpSync, existsSync, mkdtempSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const [program, source] = [process.env.PROGRAM, process.env.SOURCE];
export const PATIENCE_MS = 150_000;

export function chromiumPath() {
  return ["/usr/bin/chromium", "/usr/bin/chromium-browser"].find((path) => existsSync(path));
}

export class Bench {
  // In an empty workshop, or in a copy of one.
  static async open(faults = "", workshop = "") {
    const bench = new Bench();
    bench.parent = mkdtempSync(join(tmpdir(), "springwright-"));
    bench.folder = join(bench.parent, "workshop");
    if (workshop) cpSync(workshop, bench.folder, { recursive: true });
    else execFileSync(program, ["init", bench.folder]);
    cpSync(join(source, "controller/virtual_rig/forks"), join(bench.folder, "virtual"), { recursive: true });
    cpSync(join(source, "controller/virtual_rig/forks/caliper"), join(bench.folder, "forks"), { recursive: true });
    bench.args = ["--rig", "virtual:virtual/larch_160.toml", ...(faults ? ["--virtual-faults", faults] : [])];
    await bench.start();
    await bench.look();
    return bench;
  }

  // With a rig that somebody else serves.
  static async openAt(folder, args) {
    const bench = new Bench();
    bench.parent = folder;
    bench.folder = join(folder, "workshop");
    execFileSync(program, ["init", bench.folder]);
    cpSync(join(source, "controller/virtual_rig/forks/caliper"), join(bench.folder, "forks"), { recursive: true });
    bench.args = args;
    await bench.start();
    await bench.look();
    return bench;
  }

  async look() {
    this.browser = await chromium.launch({ executablePath: chromiumPath(), args: ["--no-sandbox", "--disable-gpu"] });
    this.page = await this.newPage();
  }

  async start(port = 0) {
    this.server = spawn(program, ["panel", ...this.args, "--port", String(port)], { cwd: this.folder });
    this.said = "";
    this.server.stderr.on("data", (data) => { this.said += data; });
    this.address = await new Promise((good, bad) => {
      this.server.stdout.once("data", (data) => good(String(data).trim()));
      this.server.once("exit", () => bad(new Error(this.said)));
    });
    this.port = Number(new URL(this.address).port);
  }

  kill(signal) {
    return new Promise((done) => {
      this.server.once("exit", done);
      this.server.kill(signal);
    });
  }

  // A page that has entered; its own errors are the test's.
  async newPage(context = null) {
    const page = await (context ?? (await this.browser.newContext())).newPage();
    page.problems = [];
    page.on("pageerror", (error) => page.problems.push(error.message));
    page.on("console", (message) => {
      if (message.type() === "error" && !/ERR_|status of 4/.test(message.text())) page.problems.push(message.text());
    });
    page.setDefaultTimeout(PATIENCE_MS);
    await page.goto(this.address);
    await page.getByRole("heading", { name: "The rig" }).waitFor();
    return page;
  }

  async operate(page = this.page) {
    await page.getByRole("button", { name: "Operate the rig from here" }).click();
    await page.getByText("This page operates the rig.").waitFor();
  }

  async connectAndHome(page = this.page) {
    await page.getByRole("button", { name: "Connect", exact: true }).click();
    await page.getByText("is connected").waitFor();
    await page.getByRole("button", { name: "Home", exact: true }).click();
    await page.getByRole("button", { name: "Yes, it may move" }).click();
    await page.getByText("its position is known").waitFor();
  }

  async beginSweep({ speed = "4 mm/s", cycles = "1", to = "100 mm", pressure = "80 psi" } = {}, page = this.page) {
    await page.getByRole("link", { name: "Sweep" }).click();
    await page.getByLabel("Fork").selectOption({ label: "Larch 160" });
    await page.getByLabel("Pressure, at the gauge").fill(pressure);
    await page.getByLabel("Rest before").fill("1 s");
    await page.getByLabel("Speed").fill(speed);
    await page.getByLabel("Measuring cycles").fill(cycles);
    await page.getByLabel("To", { exact: true }).fill(to);
    await page.getByRole("button", { name: "Begin the sweep" }).click();
  }

  // Says Done to everything that is asked, until `end` is so.
  async agreeUntil(end, page = this.page) {
    const done = page.getByRole("button", { name: "Done" });
    const latest = Date.now() + PATIENCE_MS;
    while (!(await end())) {
      if (Date.now() > latest) {
        throw new Error(`it never came: ${JSON.stringify(await this.state())}\n${await page.locator("body").innerText()}`);
      }
      // The question may be gone by the time that the click arrives.
      if (await done.isVisible()) await done.click({ timeout: 500 }).catch(() => {});
      else await page.waitForTimeout(20);
    }
  }

  async measuring(page = this.page) {
    return /measuring/.test((await page.locator(".step").textContent()) ?? "");
  }

  async endWords(page = this.page) {
    return (await page.locator(".ended").textContent()) ?? "";
  }

  metadata() {
    const name = readdirSync(join(this.folder, "sweeps")).find((file) => file.endsWith("-metadata.json"));
    return name ? JSON.parse(readFileSync(join(this.folder, "sweeps", name), "utf8")).springwright : null;
  }

  async state() {
    const token = new URL(this.address).hash.slice(1);
    const response = await fetch(`http://127.0.0.1:${this.port}/api/state`, { headers: { Authorization: `Bearer ${token}` } });
    return (await response.json()).bench;
  }

  async close() {
    await this.browser.close();
    if (this.server.exitCode === null && this.server.signalCode === null) await this.kill("SIGTERM");
    rmSync(this.parent, { recursive: true, force: true });
  }
}
