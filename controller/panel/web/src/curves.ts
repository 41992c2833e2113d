// Curves over travel: the spring of one fork or of two, in lines that differ in dash as well as in tone.

import { Chart, Legend, LinearScale, LineElement, PointElement, ScatterController } from "chart.js";
import { axis } from "./axis";

Chart.register(Legend, LinearScale, LineElement, PointElement, ScatterController);

export interface Curve {
  label: string;
  travel_mm: number[];
  force_N: number[];
  dash?: number[];
  tone?: "ink" | "line";
}

export class Curves {
  private chart: Chart<"scatter"> | null = null;

  constructor(private readonly canvas: HTMLCanvasElement) {}

  show(curves: Curve[]): void {
    const style = getComputedStyle(document.body);
    const ink = style.getPropertyValue("--ink");
    const datasets = curves.map((curve) => ({
      label: curve.label,
      data: curve.travel_mm.map((x, i) => ({ x, y: curve.force_N[i] ?? 0 })),
      showLine: true,
      pointRadius: 0,
      borderWidth: 2.5,
      borderColor: style.getPropertyValue(curve.tone === "ink" ? "--ink" : "--line"),
      borderDash: curve.dash ?? [],
    }));
    if (this.chart) {
      this.chart.data.datasets = datasets;
      this.chart.update("none");
      return;
    }
    this.chart = new Chart(this.canvas, {
      type: "scatter",
      data: { datasets },
      options: {
        animation: false, parsing: false, maintainAspectRatio: false,
        plugins: { legend: { labels: { color: ink, font: { size: 15 }, boxWidth: 48, boxHeight: 0 } } },
        scales: { x: axis("travel (mm)"), y: { ...axis("force (N)"), beginAtZero: true } },
      },
    });
  }
}
