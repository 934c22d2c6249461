"""How the printed pages look: black on white, A4, lines far enough apart for a pencil; readable on a small screen."""

from __future__ import annotations

STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 206mm; color: #000; background: #fff;
  font: 1rem/1.4 system-ui, sans-serif; }
h1 { font-size: 1.5rem; margin: 0; }
h2 { font-size: 1.2rem; margin: 0; }
section { margin-top: 2.5rem; }
.head { display: flex; justify-content: space-between; align-items: baseline; }
.head p { margin: 0; }
.blanks { display: flex; flex-wrap: wrap; gap: 0 4mm; margin: 0 0 3mm; padding: 0; list-style: none; }
.blanks li { display: flex; flex: 1 1 32mm; align-items: flex-end; min-height: 9mm; }
.blank { flex: 1; margin-left: 1.5mm; border-bottom: 0.3mm solid #000; }
.wide { overflow-x: auto; }
table { width: 188mm; border-collapse: collapse; table-layout: fixed; border: 0.5mm solid #000; }
th, td { border: 0.15mm solid #000; padding: 0 1mm; }
thead th { height: 10mm; border-bottom: 0.5mm solid #000; font-size: 0.8rem; line-height: 1.15; text-align: left;
  vertical-align: bottom; padding-bottom: 1mm; }
tbody th { font-weight: normal; text-align: right; }
tbody tr { height: 7.5mm; }
.days tbody tr { height: 7mm; }
tbody tr:nth-child(5n) > * { border-bottom-width: 0.45mm; }
.legend { margin: 3mm 0 0; font-size: 0.9rem; }
.legend div { display: inline; }
.legend div + div::before { content: "\\00b7"; margin: 0 0.4em; }
.legend dt, .legend dd { display: inline; margin: 0; }
.legend dt { font-weight: bold; }
.legend dt::after { content: " "; }
.foot { margin: 2mm 0 0; padding-top: 1mm; border-top: 0.3mm solid #000; font-size: 0.9rem; }
@page { size: A4 portrait; margin: 10mm 8mm 10mm 14mm; }
@media print {
  body { margin: 0; padding: 0; max-width: none; font-size: 10pt; }
  .screen { display: none; }
  section { margin: 0; break-after: page; break-inside: avoid; }
  section:last-child { break-after: auto; }
  .wide { overflow: visible; }
  thead th { font-size: 8pt; }
  .legend, .foot { font-size: 7.5pt; line-height: 1.25; }
  tr { break-inside: avoid; }
}
"""
