"""Labels, one for each piece and each offcut that is kept: as sheets to print, and as CSV for a label printer."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutplan.cutting.plan import Plan, numbered
from cutplan.lengths import exact_decimal
from cutplan.sheets.bench.html import length, text
from cutplan.sheets.bench.style import PAPERS
from cutplan.sheets.csvout import safe, table
from cutplan.sheets.words import Writer

COLUMNS = ("mark", "length", "gate", "stick", "profile", "tag", "sawn_ends")
GRID = re.compile(r"(\d{1,2}) ?[x×] ?(\d{1,2})")  # noqa: RUF001


@dataclass(frozen=True)
class Label:
    """What is written on one label; an offcut's has a tag and no mark, and says how many of its ends are sawn."""

    mark: str
    length: Fraction
    gate: str
    stick: int
    profile: str
    tag: str = ""
    sawn: int = 0


@dataclass(frozen=True)
class Grid:
    """A sheet of labels: so many rows and columns within margins in mm (top and bottom, left and right)."""

    rows: int
    columns: int
    top: Fraction
    side: Fraction


def labels(plan: Plan) -> Iterator[Label]:
    """In the order in which they are cut: each stick's pieces, then its offcut."""
    for one in numbered(plan):
        profile = plan.profiles[one.profile]
        gates = {entry.mark: entry.for_ for entry in profile.demand}
        for k in range(one.stick.count):
            for cut in one.stick.cuts:
                yield Label(cut.mark, cut.length, gates[cut.mark], one.first + k, profile.profile)
            if one.stick.keep and one.stick.offcut_tags:
                left = profile.left_by(one.stick)
                yield Label("", left.length, "", one.first + k, profile.profile, one.stick.offcut_tags[k], left.sawn)


def grid(said: str, top: Fraction, side: Fraction) -> Grid:
    """Rows and columns from a text such as 10x3. ValueError says what would be right."""
    match = GRID.fullmatch(said.strip())
    if not match or not int(match[1]) or not int(match[2]):
        raise ValueError(f"{said!r} is no grid; write rows x columns, such as 10x3")
    return Grid(int(match[1]), int(match[2]), top, side)


def labels_page(plan: Plan, name: str, sheet: Grid, paper: str) -> str:
    """Sheets of labels, filled row by row."""
    write = Writer(plan.unit, plan.tape)
    every, fit = list(labels(plan)), sheet.rows * sheet.columns
    pages = "".join(page(every[k: k + fit], write) for k in range(0, len(every), fit))
    return (f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>{text(name)}: labels</title>'
            f"<style>{style(sheet, paper)}</style></head><body>{pages}</body></html>\n")


def page(cells: Sequence[Label], write: Writer) -> str:
    return f'<section>{"".join(cell(one, write) for one in cells)}</section>'


def cell(one: Label, write: Writer) -> str:
    sawn = "both ends sawn" if one.sawn == 2 else "one end sawn"
    head = f"<b>{text(one.tag)}</b> offcut, {sawn}" if one.tag else f"<b>{text(one.mark)}</b>"
    gate = f" &middot; {text(one.gate)}" if one.gate else ""
    return (f'<div><p>{head}</p><p class="length">{length(one.length, write)} {write.unit}</p>'
            f"<p>{text(one.profile)}{gate} &middot; stick {one.stick}</p></div>")


def style(sheet: Grid, paper: str) -> str:
    wide, high = PAPERS[paper].split()
    top, side = (f"{float(margin):g}mm" for margin in (sheet.top, sheet.side))
    return (f"@page{{size:{PAPERS[paper]};margin:0}}*{{box-sizing:border-box}}"
            'body{margin:0;font:10pt/1.2 "DejaVu Sans",Verdana,sans-serif;color:#111}'
            f"section{{width:{wide};height:{high};padding:{top} {side};display:grid;break-after:page;overflow:hidden;"
            f"grid-template:repeat({sheet.rows},1fr)/repeat({sheet.columns},1fr)}}"
            "div{overflow:hidden;padding:1.5mm 3mm;overflow-wrap:anywhere}p{margin:0}"
            ".length{font-size:14pt;font-weight:bold}"
            ".fr{white-space:nowrap}.fr sup,.fr sub{font-size:.68em;line-height:0}")


def labels_csv(plan: Plan) -> str:
    """One row for each label, for a label printer."""
    return table(COLUMNS, ((safe(one.mark), exact_decimal(one.length), safe(one.gate), str(one.stick),
                            safe(one.profile), one.tag, str(one.sawn) if one.tag else "") for one in labels(plan)))
