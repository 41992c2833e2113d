// The loop on the screen: force against travel in the order of measuring, thinned to what can be seen.

import { Chart, LinearScale, LineElement, PointElement, ScatterController } from "chart.js";
import { axis } from "./axis";
import type { Point } from "./state";

Chart.register(LinearScale, LineElement, PointElement, ScatterController);

const POINTS_MAX = 4000;

export class Loop {
  private readonly chart: Chart<"scatter">;
  private points: Point[] = [];
  private everyNth = 1;
  private seen = 0;
  private waiting = false;

  constructor(canvas: HTMLCanvasElement) {
    const line = getComputedStyle(document.body).getPropertyValue("--line");
    this.chart = new Chart(canvas, {
      type: "scatter",
      data: { datasets: [{ data: [], showLine: true, borderColor: line, borderWidth: 2, pointRadius: 0 }] },
      options: {
        animation: false,
        // Not "parsing: false": the library would take the points for sorted, and see the last one alone.
        maintainAspectRatio: false,
        plugins: { legend: { display: false } },
        scales: { x: axis("travel (mm)"), y: axis("force (N)") },
      },
    });
  }

  clear(): void {
    this.points = [];
    this.everyNth = 1;
    this.seen = 0;
    this.redrawSoon();
  }

  add(points: Point[]): void {
    for (const point of points) {
      if (this.seen++ % this.everyNth === 0) this.points.push(point);
    }
    if (this.points.length > POINTS_MAX) {
      this.points = this.points.filter((_, i) => i % 2 === 0);
      this.everyNth *= 2;
    }
    this.redrawSoon();
  }

  destroy(): void {
    this.chart.destroy();
  }

  // For whoever does not see it; and what its axis spans, for whoever doubts it.
  private describe(): void {
    const travels = this.points.map(([travel]) => travel);
    const forces = this.points.map(([, force]) => force);
    if (travels.length > 0) {
      this.chart.canvas.setAttribute("aria-label", `Force against travel: ${Math.min(...travels).toFixed(0)} to ` +
        `${Math.max(...travels).toFixed(0)} mm, up to ${Math.max(...forces).toFixed(0)} N`);
    }
    this.chart.canvas.dataset.axisMm = String(this.chart.scales.x?.max ?? 0);
  }

  private redrawSoon(): void {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      const set = this.chart.data.datasets[0];
      if (set) set.data = this.points.map(([x, y]) => ({ x, y }));
      this.chart.update("none");
      this.describe();
    });
  }
}
