"""If these fail, a piece that is cut as the sheets say comes out with another length, or with its holes elsewhere.

The sheets are read here as a person reads them and obeyed on a stick of numbers: one end is squared, the tape hooks on
the new end, the piece's own length is marked and cut, and so on. Nothing of the code that wrote them is used.
"""

from __future__ import annotations

import csv
import html
import io
import random
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import pytest

from cutplan.cutting import cut_pieces
from cutplan.orders import Order, Piece
from cutplan.planning.sequence import sequenced
from cutplan.plans.plan import Plan
from cutplan.running.budget import Budget
from cutplan.sheets import pages
from cutplan.sheets.bench.cover import Packet
from cutplan.sheets.bench.page import packet_page
from cutplan.sheets.csvout import cuts_csv
from cutplan.sheets.plan import saw_text
from cutplan.sheets.takeoff import takeoff_text
from cutplan.shop import BayRule, Profile, Routing, Shop, Stock, System
from cutplan.takeoff import take_off

F = Fraction
EIGHTH, NONE = F(1, 8), F(0)
FIRST = F(9, 8)  # from an end of the offcut with holes to its first
NUMBER = r"(?:\d+ \d+/\d+|\d+/\d+|\d+)"
OFF = "(?:cut off|take off) (N)(?=.*, then )"  # what comes off a new end before a rail


# ---- what is asked ----


def random_shop(chance: random.Random) -> tuple[Shop, list[Piece]]:
    """A plain rail, one with holes and a turned picket, an offcut of each, and pieces on the marks of a tape."""
    kerf = F(chance.choice([1, 2, 3]), 16)
    head, tail = F(chance.randint(0, 9), 8), F(chance.randint(0, 5), 8)
    keep = chance.choice([None, F(20)])
    pitch = F(chance.randint(24, 48), 8)
    lengths = chance.sample(range(90, 250, 5), 2)
    plain = Profile("plain", "rail", tuple(Stock(F(n), F(n)) for n in lengths), kerf, head, tail, keep)
    holed = replace(plain, name="holed", routing=Routing(pitch, F(chance.randint(4, 24), 8)))
    plain = replace(plain, stock=(*plain.stock, plain.offcut("TA", F(61), None, chance.randint(0, 2))))
    holed = replace(holed, stock=(*holed.stock, holed.offcut("TB", F(73), FIRST, chance.randint(0, 2))))
    turned = Profile("turned", "picket", (Stock(F(42), F(4)), Stock(F(48), F(5))), kerf, head, tail, one_per_stick=True)
    pieces = [Piece(f"P{k}", "plain", F(chance.randint(9 * 8, 80 * 8), 8), chance.randint(1, 4)) for k in range(4)]
    pieces += [Piece(f"H{k}", "holed", F(chance.randint(20 * 4, 70 * 4), 4), chance.randint(1, 4),
                     centred=chance.choice(["hole", "space"])) for k in range(3)]
    pieces += [Piece(f"T{k}", "turned", F(chance.randint(25 * 4, 39 * 4), 4), chance.randint(1, 4)) for k in range(2)]
    # as long as others, for something else: their sticks may be cut at the same places
    pieces += [replace(pieces[0], mark="P7", qty=chance.randint(1, 9)), replace(pieces[-1], mark="T7", qty=3)]
    held = chance.choice([None, F(12)])
    profiles = {one.name: one for one in (plain, holed, turned)}
    return Shop("", "in", "", kerf, held, chance.choice([1, 1, 3]), F(1, 16), profiles, {}), pieces


@pytest.fixture(scope="module")
def cases() -> list[tuple[Shop, list[Piece], Plan]]:
    made = []
    for seed in range(12):
        shop, pieces = random_shop(random.Random(seed))
        made.append((shop, pieces, sequenced(cut_pieces(pieces, shop, Budget(0.3)))))
    return made


# ---- what a sheet says, and what comes of it ----


