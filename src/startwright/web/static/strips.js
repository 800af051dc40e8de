// Volts over the seconds of a played line: one strip a wire, one time for all; the unit's steps lie behind.
(() => {
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const TOP = 50;
  const alive = new Set();

  const run = (play) => {
    const data = JSON.parse(play.querySelector("[data-trace-of]").textContent);
    const { moments, steps, traces, slot } = data;
    const last = moments[moments.length - 1].at;
    const ends = Math.max(data.ends, last + Math.max(0.5, last * 0.06));
    const lead = ends * 0.04;
    const whole = [-lead, ends];
    let span = [...whole];
    let now = 0;
    const places = [...play.querySelectorAll("[data-strip]")];
    const plots = new Map();

    // Of several steps in one instant the last one stands; how it was parked is seen before 0 s.
    const kept = moments.flatMap((m, k) => k > 0 && moments[k + 1]?.at === m.at ? [] : [k]);
    const time = [...kept.map((k) => k === 0 ? -lead : moments[k].at), ends];
    const volts = (n) => { const v = kept.map((k) => traces[n].volts[k]); return [...v, v[v.length - 1]]; };
    const at = (seconds) => { let k = 0; if (seconds < 0) return 0; while (k + 1 < moments.length && moments[k + 1].at <= seconds + 1e-9) k += 1; return k; };

    const behind = (u) => {
      const { ctx, bbox } = u;
      ctx.save();
      ctx.beginPath();
      ctx.rect(bbox.left, 0, bbox.width, bbox.top + bbox.height);
      ctx.clip();
      for (const [n, step] of steps.entries()) {
        if (n % 2) continue;
        const from = u.valToPos(n === 0 ? -lead : step.from, "x", true);
        const to = u.valToPos(n === steps.length - 1 ? ends : step.to, "x", true);
        ctx.fillStyle = css("--recess");
        ctx.fillRect(from, bbox.top, to - from, bbox.height);
      }
      ctx.restore();
    };

    // Words begin beside their line; near the right edge they end at it.
    const begins = (u, words, x) => Math.min(x + 3 * devicePixelRatio, u.bbox.left + u.bbox.width - u.ctx.measureText(words).width);
    const written = (u, words, x, y, free) => {
      const from = begins(u, words, x);
      if (free > from) return free;
      u.ctx.fillText(words, from, y);
      return from + u.ctx.measureText(words).width + 7 * devicePixelRatio;
    };

    const before = (u, top) => {
      const { ctx, bbox } = u;
      const r = devicePixelRatio;
      ctx.save();
      ctx.beginPath();
      ctx.rect(bbox.left - 1, 0, bbox.width + 2, bbox.top + bbox.height);
      ctx.clip();
      ctx.lineWidth = r;
      ctx.textAlign = "left";
      ctx.textBaseline = "alphabetic";
      ctx.font = `${11 * r}px "Hyperlegible", sans-serif`;
      let free = -Infinity;
      if (top) {
        ctx.fillStyle = css("--ink");
        for (const step of steps) {
          const shown = Math.max(u.valToPos(step.from, "x", true), bbox.left);
          if (u.valToPos(step.to, "x", true) < bbox.left) continue;
          free = written(u, step.step, shown, bbox.top - 6 * r, free);
        }
      }
      const lanes = [-Infinity, -Infinity];
      for (const m of moments) {
        if (m.by === "unit" || m.by === "parked") continue;
        const x = Math.round(u.valToPos(m.at, "x", true));
        ctx.strokeStyle = css(m.by === "fault" ? "--wire-bad" : "--faint");
        ctx.setLineDash(m.by === "engine" ? [2 * r, 3 * r] : [5 * r, 3 * r]);
        ctx.beginPath();
        ctx.moveTo(x, top ? bbox.top - 20 * r : bbox.top);
        ctx.lineTo(x, bbox.top + bbox.height);
        ctx.stroke();
        if (!top || x < bbox.left) continue;
        const words = m.what.replaceAll("_", " ");
        const lane = lanes.findIndex((end) => end <= begins(u, words, x));
        if (lane < 0) continue;
        ctx.fillStyle = css(m.by === "fault" ? "--bad" : "--faint");
        lanes[lane] = written(u, words, x, bbox.top - (22 + 13 * lane) * r, lanes[lane]);
      }
      ctx.setLineDash([]);
      ctx.strokeStyle = css("--focus");
      ctx.lineWidth = 2 * r;
      const x = Math.round(u.valToPos(now === 0 ? -lead / 2 : moments[now].at, "x", true));
      ctx.beginPath();
      ctx.moveTo(x, top ? bbox.top - 18 * r : bbox.top);
      ctx.lineTo(x, bbox.top + bbox.height);
      ctx.stroke();
      ctx.restore();
    };

    const options = (place, top, bottom) => ({
      width: place.clientWidth,
      height: 62 + (top ? TOP : 0) + (bottom ? 24 : 0),
      padding: [top ? TOP : 4, 8, bottom ? 0 : 4, 0],
      legend: { show: false },
      cursor: { sync: { key: `volts-${slot}`, setSeries: false, scales: ["x", null] }, y: false, points: { show: false }, drag: { x: true, y: false } },
      scales: { x: { time: false, range: () => span }, y: { range: (_, low, high) => [Math.min(low ?? 0, 0) - 0.8, Math.max(high ?? 0, 13.5) + 1] } },
      axes: [
        { show: bottom, stroke: css("--faint"), grid: { stroke: css("--rule"), width: 1 }, ticks: { stroke: css("--rule") }, values: (_, list) => list.map((v) => v < 0 ? "" : `${+v.toFixed(3)} s`), size: 24, space: 60, font: '11px "Hyperlegible", sans-serif' },
        { stroke: css("--faint"), grid: { stroke: css("--rule"), width: 1 }, ticks: { show: false }, values: (_, list) => list.map((v) => `${v} V`), size: 42, gap: 4, splits: () => [0, 6, 12], font: '11px "Hyperlegible", sans-serif' },
      ],
      series: [{}, { stroke: css("--ink"), width: 1.75, fill: `${css("--lit")}66`, fillTo: 0, paths: uPlot.paths.stepped({ align: 1 }), points: { show: false }, spanGaps: false }],
      hooks: {
        drawClear: [behind],
        draw: [(u) => before(u, top)],
        setSelect: [(u) => {
          if (u.select.width < 4) return;
          const range = [u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")];
          u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
          look(range);
        }],
        setCursor: [(u) => read(u.cursor.left == null || u.cursor.left < 0 ? null : u.posToVal(u.cursor.left, "x"))],
      },
    });

    let reading = -1;
    const read = (seconds) => {
      const k = seconds == null ? now : at(seconds);
      if (k === reading) return;
      reading = k;
      for (const place of places) {
        const v = traces[Number(place.dataset.strip)].volts[k];
        place.closest(".strip-line").querySelector("[data-now]").textContent = v == null ? "floats" : `${(Math.abs(v) < 0.005 ? 0 : v).toFixed(2)} V`;
      }
    };

    const look = (range) => {
      const wide = Math.min(Math.max(range[1] - range[0], 0.05), ends + lead);
      const from = Math.min(Math.max(range[0], -lead), ends - wide);
      span = [from, from + wide];
      for (const u of plots.values()) u.setScale("x", { min: span[0], max: span[1] });
    };

    const draw = (place) => {
      if (!place.clientWidth || place.closest("details:not([open])")) return;
      plots.get(place)?.destroy();
      const list = [...place.closest(".strip-list").querySelectorAll("[data-strip]")];
      const n = Number(place.dataset.strip);
      const u = new uPlot(options(place, place === list[0], place === list[list.length - 1]), [time, volts(n)], place);
      u.over.addEventListener("click", (event) => {
        play.dispatchEvent(new CustomEvent("to", { detail: at(u.posToVal(event.offsetX, "x")) }));
      });
      u.over.addEventListener("dblclick", () => look(whole));
      plots.set(place, u);
      place.setAttribute("data-drawn", "");
    };
    const drawAll = () => { for (const place of places) draw(place); };

    const doing = {
      in: ([a, b]) => [a + (b - a) / 4, b - (b - a) / 4],
      out: ([a, b]) => [a - (b - a) / 2, b + (b - a) / 2],
      left: ([a, b]) => [a - (b - a) / 3, b - (b - a) / 3],
      right: ([a, b]) => [a + (b - a) / 3, b + (b - a) / 3],
      all: () => whole,
    };
    const zoom = play.querySelector("[data-zoom]");
    zoom.hidden = false;
    zoom.addEventListener("click", (event) => {
      const what = event.target instanceof HTMLElement ? event.target.dataset.do : undefined;
      if (what) look(doing[what](span));
    });
    play.addEventListener("step", (event) => {
      now = event.detail;
      reading = -1;
      read(null);
      for (const u of plots.values()) u.redraw(false);
    });
    for (const more of play.querySelectorAll("details")) more.addEventListener("toggle", () => { if (more.open) for (const place of more.querySelectorAll("[data-strip]")) if (!plots.has(place)) draw(place); });
    read(null);
    drawAll();

    let width = play.clientWidth;
    return () => {
      if (!play.isConnected) { for (const u of plots.values()) u.destroy(); return false; }
      if (play.clientWidth !== width || !plots.size) { width = play.clientWidth; drawAll(); }
      return true;
    };
  };

  const look = () => { for (const again of alive) if (!again()) alive.delete(again); };
  document.addEventListener("trace", (event) => { if (window.uPlot) alive.add(run(event.target)); });
  addEventListener("resize", look);
  document.addEventListener("toggle", look, true);
  document.addEventListener("htmx:afterSettle", look);
})();
