#include "sim/io/report/html.hpp"

namespace emberline::io {

std::string_view html_style() {
  // Colour is a second hint everywhere: shapes, words and markers come first. Text has a contrast of 4.5:1 or
  // more (WCAG 2.1, success criterion 1.4.3).
  return R"css(
:root { color-scheme: light dark; --paper: #ffffff; --ink: #1b1f24; --soft: #50565e; --rule: #c9cdd2; --wash: #f2f3f5;
  --good: #14603a; --bad: #9c1a26; --open: #7a4a00; --bad-wash: #fbeeee; --open-wash: #fbf4e6;
  --c0: #1f4e8c; --c1: #9a3b12; --c2: #22664a; --c3: #6d3a86; --lane-a: #dfe6ee; --lane-b: #eee7da; }
@media screen and (prefers-color-scheme: dark) {
  :root { --paper: #16191d; --ink: #e6e8eb; --soft: #a9b0b8; --rule: #434a52; --wash: #20252b;
    --good: #7fd0a3; --bad: #ff9d9d; --open: #f0c26b; --bad-wash: #37201f; --open-wash: #332a17;
    --c0: #8fbcff; --c1: #ffab82; --c2: #86d6b1; --c3: #d6a8ee; --lane-a: #2b3a4b; --lane-b: #41382a; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 2rem 1.5rem 4rem; max-width: 66rem; background: var(--paper); color: var(--ink);
  font: 15px/1.45 system-ui, "DejaVu Sans", "Liberation Sans", Arial, sans-serif; font-variant-numeric: tabular-nums; }
h1 { font-size: 1.75rem; line-height: 1.2; margin: 0 0 .4rem; }
h2 { font-size: 1.4rem; line-height: 1.25; margin: 0 0 .4rem; }
h3 { font-size: 1.05rem; margin: 2rem 0 .5rem; padding-bottom: .2rem; border-bottom: 1px solid var(--rule); }
h4 { font-size: .95rem; margin: 1.1rem 0 .3rem; }
p { margin: .4rem 0; } .why { max-width: 46rem; } .soft { color: var(--soft); }
a { color: inherit; }
header { border-bottom: 3px solid var(--ink); padding-bottom: 1rem; margin-bottom: 1.4rem; }
.kicker { text-transform: uppercase; letter-spacing: .08em; font-size: .78rem; color: var(--soft); margin: 0 0 .3rem; }
.result { white-space: nowrap; font-weight: 700; } .result svg { width: 1em; height: 1em; vertical-align: -.12em; margin-right: .4em; }
.result .cross { stroke: var(--paper); stroke-width: 2.2; }
.result.good { color: var(--good); } .result.bad { color: var(--bad); } .result.open { color: var(--open); }
.stamp { font-size: 1.25rem; margin: .7rem 0; } .stamp .rest { font-weight: 400; color: var(--ink); }
.caution { border-left: 4px solid var(--ink); background: var(--wash); padding: .6rem .9rem; margin: 1rem 0; font-size: .9rem; }
dl.facts { display: grid; grid-template-columns: max-content 1fr; gap: .15rem 1rem; margin: .8rem 0; }
dl.facts dt { color: var(--soft); } dl.facts dd { margin: 0; overflow-wrap: anywhere; }
table { border-collapse: collapse; width: 100%; margin: .5rem 0 1rem; }
th { text-align: left; font-size: .8rem; color: var(--soft); border-bottom: 2px solid var(--rule); padding: .25rem .6rem .25rem 0; vertical-align: bottom; }
td { border-bottom: 1px solid var(--rule); padding: .35rem .6rem .35rem 0; vertical-align: top; overflow-wrap: break-word; }
td:first-child { white-space: nowrap; } td:last-child, th:last-child { padding-right: 0; }
td.n, th.n { text-align: right; white-space: nowrap; } td.t { white-space: nowrap; }
table.expectations td:first-child { width: 13.5rem; } table.expectations > * > * > :last-child { text-align: right; white-space: nowrap; } table.expectations tr.more td { text-align: left; white-space: normal; }
table.journal td:nth-child(2) { white-space: nowrap; }
tr.more > td { padding-top: 0; } tr.headed td { border-bottom: 0; }
.name { font-weight: 600; } .sentence { display: block; }
table.around { width: auto; margin: 0 0 .6rem; font-size: .85rem; } table.around td, table.around th { padding: .15rem 1.2rem .15rem 0; }
table.around tr.here td { font-weight: 700; background: var(--bad-wash); } table.around tr.here td:first-child::before { content: "\25B6\00A0"; }
code, .mono { font-family: ui-monospace, "DejaVu Sans Mono", "Liberation Mono", monospace; font-size: .86em; overflow-wrap: anywhere; }
ul.plain { list-style: none; padding: 0; margin: .4rem 0; } ul.plain li { margin: .15rem 0; } ul.plain li.in { padding-left: 1.4rem; color: var(--soft); }
.events { columns: 2; column-gap: 2rem; padding: 0; margin: .4rem 0 1rem; list-style: none; font-size: .9rem; }
.events li { break-inside: avoid; padding: .1rem 0 .1rem 2.6rem; text-indent: -2.6rem; } .events b { display: inline-block; min-width: 2.2rem; text-indent: 0; margin-right: .4rem; }
.events li.bad b { color: var(--bad); }
figure { margin: .6rem 0 .9rem; } figcaption { font-size: .85rem; font-weight: 600; }
svg.plot { display: block; width: 100%; height: auto; overflow: visible; }
svg.plot text { font-size: 12px; fill: var(--ink); } svg.plot .axis { fill: var(--soft); } svg.plot .strong { font-weight: 700; }
svg.plot .grid { stroke: var(--rule); stroke-width: .7; } svg.plot .frame { stroke: var(--soft); fill: none; stroke-width: .8; }
svg.plot .mark { stroke: var(--soft); stroke-width: 1; stroke-dasharray: 2 3; } svg.plot .fail { stroke: var(--bad); stroke-width: 1.5; }
svg.plot .failband { fill: var(--bad); opacity: .1; } svg.plot .failtext { fill: var(--bad); font-weight: 700; }
svg.plot .curve { fill: none; stroke-width: 1.5; stroke-linejoin: round; } svg.plot .lead { fill: none; stroke-width: .7; }
svg.plot .lane { stroke: var(--soft); stroke-width: .6; } svg.plot .restless { fill: var(--soft); opacity: .55; }
svg .k0 { stroke: var(--c0); } svg .k1 { stroke: var(--c1); } svg .k2 { stroke: var(--c2); } svg .k3 { stroke: var(--c3); }
svg .f0 { fill: var(--c0); } svg .f1 { fill: var(--c1); } svg .f2 { fill: var(--c2); } svg .f3 { fill: var(--c3); }
svg .la { fill: var(--lane-a); } svg .lb { fill: var(--lane-b); }
.gauge { display: inline-block; width: 9rem; height: .7rem; border: 1px solid var(--soft); vertical-align: -.05rem; } .gauge i { display: block; height: 100%; background: var(--soft); }
section.rehearsal { margin-top: 4rem; border-top: 3px solid var(--ink); padding-top: 1rem; } section.rehearsal.only { margin-top: 0; border-top: 0; padding-top: 0; }
.sign { display: none; }
@page { size: A4; margin: 16mm 14mm 18mm; }
@media print {
  body { max-width: none; padding: 0; font-size: 9.5pt; } h1 { font-size: 17pt; } h2 { font-size: 14pt; } h3 { font-size: 11pt; }
  section.rehearsal { break-before: page; margin-top: 0; border-top: 0; padding-top: 0; } section.rehearsal.only { break-before: auto; }
  h1, h2, h3, h4 { break-after: avoid; } tr, figure, .caution, .keep, ul.plain li { break-inside: avoid; } thead { display: table-header-group; }
  tr.headed { break-after: avoid; } p { orphans: 3; widows: 3; }
  table { font-size: 8.8pt; } .gauge i, .lane, tr.here td, .failband { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  .sign { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 2rem; margin-top: 14mm; break-inside: avoid; } .sign span { border-top: 1px solid var(--ink); padding-top: 1mm; }
}
@media screen and (max-width: 46rem) { .events { columns: 1; } table { display: block; overflow-x: auto; } table.expectations td:first-child { width: auto; } }
)css";
}

}  // namespace emberline::io