@dataclass(frozen=True)
class Said:
    """One piece as a sheet has it; `off` comes off the new end before it is marked."""

    length: Fraction
    off: Fraction = NONE
    first_hole: Fraction | None = None
    centred: str = ""
    middle: int = 0


@dataclass(frozen=True)
class Sheet:
    """Sticks cut alike as a sheet has them; `squared` is what squaring takes, `ends` the running marks, `left` what is
    in hand at last."""

    profile: str
    stick: Fraction
    sticks: int
    squared: Fraction
    turned: bool
    pieces: Sequence[Said]
    starts: Sequence[Fraction | None]
    ends: Sequence[Fraction]
    marks: Sequence[str]
    left: Fraction


def holes_of(profile: Profile, stick: Fraction, turned: bool) -> list[Fraction]:
    """Hole centres from the end that is squared first: from the factory end on at the pitch to the other end."""
    routing = profile.routing
    if routing is None:
        return []
    first = FIRST if stick == 73 else routing.first
    every = [first + n * routing.pitch for n in range(int(stick / routing.pitch) + 2)]
    every = [at for at in every if at <= stick]
    return sorted(stick - at if turned else at for at in every)


def begun(said: str, profile: Profile, stick: Fraction, taken: Fraction) -> bool:
    """Whether the factory's far end is the one that is squared, found by the first hole as the sheet says it; that
    hole is also where the sheet says once the end is squared."""
    if profile.routing is None:
        return False
    which = every(r"(?:square|Square|begin at|Begin at) (?:the|either)[^;.]*?first hole (?:is )?(N) from it", said)
    ends = [turned for turned in (False, True) if holes_of(profile, stick, turned)[0] == inches(which[0])]
    assert len(ends) == 1 or "either" in said or "sawn end:" in said, said
    if taken:
        assert inches(every("take off (N), kerf included", said)[0]) == taken
        then = inches(every("the first hole is then (N) from 0", said)[0])
        assert then == next(at - taken for at in holes_of(profile, stick, ends[0]) if at >= taken)
    else:
        assert "egin at" in said
    return ends[0]


def obey(sheet: Sheet, shop: Shop) -> list[tuple[str, Fraction, str]]:
    """Cuts a stick as the sheet says; gives mark, true length and what its middle is on of every piece."""
    profile = shop.profiles[sheet.profile]
    assert sheet.squared >= profile.head_trim or (sheet.squared == 0 and sheet.stick in (61, 73))
    zero = new_end = sheet.squared
    holes = holes_of(profile, sheet.stick, sheet.turned)
    cut = []
    for k, said in enumerate(sheet.pieces):
        begins = new_end + said.off
        ends = begins + said.length
        assert ends <= sheet.stick - (0 if sheet.stick in (61, 73) else profile.tail_trim)
        if sheet.ends:
            assert sheet.ends[k] == ends - zero
            assert sheet.starts[k] in (None, begins - zero)
        on_piece = [at - begins for at in holes if begins <= at <= ends]
        centred = ""
        if holes and said.first_hole is not None:
            assert on_piece[0] == said.first_hole
            middle = [at - said.length / 2 for at in on_piece[said.middle - 1: said.middle + 1]]
            centred = said.centred
            assert middle[0] == 0 if centred == "hole" else middle[0] == -middle[1] < 0
        cut.append((sheet.marks[k], said.length, centred))
        new_end = ends + profile.kerf
    if profile.one_per_stick:  # the other end loses as much
        assert sheet.stick == 2 * sheet.squared + sheet.pieces[0].length
    else:
        assert sheet.left == max(0, sheet.stick - new_end)
    return cut


def held_against(sheets: Sequence[Sheet], shop: Shop, pieces: Sequence[Piece]) -> None:
    """Obeyed, the sheets give every piece that was asked for, and nothing else."""
    got: Counter[tuple[str, Fraction, str]] = Counter()
    for sheet in sheets:
        for piece in obey(sheet, shop):
            got[piece] += sheet.sticks
    assert got == Counter({(one.mark, one.length, one.centred): one.qty for one in pieces})


