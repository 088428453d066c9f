"""The layout cards of a plan: each gate and bay drawn to scale, with what a person sets out by."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from cutplan.lengths import show_sqrt
from cutplan.sheets.bench.html import length, percent, set_fractions, text
from cutplan.sheets.cautions import AT_THE_SITE
from cutplan.sheets.gaps import gaps_text
from cutplan.sheets.holes import holes_text
from cutplan.sheets.words import CORNERS, Writer
from cutplan.takeoff.carried import Drawn

WIDE, HIGH = 620, 430  # pixels that a drawing may take
EDGE = 34  # pixels about it, for what is written at its sides
FACE = Fraction(1, 25)  # of the height: a rail's, where the shop file does not give it
MIDDLE = {
    "gap": "all gaps equal", "hole": "the rail's middle on a hole", "space": "the rail's middle between two holes",
}  # fmt: skip


def cards_section(cards: Sequence[Drawn], write: Writer) -> str:
    """All cards, each whole on its page, and the cautions for the site."""
    if not cards:
        return ""
    said = "".join(f"<li>{text(caution)}</li>" for caution in AT_THE_SITE)
    return ('<section class="cards"><h2>Layout cards</h2>' + "".join(card(one, write) for one in cards)
            + f'<section class="cautions"><h2>Before you build</h2><ul>{said}</ul></section></section>')


def card(one: Drawn, write: Writer) -> str:
    remarks = "".join(f" &middot; {text(key)}: {text(said)}" for key, said in one.remarks)
    reminders = "".join(f"<li>{set_fractions(text(reminder))}</li>" for reminder in one.reminders)
    head = f"{text(one.mark)}: {text(one.kind)}, {text(one.system)}, {one.qty} to make{remarks}"
    return (f'<article class="card"><h3>{head}</h3>{drawing(one, write)}{strip(one, write)}{facts(one, write)}'
            + (f'<ul class="reminders">{reminders}</ul>' if reminders else "") + "</article>")


# ---- the drawing ----


def drawing(one: Drawn, write: Writer) -> str:
    """The elevation to scale, from the side on which it is measured: uprights or posts, rails, inserts, pickets."""
    wide = max(one.width, one.opening)
    scale = min(WIDE / float(wide), HIGH / float(one.height))

    def box(kind: str, x: Fraction, y: Fraction, w: Fraction, h: Fraction) -> str:
        """A part from x and, measured up, from y."""
        top = float(one.height - y - h) * scale
        return (f'<rect class="{kind}" x="{EDGE + float(x) * scale:.3f}" y="{EDGE + top:.3f}" '
                f'width="{float(w) * scale:.3f}" height="{float(h) * scale:.3f}"/>')

    left = (wide - one.rail) / 2  # where the rails begin
    top_face, bottom_face = (face or one.height * FACE for face in (one.top_face, one.bottom_face))
    bottom, top = one.below, one.height - one.above - top_face
    middle = (bottom + bottom_face + top) / 2
    parts = [box("picket", left + mark - one.picket_width / 2, middle - one.picket / 2, one.picket_width, one.picket)
              for mark in one.marks]
    for y, face in ((bottom, bottom_face), (top, top_face)):
        parts.append(box("rail", left, y, one.rail, face))
        if one.insert is not None:
            parts.append(box("insert", left + (one.rail - one.insert) / 2, y + face / 4, one.insert, face / 2))
    kind = "side" if one.upright is not None else "post"  # over the rails, which hide in them
    parts += [box(kind, x, Fraction(0), w, one.height) for x, w in sides(one, wide)]
    parts += written_sides(one, wide, scale, write)
    size = float(wide) * scale + 2 * EDGE, float(one.height) * scale + 2 * EDGE
    return (f'<svg class="card" viewBox="0 0 {size[0]:.0f} {size[1]:.0f}" style="width:{size[0]:.0f}px" role="img" '
            f'aria-label="{text(one.kind)} to scale">{"".join(parts)}</svg>')


def sides(one: Drawn, wide: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Where the uprights of a gate are, or what of the posts beside a bay the rails go into: x and width."""
    left = (wide - one.rail) / 2
    if one.upright is not None:
        wall = (one.width - one.rail) / 2
        across = one.hidden + wall
        return [(left - wall, across), (left + one.rail + wall - across, across)]
    faces = left + one.hidden, left + one.rail - one.hidden
    return [(faces[0] - one.insertion, one.insertion), (faces[1], one.insertion)] if one.insertion else []


