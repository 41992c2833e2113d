// An axis as every figure of the page has it.

export function axis(text: string) {
  const style = getComputedStyle(document.body);
  const ink = style.getPropertyValue("--ink");
  return {
    type: "linear" as const,
    title: { display: true, text, color: ink, font: { size: 16 } },
    ticks: { color: ink, font: { size: 14 } },
    grid: { color: style.getPropertyValue("--faint") },
  };
}