def inches(said: str) -> Fraction:
    return sum(map(F, said.split()), F(0))


def every(pattern: str, said: str) -> list[str]:
    return re.findall(pattern.replace("N", NUMBER), said)


def middles(said: str) -> tuple[str, int]:
    on, between = re.search(r"middle on hole (\d+)", said), re.search(r"middle between holes (\d+) and (\d+)", said)
    if on:
        return "hole", int(on[1])
    assert between and int(between[2]) == int(between[1]) + 1, said
    return "space", int(between[1])


def running(said: str) -> tuple[list[Fraction | None], list[Fraction]]:
    marks = [every("N", part) for part in said.split(",")]
    return [inches(part[0]) if len(part) == 2 else None for part in marks], [inches(part[-1]) for part in marks]


def rail(line: str) -> Said:
    """A rail with holes, from its line of text."""
    off, length = every(OFF, line), every("cut (N)", line)
    first = every("first hole (N) from the new end", line)
    return Said(inches(length[-1]), inches(off[0]) if off else F(0), inches(first[0]), *middles(line))


def from_text(text: str, shop: Shop) -> Iterator[Sheet]:
    """The sticks in the terminal's text."""
    for part in re.split(r"\n\n(?=.+\n=+\n)", text.split("At the saw")[0])[1:]:
        name, _, body = part.partition("\n")
        squared = inches(every("trim (N) at the head", " ".join(body.split()))[0])
        for setup in re.split(r"\n\n(?=Set-up )", body)[1:]:
            stick = inches(every(r"sticks? of (N)[ ,]", setup.partition("\n")[0])[0])
            joined = re.sub(r"\n {4}", " ", setup)
            for group in re.split(r"\n(?=  [x0])", joined)[1:]:
                assert group.split("\n")[0].count("0[") or "0|" in group or "0x" in group
                lines = [line.strip() for line in group.split("\n")[1:]]
                yield from sheets_of(name, stick, squared, lines, shop)


def sheets_of(name: str, stick: Fraction, squared: Fraction, lines: list[str], shop: Shop) -> Iterator[Sheet]:
    starts: list[Fraction | None] = []
    ends: list[Fraction] = []
    pieces: list[Said] = []
    for line in lines:
        if line.startswith("running marks "):
            starts, ends = running(line.removeprefix("running marks "))
        elif "first hole" in line and re.match("cut|take off", line):
            pieces.append(rail(line))
        elif match := re.match(f"cut ({NUMBER}): take ({NUMBER}) off each end", line):
            pieces, squared = [Said(inches(match[1]))], inches(match[2])
        elif line.startswith("cut "):
            runs = re.findall(rf"(?:(\d+) x )?({NUMBER})(?:,|$)", line.removeprefix("cut ").partition(";")[0])
            pieces = [Said(inches(length)) for many, length in runs for _ in range(int(many or 1))]
    for line in lines:
        if match := re.match(r"sticks? (\d+)(?: to (\d+))?, (?:new|T\w from[^:]*): (.*)", line):
            runs = re.findall(rf"(\d+) x ({NUMBER}) (\w+)", match[3])
            marks = [mark for many, _, mark in runs for _ in range(int(many))]
            assert [inches(length) for many, length, _ in runs for _ in range(int(many))] == [p.length for p in pieces]
            sticks = 1 + int(match[2] or match[1]) - int(match[1])
            taken = NONE if "its sawn end first" in line else squared
            turned = begun(" ".join(lines), shop.profiles[name], stick, taken)
            yield Sheet(name, stick, sticks, taken, turned, pieces, starts, ends, marks, left_of(" ".join(lines)))


def left_of(said: str) -> Fraction:
    return inches((every("[Ll]eft (N)", said) or ["0"])[0])