def written_sides(one: Drawn, wide: Fraction, scale: float, write: Writer) -> list[str]:
    """The width below the drawing and the height beside it, and one of the diagonals."""
    w, h = float(wide) * scale, float(one.height) * scale
    across = float(one.width) * scale
    x0 = EDGE + (w - across) / 2
    low = float(one.below if one.kind == "bay" else 0) * scale
    y1, y2 = EDGE + h - low, EDGE + h - low - float(one.panel_height) * scale
    return [
        f'<line class="diagonal" x1="{x0:.2f}" y1="{y1:.2f}" x2="{x0 + across:.2f}" y2="{y2:.2f}"/>',
        f'<text x="{EDGE + w / 2:.1f}" y="{h + 2 * EDGE - 10:.1f}">{write.length(one.width)}</text>',
        f'<text transform="translate({EDGE - 14} {EDGE + h / 2:.1f}) rotate(-90)">{write.length(one.height)}</text>',
    ]


# ---- what is set out ----


def strip(one: Drawn, write: Writer) -> str:
    """The rail as a tape: the centre of each picket, all measured from one end."""
    ticks = "".join(f'<line x1="{(x := percent(mark, one.rail))}" x2="{x}" y1="30%" y2="100%"/>' for mark in one.marks)
    marks = " ".join(f'<b class="at">{length(mark, write)}</b>' for mark in one.marks)
    return (f'<svg class="strip" height="20">{ticks}</svg>'
            f'<p class="marks">Picket centres from the rail&#39;s end: {marks or "none"}</p>')


def facts(one: Drawn, write: Writer) -> str:
    rows = [(name, set_fractions(said)) for name, said in lines(one, write)]
    return '<dl class="facts">' + "".join(f"<dt>{name}</dt><dd>{said}</dd>" for name, said in rows) + "</dl>"


def lines(one: Drawn, write: Writer) -> Iterable[tuple[str, str]]:
    """What it is made of and how it is set out."""
    said = write.length
    yield "opening", f"{said(one.opening)} wide, {said(one.height)} high"
    yield "rails", f"2 of {said(one.rail)}, {said(one.hidden)} hidden at each end"
    if one.insert is not None:
        yield "inserts", f"2 of {said(one.insert)}, dotted"
    if one.upright is not None:
        yield "uprights", f"2 of {said(one.upright)}"
    trimmed = "trimmed equally at both ends" if one.turned else "trimmed at one end"
    yield "pickets", f"{len(one.marks)} of {said(one.picket)}, {trimmed}"
    gaps = gaps_text(len(one.marks), one.clear, one.gap, one.end_gap, one.max_gap, write)
    yield "gaps", f"{gaps}; {MIDDLE.get(one.centred, '')}"
    if one.pitch:
        yield "holes", holes_text(one.rail, one.pitch, one.centred, one.marks, write)
    if one.plugs:
        yield "plugs", f"{one.plugs}, for the empty holes in sight"
    diagonal = show_sqrt(one.diagonal_squared, write.unit, write.tape)
    corners = f"over {said(one.width)} by {said(one.panel_height)}, {CORNERS.get(one.kind, '')}"
    yield "diagonals", f"{diagonal} both, {corners}: then it is square"
    if one.kind == "gate":
        top, bottom = ("" if up is None else f" {said(up)} up" for up in (one.top_hinge, one.bottom_hinge))
        yield "top hinge", f"its top{top}, under the top rail"
        yield "bottom hinge", f"its bottom{bottom}, on the bottom rail"
