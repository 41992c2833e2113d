// Curves over travel: the spring of one fork or of two, or their difference with its band. They differ in dash as
// well as in tone.

import { Chart, Filler, Legend, LinearScale, LineElement, PointElement, ScatterController } from "chart.js";
import { axis } from "./axis";
import { inUnit, units } from "./units";

Chart.register(Filler, Legend, LinearScale, LineElement, PointElement, ScatterController);

export interface Curve {
  label: string;
  travel_mm: number[];
  force_N: number[];
  dash?: number[];
  tone?: "ink" | "line";
  band_N?: number[]; // to either side
}

export class Curves {
  private chart: Chart<"scatter"> | null = null;

  // `label`: what the force axis says.
  constructor(private readonly canvas: HTMLCanvasElement, private readonly label = "force") {}

  show(curves: Curve[]): void {
    const datasets = curves.flatMap((curve) => this.lines(curve));
    if (this.chart) {
      this.chart.data.datasets = datasets;
      this.chart.update("none");
      return;
    }
    const ink = getComputedStyle(document.body).getPropertyValue("--ink");
    this.chart = new Chart(this.canvas, {
      type: "scatter",
      data: { datasets },
      options: {
        animation: false, maintainAspectRatio: false,
        plugins: {
          legend: {
            onClick: () => undefined,
            labels: { color: ink, font: { size: 15 }, boxWidth: 48, boxHeight: 0, filter: ({ text }) => text !== "" },
          },
        },
        scales: {
          x: axis(`travel (${units().travel.unit})`),
          y: { ...axis(`${this.label} (${units().force.unit})`), beginAtZero: true },
        },
      },
    });
  }

  private lines(curve: Curve) {
    const style = getComputedStyle(document.body);
    const { travel, force } = units();
    const points = (sign: number) => curve.travel_mm.map((x, i) => ({
      x: inUnit(x, travel), y: inUnit((curve.force_N[i] ?? 0) + sign * (curve.band_N?.[i] ?? 0), force) }));
    const line = (sign: number, more: object) => ({
      label: "", data: points(sign), showLine: true, pointRadius: 0, borderWidth: 2.5,
      borderColor: style.getPropertyValue(curve.tone === "ink" ? "--ink" : "--line"), borderDash: curve.dash ?? [], ...more,
    });
    const middle = line(0, { label: curve.label });
    if (!curve.band_N) return [middle];
    const edge = { borderWidth: 1, borderDash: [2, 3] };
    return [middle, line(1, edge),
      line(-1, { ...edge, fill: "-1", backgroundColor: style.getPropertyValue("--shade"), label: "95 % band, all travels together" })];
  }
}
