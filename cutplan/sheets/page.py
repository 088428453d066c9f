"""One page of HTML that stands alone: no script, nothing from the network, readable on paper and without colour.

Whatever a user typed goes through `escape` before it gets here as HTML.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

STYLE = """
body { font: 16px/1.45 Georgia, 'Times New Roman', serif; color: #1d1d1b; background: #fff;
  max-width: 50rem; margin: 2rem auto; padding: 0 1.2rem; }
h1 { font-size: 1.5rem; font-weight: normal; border-bottom: 3px double #1d1d1b; padding-bottom: .3rem; }
h2 { font-size: 1.15rem; margin-top: 2.2rem; }
p.first { font-size: 1.08rem; }
p.small, footer { font-size: .85rem; color: #444; }
table { border-collapse: collapse; margin: .8rem 0; font-size: .92rem; }
th, td { padding: .2rem .8rem .2rem 0; text-align: right; border-bottom: 1px solid #bbb; }
th { font-weight: normal; font-style: italic; border-bottom: 1px solid #1d1d1b; vertical-align: bottom; }
th:first-child, td:first-child { text-align: left; }
figure { margin: 1rem 0; }
figcaption { font-style: italic; font-size: .92rem; }
svg { width: 100%; height: auto; font: 12px Georgia, 'Times New Roman', serif; fill: #1d1d1b; }
svg .grid { stroke: #ddd; stroke-width: 1; }
svg .axis { stroke: #1d1d1b; stroke-width: 1.2; fill: none; }
svg .line { stroke: #1d1d1b; stroke-width: 1.4; fill: none; }
svg .mark { stroke: #1d1d1b; stroke-width: 1.4; fill: #fff; }
svg .square, svg .diamond { fill: #1d1d1b; }
svg .cross { fill: none; stroke-width: 2; }
@media print { body { margin: 0; max-width: none; font-size: 11pt; } figure, table { break-inside: avoid; } }
"""


def page(title: str, parts: Iterable[str], foot: str = "") -> str:
    """The whole page; `title` and `foot` are plain text, `parts` are HTML."""
    return "\n".join([
        "<!DOCTYPE html>", '<html lang="en">', "<head>", '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title>", f"<style>{STYLE}</style>", "</head>", "<body>",
        f"<h1>{escape(title)}</h1>", *parts, f"<footer><p>{escape(foot)}</p></footer>", "</body>", "</html>", "",
    ])


def heading(text: str) -> str:
    return f"<h2>{escape(text)}</h2>"


def paragraph(text: str, kind: str = "") -> str:
    chosen = f' class="{escape(kind)}"' if kind else ""
    return f"<p{chosen}>{escape(text)}</p>"


def figure(drawing: str, caption: str) -> str:
    """An SVG element with its caption (plain text)."""
    return f"<figure>\n{drawing}\n<figcaption>{escape(caption)}</figcaption>\n</figure>"


def table(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Plain text in every cell."""
    def row(cells: Iterable[object], tag: str) -> str:
        return "<tr>" + "".join(f"<{tag}>{escape(str(cell))}</{tag}>" for cell in cells) + "</tr>"

    return "\n".join(["<table>", row(headings, "th"), *(row(cells, "td") for cells in rows), "</table>"])