def from_page(page: str, shop: Shop) -> Iterator[Sheet]:
    """The sticks on the page."""
    for section in re.findall(r'<section class="profile.*?</section>', page, re.S):
        name = re.findall(r"<h2>(.*?)</h2>", section)[0]
        squared = inches(every("trim (N) at the head", words(section))[0])
        for setup in section.split('<div class="setup">')[1:]:
            stick = inches(every(r"sticks? of (N)", words(re.findall(r"<h3>.*?</h3>", setup)[0]))[0])
            first = None
            for again, entry in re.findall(r'<div class="stick( again)?">(.*?)(?=<div class="stick|\Z)', setup, re.S):
                head = words(re.findall(r'<p class="head">.*?</p>', entry, re.S)[0])
                numbers = re.match(r"Sticks? (\d+)(?: to (\d+))?", head)
                assert numbers
                pieces, marks = [], []
                for item in re.findall(r"<li>.*?</li>", entry):
                    own = inches(words(re.findall(r'<b class="own">.*?</b> ', item)[0]))
                    many = re.findall(r"(\d+) × ", words(item))  # noqa: RUF001
                    off = every(OFF, words(item))
                    hole = every("first hole (N) from the new end", words(item))
                    said = Said(own, inches(off[0]) if off else F(0), inches(hole[0]) if hole else None,
                                *(middles(words(item)) if hole else ("", 0)))
                    pieces += [said] * int(many[0] if many else 1)
                    marks += every(r"\b([PHT]\d)\b", words(item)) * int(many[0] if many else 1)
                sticks = 1 + int(numbers[2] or numbers[1]) - int(numbers[1])
                if again:
                    assert first and pieces == first.pieces
                    yield replace(first, sticks=sticks, pieces=pieces, marks=marks)
                    continue
                end = every("Take (N) off each end", words(entry))
                marked = re.findall(r'<p class="running">Running marks from 0: (.*?)</p>', entry)
                starts, ends = running(words(marked[0])) if marked else ([], [])
                off_end = inches(end[0]) if end else NONE if "its sawn end first" in head else squared
                assert abs(zero_of(entry) * stick - off_end * 100) < F(1, 1000)
                first = Sheet(name, stick, sticks, off_end, begun(words(entry), shop.profiles[name], stick, off_end),
                              pieces, starts, ends, marks, left_of(words(entry)))
                yield first


