// The live loop under load: a rig that sends 80, then 1,000 samples a second in real time, one page that operates and
// draws, twenty plain clients that watch. Prints what was lost, how often the page redrew, what the program took.
// Usage: PROGRAM=... SOURCE=... RIG=.../witnessed_rig node load.mjs, in a folder in which playwright-core is installed.

import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { request } from "node:http";
import { connect } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Bench } from "./bench.mjs";

const { PROGRAM: program, SOURCE: source, RIG: rig } = process.env;
const WATCHERS = 20;
const SEEN_MIN = 20_000; // samples that the page holds, thinned, while its redraws are counted
const COUNT_MS = 5_000;

// A browser's cookie without a browser.
function enter(bench) {
  const { host, hash } = new URL(bench.address);
  const body = JSON.stringify({ token: hash.slice(1) });
  return new Promise((good, bad) => {
    request({ port: bench.port, host: "127.0.0.1", method: "POST", path: "/api/enter",
      headers: { Host: host, Origin: `http://${host}`, "Content-Type": "application/json", "Content-Length": body.length } },
    (answer) => {
      answer.resume();
      good(answer.headers["set-cookie"][0].split(";")[0]);
    }).on("error", bad).end(body);
  });
}

// Reads what comes and does nothing with it.
function watch(bench, cookie) {
  const { host } = new URL(bench.address);
  const watcher = { bytes: 0, ended: false };
  watcher.socket = connect(bench.port, "127.0.0.1", () => watcher.socket.write(
    `GET /live HTTP/1.1\r\nHost: ${host}\r\nOrigin: http://${host}\r\nCookie: ${cookie}\r\nConnection: Upgrade\r\n` +
    "Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"));
  watcher.socket.on("data", (data) => { watcher.bytes += data.length; });
  watcher.socket.on("close", () => { watcher.ended = true; });
  return watcher;
}

// Processor seconds so far, and resident memory in MB.
function taken(pid) {
  const ticks = readFileSync(`/proc/${pid}/stat`, "utf8").split(") ")[1].split(" ");
  const pages = Number(readFileSync(`/proc/${pid}/statm`, "utf8").split(" ")[1]);
  return { cpu_s: (Number(ticks[11]) + Number(ticks[12])) / 100, memory_MB: (pages * 4096) / 1e6 };
}

function serveRig(folder, samples_per_s) {
  cpSync(join(source, "controller/virtual_rig/forks"), join(folder, "virtual"), { recursive: true });
  const bench = join(folder, "virtual/bench.toml");
  writeFileSync(bench, readFileSync(bench, "utf8").replace(/samples_per_s = .*/, `samples_per_s = ${samples_per_s}.0`));
  const served = spawn(rig, [join(folder, "virtual/larch_160.toml"), "80", "1", join(folder, "witness.txt")]);
  return new Promise((good) => served.stdout.once("data", (data) => good({ served, port: String(data).trim() })));
}

// Every row as the rig sent it, and within a stroke one after the other; between two strokes the rig stands, and sends
// what is no row. RETURNS the number of rows, and what the record itself says was lost.
function compareRows(folder) {
  const sweeps = join(folder, "workshop/sweeps");
  const record = readdirSync(sweeps).find((file) => file.endsWith(".csv"));
  const rows = readFileSync(join(sweeps, record), "utf8").trim().split("\r\n").slice(1).map((line) => {
    const [, stroke, , , steps, counts] = line.split(",");
    return { stroke, sample: `${steps} ${counts}` };
  });
  const sent = readFileSync(join(folder, "witness.txt"), "utf8").trim().split("\n").map((line) => line.split(" ").slice(1).join(" "));
  const follows = (first) => {
    let at = first;
    return rows.every(({ stroke, sample }, i) => {
      if (i > 0 && stroke !== rows[i - 1].stroke) at = sent.indexOf(sample, at);
      return at >= 0 && sent[at++] === sample;
    });
  };
  for (let first = sent.indexOf(rows[0].sample); first >= 0; first = sent.indexOf(rows[0].sample, first + 1)) {
    if (!follows(first)) continue;
    const { counters } = JSON.parse(readFileSync(join(sweeps, `${record}-metadata.json`), "utf8")).springwright;
    return { rows: rows.length, lost: counters.lost_samples };
  }
  throw new Error("the record's rows are not what the rig sent");
}

async function play(samples_per_s, certificate) {
  const folder = mkdtempSync(join(tmpdir(), "springwright-"));
  const { served, port } = await serveRig(folder, samples_per_s);
  const bench = await Bench.openAt(folder, ["--rig", port, "--force-calibration", certificate]);
  const cookie = await enter(bench);
  const watchers = Array.from({ length: WATCHERS }, () => watch(bench, cookie));
  await bench.operate();
  await bench.connectAndHome();
  await bench.beginSweep({ speed: samples_per_s > 100 ? "8 mm/s" : "12 mm/s", cycles: "1", to: "140 mm" });
  await bench.agreeUntil(async () => /cycle/.test((await bench.page.locator(".step").textContent()) ?? ""));
  const begin = { at: Date.now(), ...taken(bench.server.pid) };
  const canvas = bench.page.locator("canvas");
  const number = async (name) => Number(await canvas.getAttribute(`data-${name}`));
  const wanted = samples_per_s > 100 ? SEEN_MIN : 20 * samples_per_s;
  while ((await number("seen")) < wanted) await bench.page.waitForTimeout(100);
  const redraws = await number("redraws");
  const from = Date.now();
  await bench.page.waitForTimeout(COUNT_MS);
  const perSecond = ((await number("redraws")) - redraws) / ((Date.now() - from) / 1000);
  const [seen, drawn] = [await number("seen"), await number("points")];
  await bench.agreeUntil(async () => (await bench.endWords()) !== "");
  const end = { at: Date.now(), ...taken(bench.server.pid) };
  const words = await bench.endWords();
  assert.match(words, /^Kept as/, words);
  const { rows, lost } = compareRows(folder);
  const received = watchers.map(({ bytes }) => bytes);
  assert.ok(watchers.every(({ ended }) => !ended), "a watcher was let go");
  console.log(`${samples_per_s} samples/s, ${WATCHERS} watchers: ${rows} rows in the record, ${lost} lost; ` +
    `the page redrew ${perSecond.toFixed(1)} times a second having been sent ${seen} samples, ${drawn} of them drawn; ` +
    `the program took ${(100 * (end.cpu_s - begin.cpu_s) / ((end.at - begin.at) / 1000)).toFixed(1)} % of a processor and ` +
    `${begin.memory_MB.toFixed(1)} to ${end.memory_MB.toFixed(1)} MB; each watcher got ${(Math.min(...received) / 1e3).toFixed(0)} to ` +
    `${(Math.max(...received) / 1e3).toFixed(0)} kB`);
  for (const { socket } of watchers) socket.destroy();
  served.stdin.end();
  await bench.close();
}

const shared = mkdtempSync(join(tmpdir(), "springwright-"));
const readings = ["force_N,counts,series,direction"];
for (const series of [1, 2, 3]) {
  for (let force = 0; force <= 2500; force += 250) {
    readings.push(`${force},${(41269 + 837.31 * force + 3 * (-1) ** series).toFixed(1)},${series},ascending`);
  }
}
writeFileSync(join(shared, "readings.csv"), readings.join("\n") + "\n");
const certificate = join(shared, "force.json");
execFileSync(program, ["calibrate", "force", join(shared, "readings.csv"), "--out", certificate]);
await play(80, certificate);
await play(1000, certificate);
