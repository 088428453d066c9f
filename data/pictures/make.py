"""Makes the pictures of the README from the demo week: `python data/pictures/make.py`. Needs chromium."""

from __future__ import annotations

import re
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path

HERE = Path(__file__).parent
DEMO = HERE.parent / "demo"
PICTURES = {  # where each begins and ends in the page, and its height
    "sticks.png": ('<section class="profile"', "</section>", 580),
    "card.png": ('<article class="card">', "</article>", 860),
}
SCALE = 0.85  # pixels of a picture for each of the page, so that its file is small


def main() -> None:
    browser = shutil.which("chromium") or sys.exit("chromium is needed: it takes the pictures")
    with tempfile.TemporaryDirectory() as folder:
        plan, page = f"{folder}/demo-week.json", Path(folder) / "page.html"
        run(sys.executable, "-m", "cutplan", "cut", str(DEMO / "week.csv"), "--shop", str(DEMO / "shop.toml"),
            "--rack", f"{folder}/rack.db", "--json", plan)
        run(sys.executable, "-m", "cutplan", "sheets", plan, "--out", str(page))
        whole = page.read_text(encoding="utf-8")
        for name, (begin, end, height) in PICTURES.items():
            start = whole.index(begin)
            part = whole[start: whole.index(end, start) + len(end)]
            head = re.search(r".*?<body[^>]*>.*?</svg>", whole, re.S)
            assert head is not None
            cut = Path(folder) / "part.html"
            cut.write_text(f"{head[0]}{part}</body></html>", encoding="utf-8")
            run(browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                f"--force-device-scale-factor={SCALE}", f"--window-size=1000,{height}",
                f"--screenshot={HERE / name}", cut.as_uri())
            (HERE / name).write_bytes(in_greys((HERE / name).read_bytes()))


def in_greys(picture: bytes) -> bytes:
    """A PNG picture of 8-bit RGB in 16 greys, which is a third as large."""
    width, height = struct.unpack(">II", picture[16:24])
    stored, at = b"", 8
    while at < len(picture):
        size, kind = struct.unpack(">I4s", picture[at: at + 8])
        stored += picture[at + 8: at + 8 + size] if kind == b"IDAT" else b""
        at += size + 12
    raw, long = zlib.decompress(stored), 3 * width
    before, lines = bytes(long), []
    for y in range(height):
        start = y * (long + 1)
        before = unfiltered(raw[start], raw[start + 1: start + 1 + long], before)
        greys = [sum(before[k: k + 3]) * 15 // 765 for k in range(0, long, 3)] + [0] * (width % 2)
        lines.append(b"\0" + bytes(one << 4 | other for one, other in zip(greys[::2], greys[1::2], strict=True)))
    return picture[:8] + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in (
            (b"IHDR", struct.pack(">IIBBBBB", width, height, 4, 0, 0, 0, 0)),
            (b"IDAT", zlib.compress(b"".join(lines), 9)), (b"IEND", b"")))


def unfiltered(kind: int, line: bytes, before: bytes) -> bytes:
    """A line of pixels as it was before it was filtered; PNG says by which neighbours."""
    out = bytearray()
    for k, value in enumerate(line):
        left, up, corner = (out[k - 3], before[k], before[k - 3]) if k > 2 else (0, before[k], 0)
        near = min((left, up, corner), key=lambda one: abs(left + up - corner - one))
        out.append((value + (0, left, up, (left + up) // 2, near)[kind]) & 255)
    return bytes(out)


def run(*words: str) -> None:
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


if __name__ == "__main__":
    main()
