// Curves of a recording: one strip a wire, one time for all; the actions stand as lines through them.
(() => {
  const list = document.querySelector("[data-curves]");
  if (!list || !window.uPlot) return;
  const address = list.dataset.curves;
  const done = JSON.parse(document.getElementById("done").textContent)
    .sort((a, b) => a.time_s - b.time_s);
  const places = [...list.querySelectorAll("[data-wire]")];
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const plots = [];
  let whole = null;
  let span = null;
  let asked = 0;

  const fetched = async (range) => {
    const query = range ? `?start_s=${range[0]}&end_s=${range[1]}` : "";
    const answer = await fetch(address + query);
    if (!answer.ok) throw new Error(`the curves did not come: ${answer.status}`);
    const bytes = await answer.arrayBuffer();
    const [n, w] = new Uint32Array(bytes, 0, 2);
    const time = new Float64Array(bytes.slice(8, 8 + 8 * n));
    const volts = [];
    for (let i = 0; i < w; i += 1) volts.push(new Float32Array(bytes.slice(8 + 8 * n + 4 * n * i, 8 + 8 * n + 4 * n * (i + 1))));
    return { time, volts };
  };

  const marks = (top) => ({
    hooks: {
      draw: [(u) => {
        const { ctx, bbox } = u;
        ctx.save();
        ctx.beginPath();
        ctx.rect(bbox.left, 0, bbox.width, u.ctx.canvas.height);
        ctx.clip();
        ctx.strokeStyle = css("--edge");
        ctx.fillStyle = css("--faint");
        ctx.font = `${11 * devicePixelRatio}px "Hyperlegible", sans-serif`;
        const free = [-Infinity, -Infinity];
        for (const { time_s: at, action } of done) {
          const x = Math.round(u.valToPos(at, "x", true));
          ctx.beginPath();
          ctx.moveTo(x, bbox.top);
          ctx.lineTo(x, bbox.top + bbox.height);
          ctx.stroke();
          if (!top) continue;
          const row = free[0] <= x ? 0 : free[1] <= x ? 1 : -1;
          if (row < 0) continue;
          const words = action.replaceAll("_", " ");
          ctx.fillText(words, x + 2, (11 + 13 * row) * devicePixelRatio);
          free[row] = x + ctx.measureText(words).width + 8 * devicePixelRatio;
        }
        ctx.restore();
      }],
    },
  });

  const options = (place, i) => ({
    width: place.clientWidth,
    height: i === 0 ? 140 : 112,
    padding: [i === 0 ? 30 : 6, 8, 0, 0],
    plugins: [marks(i === 0)],
    legend: { show: false },
    cursor: { sync: { key: "wires", setSeries: false, scales: ["x", null] }, y: false, drag: { x: true, y: false } },
    scales: { x: { time: false }, y: { range: (_, low, high) => [Math.min(low, 0) - 0.5, Math.max(high, 13) + 0.5] } },
    axes: [
      { stroke: css("--faint"), grid: { stroke: css("--rule"), width: 1 }, ticks: { stroke: css("--rule") }, values: (_, at) => at.map((v) => `${+v.toFixed(4)} s`), size: 30, space: 70 },
      { stroke: css("--faint"), grid: { stroke: css("--rule"), width: 1 }, ticks: { stroke: css("--rule") }, values: (_, at) => at.map((v) => `${v} V`), size: 46, splits: () => [0, 6, 12] },
    ],
    series: [{}, { stroke: css("--ink"), width: 1.25, points: { show: false } }],
    hooks: {
      setScale: [(u, key) => { if (key === "x") look([u.scales.x.min, u.scales.x.max]); }],
      setCursor: [(u) => said(u)],
    },
  });

  const said = (u) => {
    const at = u.cursor.idx;
    const i = plots.indexOf(u);
    const now = places[i]?.closest(".curve").querySelector("[data-now]");
    if (!now) return;
    now.textContent = at == null ? "" : `${u.data[1][at].toFixed(2)} V at ${u.data[0][at].toFixed(3)} s`;
  };

  let looking = false;
  const look = (range) => {
    if (looking || !whole || !Number.isFinite(range[0])) return;
    if (span && Math.abs(span[0] - range[0]) < 1e-9 && Math.abs(span[1] - range[1]) < 1e-9) return;
    span = [Math.max(range[0], whole[0]), Math.min(range[1], whole[1])];
    looking = true;
    for (const u of plots) u.setScale("x", { min: span[0], max: span[1] });
    looking = false;
    if (thinned) closer(span);
  };

  // What was thinned for the whole view comes anew, in full, for a closer one.
  let thinned = false;
  let timer = 0;
  const closer = (range) => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const mine = (asked += 1);
      const { time, volts } = await fetched(range);
      if (mine !== asked) return;
      looking = true;
      for (const [i, u] of plots.entries()) {
        u.setData([time, volts[i]], false);
        u.setScale("x", { min: range[0], max: range[1] });
      }
      looking = false;
    }, 150);
  };

  const draw = (time, volts) => {
    for (const u of plots.splice(0)) u.destroy();
    for (const [i, place] of places.entries()) plots.push(new uPlot(options(place, i), [time, volts[i]], place));
    if (span) { const keep = span; span = null; look(keep); }
  };

  const doing = {
    in: ([a, b]) => [a + (b - a) / 4, b - (b - a) / 4],
    out: ([a, b]) => [a - (b - a) / 2, b + (b - a) / 2],
    left: ([a, b]) => [a - (b - a) / 3, b - (b - a) / 3],
    right: ([a, b]) => [a + (b - a) / 3, b + (b - a) / 3],
    all: () => whole,
  };
  const inside = ([a, b]) => {
    const wide = Math.min(b - a, whole[1] - whole[0]);
    const from = Math.min(Math.max(a, whole[0]), whole[1] - wide);
    return [from, from + wide];
  };

  fetched(null).then(({ time, volts }) => {
    whole = [time[0], time[time.length - 1]];
    thinned = list.dataset.samples ? Number(list.dataset.samples) > time.length : false;
    draw(time, volts);
    span = [...whole];
    list.setAttribute("data-drawn", "");
    const zoom = document.querySelector("[data-zoom]");
    zoom.hidden = false;
    zoom.addEventListener("click", (event) => {
      const what = event.target instanceof HTMLElement ? event.target.dataset.do : undefined;
      if (what) look(inside(doing[what](span)));
    });
    for (const place of places) place.addEventListener("dblclick", () => look(whole));
    let width = list.clientWidth;
    addEventListener("resize", () => {
      if (list.clientWidth === width) return;
      width = list.clientWidth;
      for (const [i, u] of plots.entries()) u.setSize({ width: places[i].clientWidth, height: i === 0 ? 140 : 112 });
    });
    document.addEventListener("light", () => draw(plots[0].data[0], plots.map((u) => u.data[1])));
  });
})();
