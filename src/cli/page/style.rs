//! The page's style: one column of paper, wide things scroll by themselves.

pub(super) const SHEET: &str = "
:root { color-scheme: light dark; --ground: #fbfaf7; --ink: #1d1c1a; --soft: #5d5a54; --line: #d8d3c8; --card: #ffffff;
  --band: #efeae0; --mark: #8a4b08; --before: #7a4fa3; --after: #0b6e4f; }
@media (prefers-color-scheme: dark) {
  :root { --ground: #171614; --ink: #efece6; --soft: #b3aea4; --line: #3d3a35; --card: #201f1c; --band: #2a2824;
    --mark: #f0b35a; --before: #c9a6f0; --after: #6fd6ae; }
}
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 72rem; padding: 1rem 1rem 4rem; background: var(--ground); color: var(--ink);
  font: 1rem/1.5 Georgia, 'Times New Roman', serif; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: .5rem 0; }
h2 { font-size: 1.3rem; margin: 2.5rem 0 .5rem; border-bottom: 1px solid var(--line); padding-bottom: .25rem; }
h3, h4 { font-size: 1.05rem; margin: 0 0 .25rem; }
h3 { margin-top: 1rem; }
.cue h3, .cue h4 { margin-top: 0; }
.list { padding-left: 1.2rem; }
.list li { margin: .6rem 0; overflow-wrap: anywhere; }
p { max-width: 46rem; margin: .5rem 0; }
a { color: inherit; }
.soft, caption, figcaption { color: var(--soft); font-size: .85rem; }
nav a { margin-right: 1rem; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; font-size: .9rem; min-width: 36rem; }
caption { text-align: left; padding-bottom: .25rem; }
th, td { text-align: left; padding: .25rem .75rem .25rem 0; border-bottom: 1px solid var(--line); vertical-align: top;
  font-variant-numeric: tabular-nums; font-weight: normal; }
thead th { color: var(--soft); white-space: nowrap; }
.cue { background: var(--card); border: 1px solid var(--line); border-radius: .4rem; padding: .75rem 1rem; margin: .75rem 0;
  break-inside: avoid; }
.strip { display: flex; flex-wrap: wrap; gap: .5rem; margin-top: .5rem; }
.strip figure { margin: 0; width: min-content; min-width: 5rem; }
.strip img { display: block; width: auto; height: 7.5rem; background: #000; }
.strip img + img { margin-top: 2px; }
figcaption { overflow-wrap: anywhere; line-height: 1.3; padding-top: .2rem; }
.swatch { display: inline-block; width: .9em; height: .9em; border: 1px solid var(--ink); border-radius: 50%;
  vertical-align: -.1em; margin-right: .3em; }
.washes span { margin-right: .9rem; white-space: nowrap; }
svg { display: block; min-width: 44rem; width: 100%; height: auto; font: 11px Georgia, serif; }
svg text { fill: var(--ink); }
svg .soft { fill: var(--soft); }
svg .band { fill: var(--band); }
svg .grid { stroke: var(--line); }
svg .before { stroke: var(--before); fill: none; stroke-width: 1.5; }
svg .after { stroke: var(--after); fill: none; stroke-width: 2; stroke-linejoin: round; }
.unsure { color: var(--mark); }
footer { margin-top: 3rem; }
@media print {
  :root { --ground: #fff; --ink: #000; --soft: #444; --line: #bbb; --card: #fff; --band: #eee; --before: #5b2e8a; --after: #00563c; }
  body { max-width: none; font-size: 10pt; padding: 0; }
  nav { display: none; }
  .wide { overflow: visible; }
  svg { min-width: 0; }
  .swatch, .strip img { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
";
