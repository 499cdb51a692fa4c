"""`python -m tests.benchmarks.page`: how large the report of a batch is, how long it takes to make, to open, to scroll.

The batch is invented: samples by 150 substances against three sets, in one file. The page is opened in the Chromium of
this machine by Playwright (extra ``browser``). Opening is from the request to the end of ``load`` and the first frame
after it; scrolling goes from top to end in steps of most of a window, one a frame. A long task is one that holds the
page for 50 ms or more, as the browser tells it. Figures only: nothing is asserted.
"""

from __future__ import annotations

import argparse
import csv
import random
import tempfile
import time
from pathlib import Path
from typing import Any

SETS = ("long-1995-marine", "consensus-2000-fresh", "macdonald-1996-marine")
#: How each group's figures lie about: the middle in the standard unit.
MIDDLES = {"metal": 30.0, "pah": 200.0, "pcb-congener": 4.0, "pesticide": 1.0}
WINDOW = {"width": 1280, "height": 900}
SCROLL = """async (step) => {
  const frame = () => new Promise(requestAnimationFrame);
  const tasks = [];
  const watch = new PerformanceObserver((list) => tasks.push(...list.getEntries().map((one) => one.duration)));
  watch.observe({ type: "longtask" });
  const gaps = [];
  let last = performance.now();
  for (let at = 0; at < document.documentElement.scrollHeight; at += step) {
    scrollTo(0, at);
    await frame();
    const now = performance.now();
    gaps.push(now - last);
    last = now;
  }
  await new Promise((done) => setTimeout(done, 200));
  watch.disconnect();
  gaps.sort((a, b) => a - b);
  return { height: document.documentElement.scrollHeight, steps: gaps.length, middle: gaps[gaps.length >> 1],
    worst: gaps[gaps.length - 1], tasks: tasks.length, longest: Math.max(0, ...tasks) };
}"""


def write_batch(path: Path, samples: int, substances: int = 150) -> None:
    """A long table of ``samples`` by ``substances``: lognormal figures, one in ten not detected."""
    from screen.reference.locate import read_table

    table = read_table("substances/substances.csv")
    chosen = [
        (str(row["substance"]), str(row["unit"]), MIDDLES[str(row["group"])])
        for row in table.to_dict("records")
        if row["group"] in MIDDLES and row["kind"] == "single"
    ]
    order = {name: at for at, name in enumerate(MIDDLES)}
    groups = dict(zip(table["substance"].astype(str), table["group"].astype(str), strict=True))
    chosen = sorted(chosen, key=lambda one: order[groups[one[0]]])[:substances]
    chance = random.Random(11)
    with path.open("w", newline="", encoding="utf-8") as file:
        lines = csv.writer(file)
        lines.writerow(["Sample", "Analyte", "Result", "Qualifier", "Unit", "Basis"])
        for at in range(samples):
            near = chance.lognormvariate(0, 0.8)
            for name, unit, middle in chosen:
                figure = f"{middle * near * chance.lognormvariate(0, 0.6):.3g}"
                lines.writerow([f"P-{at + 1:04d}", name, figure, "U" if chance.random() < 0.1 else "", unit, "dry"])


def look(path: Path) -> dict[str, Any]:
    """What Chromium tells of opening the page at ``path`` and scrolling it."""
    from playwright.sync_api import sync_playwright

    from screen.printing import browser

    with sync_playwright() as driver:
        made = driver.chromium.launch(executable_path=browser(), args=["--no-sandbox"])
        page = made.new_context(viewport=WINDOW).new_page()  # type: ignore[arg-type]
        page.set_default_timeout(300_000)
        began = time.perf_counter()
        page.goto(path.as_uri())
        page.evaluate("() => new Promise(requestAnimationFrame)")
        opened = time.perf_counter() - began
        found: dict[str, Any] = page.evaluate(SCROLL, 0.8 * WINDOW["height"])
        made.close()
    return found | {"opened": opened}


def main() -> None:
    """Make the batch, screen it, make its report alone, and look at it."""
    import screen
    from screen.settings import Settings

    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--samples", type=int, default=200)
    asked.add_argument("--substances", type=int, default=150)
    told = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="siltmark-page-") as work:
        sheet, page = Path(work) / "lab.csv", Path(work) / "report.html"
        write_batch(sheet, told.samples, told.substances)
        run = screen.run([sheet], settings=Settings(guidelines=SETS, water="estuarine"))
        began = time.perf_counter()
        screen.report(run, page)
        made = time.perf_counter() - began
        found = look(page)
        size = page.stat().st_size / 1e6
    print(f"{told.samples:,} samples, {told.substances} substances, {len(SETS)} sets: {len(run.findings):,} findings")
    print("| made, s | size, MB | opened, s | frame while scrolling, ms | worst, ms | long tasks | longest, ms |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    print(
        f"| {made:.1f} | {size:.2f} | {found['opened']:.2f} | {found['middle']:.0f} | {found['worst']:.0f} | "
        f"{found['tasks']} | {found['longest']:.0f} |"
    )


if __name__ == "__main__":
    main()
