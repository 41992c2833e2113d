#include "fitting/report/style_sheet.hpp"

namespace fitting {

// Dark ink on white paper, one column of text, tables and figures of the column's width; a wide
// table or figure scrolls within itself on a phone, never the page.
std::string_view report_style_sheet() {
  return R"css(
:root { color-scheme: light; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body { margin: 0; background: #ffffff; color: #1b1f24;
  font: 17px/1.55 Charter, "Bitstream Charter", "Source Serif 4", "DejaVu Serif", Georgia, serif; }
main { max-width: 47rem; margin: 0 auto; padding: 2.6rem 1.2rem 4rem; }
h1, h2, h3, .kicker, table, figcaption, .toc, footer, .note strong {
  font-family: "Source Sans 3", "Helvetica Neue", "DejaVu Sans", Arial, sans-serif; }
.kicker { margin: 0 0 0.5rem; font-size: 0.8rem; letter-spacing: 0.08em;
  text-transform: uppercase; color: #565e68; }
h1 { margin: 0; font-size: 2.1rem; line-height: 1.18; letter-spacing: -0.01em;
  overflow-wrap: anywhere; }
.subtitle { margin: 0.6rem 0 0; color: #565e68; font-size: 1.05rem; overflow-wrap: anywhere; }
h2 { margin: 3.2rem 0 0.7rem; padding-top: 0.8rem; border-top: 2px solid #1b1f24;
  font-size: 1.32rem; line-height: 1.25; }
p { margin: 0.75rem 0; hyphens: auto; overflow-wrap: break-word; }
ul, ol { margin: 0.75rem 0; padding-left: 1.3rem; }
li { margin: 0.35rem 0; }
.summary { margin: 1.9rem 0 0; padding: 1.1rem 1.4rem 1.2rem; background: #f3f5f7;
  border-left: 4px solid #123f6b; }
.summary h2 { margin: 0; padding: 0; border: 0; font-size: 1.05rem; }
.summary ol { margin: 0.5rem 0 0; }
.summary a { margin-left: 0.35rem; font-size: 0.85em; white-space: nowrap; }
a { color: #123f6b; }
.toc { margin: 1.5rem 0 0; font-size: 0.86rem; line-height: 1.9; color: #565e68; }
.toc a { margin-right: 1.1rem; white-space: nowrap; }
.note { margin: 1rem 0; padding: 0.65rem 1rem; border-left: 4px solid #9aa3ad;
  background: #f7f8fa; font-size: 0.95rem; }
.note.caution { border-left: 4px double #a33a12; background: #fdf6f1; }
figure { margin: 1.7rem -0.9rem; }
figure img { display: block; width: 100%; height: auto; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 1.2rem; }
.pair figure { margin: 0.8rem 0; }
.pair { margin: 0 -0.9rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 0.84rem; line-height: 1.4;
  font-variant-numeric: tabular-nums lining-nums; }
caption { padding: 0 0 0.5rem; text-align: left; font-weight: 600; font-size: 0.92rem; }
.table { margin: 1.7rem 0; }
th, td { padding: 0.36rem 0.9rem 0.36rem 0; text-align: left; vertical-align: top; }
th:last-child, td:last-child { padding-right: 0; }
thead th { border-bottom: 1.5px solid #1b1f24; font-weight: 600; vertical-align: bottom; }
tbody th { font-weight: 400; }
tbody tr { border-bottom: 1px solid #dde1e6; }
.number { text-align: right; }
td.number { white-space: nowrap; }
footer { margin-top: 3.5rem; padding-top: 0.8rem; border-top: 1px solid #dde1e6;
  font-size: 0.8rem; color: #565e68; }
@media (max-width: 38rem) {
  body { font-size: 16px; }
  main { padding: 1.5rem 1rem 3rem; }
  h1 { font-size: 1.6rem; }
  .summary { padding: 0.9rem 1rem 1rem; }
  figure, .pair { margin-left: 0; margin-right: 0; }
  .pair { grid-template-columns: 1fr; }
  caption { position: sticky; left: 0; max-width: calc(100vw - 2rem); }
}
@page { size: A4; margin: 17mm 16mm 18mm; }
@media print {
  body { font-size: 10.2pt; line-height: 1.42; }
  main { max-width: none; padding: 0; }
  h1 { font-size: 21pt; }
  h2 { margin-top: 20pt; font-size: 13.5pt; break-after: avoid; }
  p, li { orphans: 3; widows: 3; }
  figure, .pair, tr, .table, .note, .summary { break-inside: avoid; }
  figure, .pair { margin-left: 0; margin-right: 0; }
  figure.full { width: 82%; }
  table { font-size: 8.2pt; }
  thead { display: table-header-group; }
  .scroll { overflow: visible; }
  .toc { display: none; }
  a { color: inherit; text-decoration: none; }
  .summary, .note { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
}
)css";
}

// The whole must go on two sheets of paper: small print, tables that do not stretch, figures side
// by side.
std::string_view certificate_style_sheet() {
  return R"css(
body { font-size: 15.5px; line-height: 1.45; }
main { max-width: 50rem; padding-top: 2rem; }
h1 { font-size: 1.8rem; }
h2 { margin: 1.7rem 0 0.4rem; padding-top: 0.5rem; font-size: 1.1rem; border-top-width: 1px; }
p { margin: 0.5rem 0; }
.subtitle { font-family: "Source Code Pro", "DejaVu Sans Mono", monospace; font-size: 0.82rem; }
.summary { margin-top: 1.1rem; padding: 0.7rem 1.1rem; }
.summary ol { padding-left: 1.1rem; }
.table { margin: 0.8rem 0; }
table { font-size: 0.8rem; line-height: 1.3; }
th, td { padding: 0.2rem 0.8rem 0.2rem 0; }
caption { padding-bottom: 0.25rem; font-size: 0.84rem; }
.note { margin: 0.6rem 0; padding: 0.4rem 0.8rem; font-size: 0.88rem; }
.pair figure { margin: 0.4rem 0; }
footer { margin-top: 1.6rem; }
@page { size: A4; margin: 12mm 14mm 13mm; }
@media print {
  body { font-size: 8.3pt; line-height: 1.3; }
  .kicker { margin-bottom: 1pt; font-size: 7pt; }
  h1 { font-size: 16pt; }
  h2 { margin: 7pt 0 2pt; padding-top: 3pt; font-size: 10pt; }
  p, li { margin: 2pt 0; }
  .subtitle { margin-top: 2pt; font-size: 7pt; }
  .summary { margin-top: 5pt; padding: 4pt 8pt; }
  .summary h2 { font-size: 9pt; }
  .summary a { display: none; }
  .table { margin: 4pt 0; }
  table { font-size: 7.2pt; line-height: 1.22; }
  th, td { padding: 1.1pt 7pt 1.1pt 0; }
  caption { padding-bottom: 1.5pt; font-size: 7.6pt; }
  .note { margin: 3pt 0; padding: 2pt 7pt; font-size: 7.8pt; }
  .pair figure { margin: 2pt 0; }
  .pair figure img { width: 92%; }
  footer { margin-top: 6pt; padding-top: 3pt; font-size: 7pt; }
}
)css";
}

}  // namespace fitting
