"""The style of the page to print: small type, two columns, nothing that needs colour; `FOOTER` is filled in."""

STYLE = """
@page { margin: 11mm 12mm 13mm;
  @bottom-left { content: "FOOTER"; font: 7pt sans-serif; color: #444 }
  @bottom-right { content: counter(page) " / " counter(pages); font: 7pt sans-serif; color: #444 } }
* { box-sizing: border-box }
html { font: 8pt/1.25 "DejaVu Sans", Verdana, Arial, sans-serif; color: #000; background: #fff }
body { margin: 0 auto; max-width: 190mm }
h1 { font-size: 14pt; margin: 0 }
h2 { font-size: 8.5pt; margin: 1.2mm 0 .4mm; border-bottom: .3mm solid #000; break-after: avoid }
.state { font-size: 9pt; border: .4mm solid #000; padding: 0 1.5mm; margin-left: 2mm; vertical-align: middle }
.about { list-style: none; margin: .8mm 0 0; padding: 0; display: flex; flex-wrap: wrap; gap: 0 5mm }
.caution { margin: .8mm 0; font-weight: bold }
.first { display: flex; gap: 5mm; align-items: flex-start; break-inside: avoid }
.first > div:first-child { width: 98mm; flex: none }
.first > .motion { flex: 1 }
figure { margin: 0 }
.knees { width: 100%; height: auto; border: .2mm solid #999 }
.knees text, .symbol text { font-family: inherit }
.name { font-size: 11px; font-weight: bold }
.letter { font-size: 9.5px; font-weight: bold }
svg .small { font-size: 8px; fill: #444 }
.symbol { width: 3.6mm; height: 3.6mm; vertical-align: middle }
.legend { list-style: none; margin: .6mm 0 0; padding: 0; display: flex; flex-wrap: wrap; gap: 0 3mm; font-size: 7pt }
.ring { display: inline-block; width: 1.8mm; height: 1.8mm; border: .25mm solid #000; border-radius: 50% }
p.small { font-size: 6.8pt; margin: .5mm 0; color: #222 }
.columns { columns: 2; column-gap: 5mm }
.columns section { break-inside: auto }
table { width: 100%; border-collapse: collapse }
thead th { font-weight: normal; font-size: 6.8pt; color: #444; text-align: left; padding: 0 .8mm }
tbody th { font-weight: normal; text-align: left; width: 40% }
td { width: 30% }
tbody th, td { vertical-align: top; padding: .15mm .8mm; border-bottom: .1mm solid #bbb; overflow-wrap: anywhere }
tbody { break-inside: avoid }
.doubt td { font-size: 6.8pt; padding-left: 3mm }
.none { color: #777 }
.end { font-size: 6.8pt; margin-top: 1mm; columns: 2; column-gap: 5mm }
.end ul { margin: 0; padding-left: 4.5mm }
.signature { margin-top: 2mm; border-top: .3mm solid #000; padding-top: 1mm; break-inside: avoid }
.signature p { margin: .5mm 0 }
.blank { display: flex; align-items: flex-end; gap: 2mm; padding-top: 6mm }
.blank span { flex: 1; border-bottom: .2mm solid #000 }
@media screen { body { padding: 8mm 4mm } }
"""
