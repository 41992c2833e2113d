// The loop on the screen: force against travel in the order of measuring, thinned to what can be seen.

import { Chart, LinearScale, LineElement, PointElement, ScatterController } from "chart.js";
import { axis } from "./axis";
import type { Point } from "./state";
import { inUnit, units } from "./units";

Chart.register(LinearScale, LineElement, PointElement, ScatterController);

// More than a screen has columns, up and down.
const POINTS_MAX = 4000;

// The points of one loop, however many come: every second one goes where there are too many.
export class LoopPoints {
  points: Point[] = [];
  seen = 0;
  private everyNth = 1;

  clear(): void {
    this.points = [];
    this.everyNth = 1;
    this.seen = 0;
  }

  add(points: Point[]): void {
    for (const point of points) {
      if (this.seen++ % this.everyNth === 0) this.points.push(point);
    }
    if (this.points.length > POINTS_MAX) {
      this.points = this.points.filter((_, i) => i % 2 === 0);
      this.everyNth *= 2;
    }
  }
}

export class Loop {
  private readonly chart: Chart<"scatter">;
  private waiting = false;

  constructor(canvas: HTMLCanvasElement, private readonly loop: LoopPoints) {
    const line = getComputedStyle(document.body).getPropertyValue("--line");
    this.chart = new Chart(canvas, {
      type: "scatter",
      data: { datasets: [{ data: [], showLine: true, borderColor: line, borderWidth: 2, pointRadius: 0 }] },
      options: {
        animation: false,
        // Not "parsing: false": the library would take the points for sorted, and see the last one alone.
        maintainAspectRatio: false,
        plugins: { legend: { display: false } },
        scales: { x: axis(`travel (${units().travel.unit})`), y: axis(`force (${units().force.unit})`) },
      },
    });
    this.redrawSoon();
  }

  destroy(): void {
    this.chart.destroy();
  }

  redrawSoon(): void {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      if (!this.chart.ctx) return; // destroyed meanwhile
      const { travel, force } = units();
      const set = this.chart.data.datasets[0];
      if (set) set.data = this.loop.points.map(([x, y]) => ({ x: inUnit(x, travel), y: inUnit(y, force) }));
      this.chart.update("none");
      this.describe();
    });
  }

  // For whoever does not see it; and what its axis spans and how often it was drawn, for whoever doubts it.
  private describe(): void {
    const { canvas } = this.chart;
    const { travel, force } = units();
    const travels = this.loop.points.map(([x]) => inUnit(x, travel));
    const forces = this.loop.points.map(([, y]) => inUnit(y, force));
    if (travels.length > 0) {
      canvas.setAttribute("aria-label", `Force against travel: ${Math.min(...travels).toFixed(travel.digits)} to ` +
        `${Math.max(...travels).toFixed(travel.digits)} ${travel.unit}, up to ${Math.max(...forces).toFixed(0)} ${force.unit}`);
    }
    canvas.dataset.axisEnd = String(this.chart.scales.x?.max ?? 0);
    canvas.dataset.points = String(travels.length);
    canvas.dataset.seen = String(this.loop.seen);
    canvas.dataset.redraws = String(Number(canvas.dataset.redraws ?? 0) + 1);
  }
}
