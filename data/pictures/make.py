"""Makes the pictures of the README from the demo week: `python data/pictures/make.py`. Needs chromium."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
DEMO = HERE.parent / "demo"
PICTURES = {  # where each begins and ends in the page, and its height
    "sticks.png": ('<section class="profile p0"', "</section>", 618),
    "card.png": ('<article class="card">', "</article>", 840),
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


def run(*words: str) -> None:
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


if __name__ == "__main__":
    main()