def words(part: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", "", part)).replace("\u202f", " ").replace("\u2044", "/")


def zero_of(entry: str) -> Fraction:
    """Where 0 is drawn, in percent of the stick's bar; its figure stands at the same place."""
    line = re.findall(r'<line class="zero" x1="([\d.]+)%" x2="([\d.]+)%"', entry)
    figure = re.findall(r'<b class="zero" style="left:([\d.]+)%">0</b>', entry)
    wide = re.findall(r'class="bar" style="width:([\d.]+)%"', entry)
    assert len(line) == len(figure) == 1 and line[0][0] == line[0][1]
    assert abs(F(figure[0]) - F(line[0][0]) * F(wide[0]) / 100) < F(1, 1000)
    return F(line[0][0])


def from_csv(text: str) -> Iterator[Sheet]:
    rows = list(csv.DictReader(io.StringIO(text)))
    for key in dict.fromkeys((row["profile"], row["stick"]) for row in rows):
        mine = [row for row in rows if (row["profile"], row["stick"]) == key]
        pieces = [Said(F(row["length"]), F(row["cut_off"]), F(row["first_hole"]) if row["first_hole"] else None,
                       row["centred"], int(row["middle_hole"] or 0)) for row in mine]
        yield Sheet(key[0], F(mine[0]["stock_length"]), int(mine[0]["count"]), F(mine[0]["squared_off"]),
                    mine[0]["turned"] == "yes", pieces, [F(row["start"]) for row in mine],
                    [F(row["end"]) for row in mine], [row["mark"] for row in mine], F(mine[0]["offcut"]))


# ---- the checks ----


def test_the_text_obeyed_gives_what_was_asked_for(cases: list[tuple[Shop, list[Piece], Plan]]) -> None:
    for shop, pieces, plan in cases:
        held_against(list(from_text(saw_text(plan), shop)), shop, pieces)


def test_the_page_obeyed_gives_what_was_asked_for(cases: list[tuple[Shop, list[Piece], Plan]]) -> None:
    again = 0
    for shop, pieces, plan in cases:
        page = packet_page(plan, Packet("0", "", "a4"))
        held_against(list(from_page(page, shop)), shop, pieces)
        again += page.count('class="stick again"')
    assert again > 5


def test_the_cut_list_obeyed_gives_what_was_asked_for(cases: list[tuple[Shop, list[Piece], Plan]]) -> None:
    for shop, pieces, plan in cases:
        held_against(list(from_csv(cuts_csv(plan))), shop, pieces)


def test_figures_off_the_tape_obeyed_leave_no_hole_further_off_than_they_say() -> None:
    """In millimetres read to 1: the saw, the pitch and the rail are off the tape, and a hand has only what is printed.
    A rail's holes lie evenly about its middle, which says where the first should be."""
    half, summed, stacked = F(1, 2), F(0), 0
    for seed in range(14):
        chance = random.Random(seed)
        pitch, length = F(chance.randint(900, 1300), 10), F(chance.randint(4000, 9000), 10)
        routing = Routing(pitch, F(chance.randint(200, 800), 10))
        rail = Profile("rail", "rail", (Stock(F(6000), F(9)),), F(chance.randint(15, 45), 10),
                       F(chance.randint(50, 150), 10), routing=routing)
        centred = chance.choice(["hole", "space"])
        inner = F(0) if centred == "hole" else pitch / 2
        should = (length / 2 - inner) % pitch
        shop = Shop("", "mm", "", rail.kerf, None, 1, F(1), {"rail": rail}, {})
        plan = cut_pieces([Piece("H0", "rail", length, 8, centred=centred)], shop, Budget(0.3))
        text = saw_text(plan).replace("~", "")
        for group in re.split(r"\n(?=  [x0])", re.sub(r"\n {4}", " ", text))[1:]:
            which, taken = re.findall(r"first hole (?:is )?(\d+) from it; take off (\d+), kerf included", group)[0]
            holes = min((holes_of(rail, F(6000), turned) for turned in (False, True)),
                        key=lambda holes: abs(holes[0] - int(which)))
            new_end = F(taken)
            rails = re.findall(r"\n  (?:(?:cut|take) off (\d+)[^,]*, then )?cut (\d+): first hole (\d+) from", group)
            stacked = max(stacked, len(rails))
            for off, own, first in rails:
                assert abs(int(own) - length) <= half and abs(int(first) - should) <= half
                begins = new_end + int(off or 0)
                away = min((at - begins - should for at in holes), key=abs)
                assert abs(away) <= half + (0 if off else half)  # where nothing is cut off, the rail before decides
                ends = begins + int(own)
                assert min(abs(at - ends + should) for at in holes) <= half + (0 if off else half) + abs(
                    int(own) - length)
                summed += abs(int(own) - length)
                new_end = ends + rail.kerf
    assert stacked > 6 and summed > 10  # or nothing could have added up


def test_a_stick_so_full_that_rounded_lengths_overrun_it_says_so() -> None:
    """The printed lengths are laid one after the other with the kerfs between: what then lacks of the stick is said."""
    sixteenth, said_of = F(1, 16), Counter[bool]()
    for n, slack in ((n, F(k, 32)) for n in (1, 2, 3) for k in range(6)):
        length, tail = 33 + F(n, 40), F(n % 2, 2)
        rail = Profile("rail", "rail", (Stock(3 * length + 2 * EIGHTH + slack + tail, F(9)),), EIGHTH, tail_trim=tail)
        shop = Shop("", "in", "", EIGHTH, None, 1, sixteenth, {"rail": rail}, {})
        plan = cut_pieces([Piece("P", "rail", length, 3)], shop, Budget(0.3))
        printed = round(length / sixteenth) * sixteenth
        lacks = 3 * (printed - length) - slack
        for sheet in (saw_text(plan), words(packet_page(plan, Packet("0", "", "a4")))):
            said = every("come out short by up to (N)", " ".join(sheet.split()))
            assert bool(said) == (lacks > 0)
            assert not said or 0 <= inches(said[0]) - lacks < sixteenth
            said_of[bool(said)] += 1
    assert min(said_of.values()) > 3


def test_nothing_on_the_page_is_written_as_large_as_a_pieces_own_length() -> None:
    sheet = (Path(pages.__file__).parent / "templates" / "style.css").read_text(encoding="utf-8")
    sizes = {name: F(size) for name, size in re.findall(r"([\w.# *-]+)\{[^}]*font-size:([\d.]+)pt", sheet)}
    own = sizes.pop(".own")
    assert sizes and own > max(sizes.values())


def test_a_cards_holes_are_found_on_the_rail_that_the_sheet_has_cut() -> None:
    """Both are obeyed: the rail is cut, its holes are counted on it, and the card's pickets stand in those it names."""
    seen = Counter[str]()
    for seed in range(12):
        chance = random.Random(seed)
        pitch, width = F(chance.randint(32, 44), 8), F(5, 4)
        holed = Profile("holed", "rail", (Stock(F(190), F(9)), Stock(F(239), F(10))), EIGHTH, F(1, 2),
                        routing=Routing(pitch, F(chance.randint(4, 20), 8)))
        bar = Profile("bar", "picket", (Stock(F(192), F(9)),), EIGHTH)
        insertion = F(chance.randint(0, 60), 8)
        system = System("s", "holed", "holed", "bar", width, pitch - width / 2, F(0), bay=BayRule(F(0), insertion))
        shop = Shop("", "in", "", EIGHTH, None, 1, F(1, 16), {"holed": holed, "bar": bar}, {"s": system})
        orders = [Order(f"H{k}", "bay", "s", 1, F(chance.randint(40 * 4, 90 * 4), 4), F(40)) for k in range(2)]
        taken = take_off(orders, shop)
        cards = dict(re.findall(r"(H\d): bay.*?\n(.*?)(?=\n\n)", takeoff_text(taken, shop), re.S))
        rails = [piece for piece in taken.pieces if piece.profile == "holed"]
        plan = cut_pieces(rails, shop, Budget(0.3))
        for sheet in from_text(saw_text(plan).replace(" top rail", "").replace(" bottom rail", ""), shop):
            for mark, said in zip(sheet.marks, sheet.pieces, strict=True):
                card = " ".join(cards[mark].split())
                on_rail = physical(sheet, mark, holed)
                first = inches(every("hole 1 is (N) from the rail's end", card)[0])
                assert first == on_rail[0] == said.first_hole
                assert middles(card) == (said.centred, said.middle)
                said_of_marks = card.split("centres from a rail's end:")[1].split("gaps")[0]
                centres = [inches(at) for at in every("N", said_of_marks)]
                stand = [int(n) for n in re.findall(r"pickets in holes (\d+) to (\d+)", card)[0]]
                assert on_rail[stand[0] - 1: stand[1]] == centres
                seen[said.centred] += 1
                seen["hidden"] += stand[0] > 1
    assert min(seen["hole"], seen["space"], seen["hidden"]) > 5


def physical(sheet: Sheet, mark: str, profile: Profile) -> list[Fraction]:
    """The hole centres on a piece that was cut, from its first end."""
    new_end = sheet.squared
    for name, said in zip(sheet.marks, sheet.pieces, strict=True):
        begins = new_end + said.off
        if name == mark:
            return [at - begins for at in holes_of(profile, sheet.stick, sheet.turned)
                    if begins <= at <= begins + said.length]
        new_end = begins + said.length + profile.kerf
    raise AssertionError(mark)
