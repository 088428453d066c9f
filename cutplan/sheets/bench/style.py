"""How the pages look: dark on white, large where something is cut, and alike on paper and on glass."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutplan.texts import plain

PAPERS = {"letter": (Fraction(2159, 10), Fraction(2794, 10)), "a4": (Fraction(210), Fraction(297))}  # mm

BASE = """
*{box-sizing:border-box}
body{margin:0 auto;max-width:72rem;padding:1rem;color:#111;background:#fff;
font:12pt/1.35 "DejaVu Sans",Verdana,sans-serif}
h1{font-size:17pt;margin:0 0 .3em} h2{font-size:15pt;margin:.8em 0 .2em}
h3{font-size:13pt;margin:.7em 0 .2em}
h1,h2,h3,p,li,td{overflow-wrap:anywhere}
.patterns{position:absolute;width:0;height:0}
.rule{color:#333;margin:.1em 0 .4em}
.setup{border-top:2px solid #111;margin-top:.8em}
.stick{padding:.35em 0 .5em;break-inside:avoid} .first{break-inside:avoid}
.head{margin:.2em 0}
.boxes{display:flex;flex-wrap:wrap;gap:.15em .7em;margin:.15em 0}
.boxes label{white-space:nowrap;font-variant-numeric:tabular-nums}
.lifts{margin:.2em 0}
.boxes input{width:1.15em;height:1.15em;vertical-align:-.15em}
.rod{position:relative;padding-top:17px}
b.zero{position:absolute;top:0;height:17px;border-left:3px solid #111;padding-left:3px;font-size:12pt;line-height:1}
line.zero{stroke:#111;stroke-width:3}
.bar{display:block;border:1px solid #111;overflow:hidden}
.bar text{font-size:12pt;font-weight:bold;text-anchor:middle;dominant-baseline:central;display:none}
.piece{fill:#fff;stroke:#111;stroke-width:1} .trim{fill:#999} .kept{fill:url(#kept)} .lost{fill:url(#lost)}
.bar .hole{fill:none;stroke:#111} .bar .middle{stroke:#111;stroke-width:2.5}
.key{width:2.6em;height:1.1em;border:1px solid #111;vertical-align:-.2em}
.legend,.fetch{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.2em 1.4em}
.cuts{list-style:none;padding:0;margin:.3em 0 0;display:flex;flex-wrap:wrap;gap:.25em 1.6em}
.cuts li{max-width:100%}
.own{font-size:19pt;line-height:1.1;font-variant-numeric:tabular-nums;white-space:nowrap}
.running{margin:.3em 0 0;font-variant-numeric:tabular-nums}
.at{font-variant-numeric:tabular-nums;border-bottom:2px solid #111;margin-right:.25em;
white-space:nowrap}
.fr{white-space:nowrap} .fr sup,.fr sub{font-size:.68em;line-height:0}
.care{font-style:normal;font-weight:bold;border:1.5px solid #111;padding:0 .3em}
.left{margin:.25em 0 0}
table{border-collapse:collapse;font-variant-numeric:tabular-nums} td,th{padding:.1em .8em .1em 0;text-align:right}
td:first-child,th:first-child{text-align:left} th{border-bottom:1.5px solid #111} tr{break-inside:avoid}
.card{break-inside:avoid;border-top:2px solid #111;padding:.4em 0}
svg.card{border:0;padding:0;display:block;max-width:100%;height:auto}
svg.card text{font-size:16px;font-weight:bold;text-anchor:middle;dominant-baseline:central}
.rail,.picket{fill:#fff;stroke:#111;stroke-width:1.2} .side{fill:#ddd;fill-opacity:.75;stroke:#111;stroke-width:1.2}
.post{fill:url(#lost);stroke:#111;stroke-dasharray:4 3}
.insert{fill:none;stroke:#111;stroke-width:1.2;stroke-dasharray:2 3}
.diagonal{stroke:#555;stroke-dasharray:9 6}
.strip{display:block;width:100%;border:1px solid #111;border-top-width:3px} .strip line{stroke:#111;stroke-width:2}
.marks{margin:.3em 0;line-height:1.9}
.facts{display:grid;grid-template-columns:max-content 1fr;gap:.1em 1em;margin:.3em 0} .facts dt{font-weight:bold}
.facts dd{margin:0}
.cautions{break-inside:avoid;border-top:2px solid #111;margin-top:1.2em}
@media (min-width:360px){.bar .from340{display:inline}}
@media (min-width:740px){.bar .from700{display:inline}}
@media (min-width:1160px){.bar .from1100{display:inline}}
@media print{body{padding:0;max-width:none}.bar .from340,.bar .from700{display:inline}.bar .from1100{display:none}
.profile,.cards{break-before:page} *{-webkit-print-color-adjust:exact;print-color-adjust:exact}}
"""

# A tablet remembers the ticks, where scripts are allowed; nothing else is done by it.
SCRIPT = """<script>
(function(){var plan=document.body.dataset.plan,store;
try{store=window.localStorage;store.getItem(plan)}catch(e){return}
document.querySelectorAll("input[type=checkbox]").forEach(function(box){
var key="cutplan "+plan+" "+box.id;box.checked=store.getItem(key)==="cut";
box.addEventListener("change",function(){try{if(box.checked)store.setItem(key,"cut");else store.removeItem(key)}
catch(e){}})})})();
</script>"""


def page_size(paper: str) -> str:
    return " ".join(f"{float(side):g}mm" for side in PAPERS[paper])


def style(paper: str) -> str:
    return f"@page{{size:{page_size(paper)};margin:14mm 12mm 16mm}}{BASE}"


def paged(name: str, profiles: Sequence[str]) -> str:
    """What stands on each printed page: the plan, the profile and the page's number."""
    rules = [f'@page{{@top-left{{content:{quoted(name)}}}@bottom-right{{content:"page " counter(page) " of " '
             "counter(pages)}}"]
    for k, profile in enumerate(profiles):
        rules.append(f".p{k}{{page:p{k}}}@page p{k}{{@top-right{{content:{quoted(profile)}}}}}")
    return "".join(rules)


def quoted(said: str) -> str:
    """A text inside a style sheet: whatever is no plain letter is written as its number."""
    return '"' + "".join(c if c.isascii() and (c.isalnum() or c in " .,-") else f"\\{ord(c):x} "
                         for c in plain(said)) + '"'
