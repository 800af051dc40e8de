"""How long 500,000 points of four wires take to draw: uPlot against a bare canvas, in one browser.

The peer draws every point as one path on a canvas of the same size, which is the least a page could
do without thinning. Both draw the same numbers in the same run; the middle of `ROUNDS` stands.
"""

from __future__ import annotations

import statistics
from pathlib import Path

from playwright.sync_api import sync_playwright

import startwright.web

VENDOR = Path(startwright.web.__file__).parent / "static" / "vendor"
CHROMIUM = "/usr/bin/chromium"
ROUNDS = 7
POINTS = 500_000

DRAW = """
async ({points, rounds}) => {
  const time = Float64Array.from({length: points}, (_, i) => i / 10000);
  const wires = [0, 1, 2, 3].map((w) => Float32Array.from({length: points},
    (_, i) => 6 + 6 * Math.sign(Math.sin(i / (3000 + 700 * w))) + Math.sin(i * 12.9898) * 0.3));
  const frame = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  const uplot = [], bare = [];
  for (let round = 0; round < rounds; round += 1) {
    const place = document.body.appendChild(document.createElement("div"));
    let began = performance.now();
    const plot = new uPlot({width: 1200, height: 400, legend: {show: false},
      scales: {x: {time: false}},
      series: [{}, ...wires.map((_, w) => ({stroke: ["red", "green", "blue", "black"][w]}))]},
      [time, ...wires], place);
    await Promise.resolve();
    uplot.push(performance.now() - began);
    await frame();
    plot.destroy();
    const canvas = place.appendChild(document.createElement("canvas"));
    canvas.width = 1200; canvas.height = 400;
    const pen = canvas.getContext("2d");
    began = performance.now();
    for (const wire of wires) {
      pen.beginPath();
      for (let i = 0; i < points; i += 1) pen.lineTo(1200 * i / points, 400 - 30 * wire[i]);
      pen.stroke();
    }
    pen.getImageData(0, 0, 1, 1);
    bare.push(performance.now() - began);
    await frame();
    place.remove();
  }
  return {uplot, bare};
}
"""


def main() -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1300, "height": 900})
        page.add_script_tag(path=VENDOR / "uPlot.iife.min.js")
        page.add_style_tag(path=VENDOR / "uPlot.min.css")
        page.set_default_timeout(300_000)
        took = page.evaluate(DRAW, {"points": POINTS, "rounds": ROUNDS})
        browser.close()
    middle = {name: statistics.median(times) for name, times in took.items()}
    print(f"{POINTS:,} points of 4 wires, {ROUNDS} rounds, middle")
    print(f"uPlot          {middle['uplot']:8.1f} ms")
    print(f"bare canvas    {middle['bare']:8.1f} ms   {middle['bare'] / middle['uplot']:.1f}×")


if __name__ == "__main__":
    main()
