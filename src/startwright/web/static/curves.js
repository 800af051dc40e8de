// Curves of a recording: one strip a wire, one time for all, what was done as lanes above them.
(() => {
  const list = document.querySelector("[data-curves]");
  if (!list || !window.uPlot) return;
  const address = list.dataset.curves;
  const lanes = JSON.parse(document.getElementById("lanes").textContent);
  const places = [...list.querySelectorAll("[data-wire]")];
  const rows = places.map((place) => place.closest(".curve"));
  const over = document.querySelector("[data-over]");
  const lane = over.querySelector("[data-lanes]");
  const hand = over.querySelector("[data-hand]");
  const says = over.querySelector("[data-at]");
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const GUTTER = 44;
  const HEIGHT = 92;
  const plots = [];
  let all = null; // the points at hand: { time, volts }
  let whole = null;
  let span = null;
  let at = null;
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

  const index = (time, t) => {
    let a = 0;
    let b = time.length;
    while (a < b) {
      const mid = (a + b) >> 1;
      if (time[mid] < t) a = mid + 1; else b = mid;
    }
    return a;
  };

  // What a screen can show of a stretch: the least and the most of every pixel, or all there is.
  const drawn = (time, volts, range, pixels) => {
    const first = Math.max(0, index(time, range[0]) - 1);
    const last = Math.min(time.length, index(time, range[1]) + 2);
    const count = last - first;
    if (count <= 4 * pixels) return [time.subarray(first, last), volts.subarray(first, last)];
    const x = new Float64Array(2 * pixels);
    const y = new Float32Array(2 * pixels);
    for (let k = 0; k < pixels; k += 1) {
      const a = first + Math.floor((count * k) / pixels);
      const b = first + Math.floor((count * (k + 1)) / pixels);
      let low = volts[a];
      let high = low;
      let lowAt = a;
      let highAt = a;
      for (let i = a + 1; i < b; i += 1) {
        const v = volts[i];
        if (v < low) { low = v; lowAt = i; } else if (v > high) { high = v; highAt = i; }
      }
      const [p, q] = lowAt <= highAt ? [lowAt, highAt] : [highAt, lowAt];
      x[2 * k] = time[p]; y[2 * k] = volts[p];
      x[2 * k + 1] = q > p ? time[q] : time[p] + 1e-9; y[2 * k + 1] = volts[q];
    }
    return [x, y];
  };

  const acts = {
    hooks: {
      drawClear: [(u) => {
        const { ctx, bbox } = u;
        ctx.save();
        ctx.beginPath();
        ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
        ctx.clip();
        ctx.fillStyle = css("--wash-touch");
        ctx.strokeStyle = css("--edge");
        for (const one of lanes) {
          const from = Math.round(u.valToPos(one.start_s, "x", true));
          const to = Math.round(u.valToPos(one.end_s, "x", true));
          if (one.lane === "hand") ctx.fillRect(from, bbox.top, Math.max(1, to - from), bbox.height);
          if (one.lane !== "key") continue;
          ctx.beginPath();
          ctx.moveTo(from + 0.5, bbox.top);
          ctx.lineTo(from + 0.5, bbox.top + bbox.height);
          ctx.stroke();
        }
        ctx.restore();
      }],
    },
  };

  const options = (place, i) => {
    const base = getComputedStyle(rows[i].querySelector("[data-base]")).getPropertyValue("--base").trim() || css("--edge");
    return {
      width: place.clientWidth,
      height: HEIGHT,
      padding: [8, 8, 8, 0],
      plugins: [acts],
      legend: { show: false },
      cursor: { y: false, drag: { x: true, y: false }, points: { size: 7 } },
      scales: { x: { time: false }, y: { range: (_, low, high) => [Math.min(-0.8, low), Math.max(15, high)] } },
      axes: [
        { show: false },
        { size: GUTTER, gap: 4, stroke: css("--faint"), grid: { stroke: css("--rule"), width: 1 }, ticks: { show: false },
          font: '12px "Hyperlegible", sans-serif', splits: (u) => (u.scales.y.max > 24 ? [0, u.scales.y.max] : [0, 12]), values: (_, v) => v.map((n) => `${Math.round(n)} V`) },
      ],
      series: [{}, { stroke: css("--ink"), width: 1.2, fill: `color-mix(in srgb, ${base} 42%, transparent)`, points: { show: false } }],
      hooks: {
        setSelect: [(u) => {
          if (u.select.width < 4) return;
          look([u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")]);
          u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
        }],
        setCursor: [(u) => { if (!moving && u.cursor.left >= 0) read(u.posToVal(u.cursor.left, "x"), u); }],
      },
    };
  };

  // The curves are read at one time, by the mouse, the finger or the arrow keys.
  let moving = false;
  const read = (t, from) => {
    at = Math.min(Math.max(t, span[0]), span[1]);
    const k = Math.min(Math.max(index(all.time, at), 0), all.time.length - 1);
    const near = k > 0 && at - all.time[k - 1] < all.time[k] - at ? k - 1 : k;
    moving = true;
    for (const [i, u] of plots.entries()) {
      rows[i].querySelector("[data-now]").textContent = `${all.volts[i][near].toFixed(2)} V`;
      if (u !== from) u.setCursor({ left: u.valToPos(at, "x"), top: 4 }, false);
    }
    moving = false;
    const state = lanes.filter((one) => one.start_s <= at && at < one.end_s).map((one) => (one.lane === "key" ? `key ${one.says}` : one.says));
    says.textContent = `${all.time[near].toFixed(3)} s${state.length ? ` · ${state.join(", ")}` : ""}`;
    hand.value = String(Math.round(((at - span[0]) / (span[1] - span[0])) * 1000));
    hand.setAttribute("aria-valuetext", says.textContent);
  };

  const lay = () => {
    const [a, b] = span;
    const made = [];
    for (const one of lanes) {
      if (one.end_s < a || one.start_s > b) continue;
      const bar = document.createElement("span");
      bar.className = `lane is-${one.lane}${one.proposed ? " is-proposed" : ""}${one.lane === "key" ? ` at-${one.step}` : ""}`;
      const from = Math.max(0, (one.start_s - a) / (b - a));
      const to = Math.min(1, (one.end_s - a) / (b - a));
      bar.style.left = `${100 * from}%`;
      bar.style.width = `${100 * Math.max(0.002, to - from)}%`;
      bar.textContent = one.says;
      bar.title = one.says;
      made.push(bar);
    }
    const step = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 60, 120, 300, 600].find((s) => (b - a) / s < lane.clientWidth / 64) || 3600;
    for (let t = Math.ceil(a / step) * step; t <= b; t += step) {
      const tick = document.createElement("span");
      tick.className = "tick";
      tick.style.left = `${(100 * (t - a)) / (b - a)}%`;
      tick.textContent = `${+t.toFixed(3)} s`;
      made.push(tick);
    }
    lane.replaceChildren(...made);
  };

  const show = () => {
    for (const [i, u] of plots.entries()) {
      const pixels = Math.max(50, Math.round(u.bbox.width));
      u.batch(() => {
        u.setData(drawn(all.time, all.volts[i], span, pixels), false);
        u.setScale("x", { min: span[0], max: span[1] });
      });
    }
    lay();
    if (at !== null) read(at);
  };

  const look = (range) => {
    if (!whole || !(range[1] > range[0])) return;
    span = [Math.max(range[0], whole[0]), Math.min(range[1], whole[1])];
    show();
    if (thinned) closer(span);
  };

  // What was thinned for the whole view comes anew, in full, for a closer one.
  let thinned = false;
  let timer = 0;
  const closer = (range) => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const mine = (asked += 1);
      const got = await fetched(range);
      if (mine !== asked) return;
      all = got;
      show();
    }, 150);
  };

  const draw = () => {
    for (const u of plots.splice(0)) u.destroy();
    for (const [i, place] of places.entries()) plots.push(new uPlot(options(place, i), [[whole[0], whole[1]], [0, 0]], place));
    line();
    show();
  };

  // The lanes stand over the curves, to the pixel.
  const line = () => {
    const box = over.querySelector(".over-lanes");
    const room = over.querySelector(".over-tools").getBoundingClientRect();
    const place = places[0].getBoundingClientRect();
    box.style.marginLeft = `${place.left - room.left + GUTTER}px`;
    box.style.width = `${place.width - GUTTER - 8}px`;
  };

  const middle = ([a, b]) => (at !== null && at > a && at < b ? at : (a + b) / 2);
  const doing = {
    in: ([a, b]) => { const m = middle([a, b]); return [m - (m - a) / 2, m + (b - m) / 2]; },
    out: ([a, b]) => { const m = middle([a, b]); return [m - (m - a) * 2, m + (b - m) * 2]; },
    left: ([a, b]) => [a - (b - a) / 3, b - (b - a) / 3],
    right: ([a, b]) => [a + (b - a) / 3, b + (b - a) / 3],
    all: () => whole,
  };
  const inside = ([a, b]) => {
    const wide = Math.min(b - a, whole[1] - whole[0]);
    const from = Math.min(Math.max(a, whole[0]), whole[1] - wide);
    return [from, from + wide];
  };

  fetched(null).then((got) => {
    all = got;
    whole = [got.time[0], got.time[got.time.length - 1]];
    span = [...whole];
    thinned = Number(list.dataset.samples) > got.time.length;
    over.hidden = false;
    draw();
    list.setAttribute("data-drawn", "");
    over.querySelector("[data-zoom]").addEventListener("click", (event) => {
      const what = event.target instanceof Element ? event.target.closest("[data-do]")?.dataset.do : undefined;
      if (what) look(inside(doing[what](span)));
    });
    hand.max = "1000";
    hand.addEventListener("input", () => read(span[0] + (Number(hand.value) / 1000) * (span[1] - span[0])));
    hand.addEventListener("keydown", (event) => {
      const what = { "+": "in", "=": "in", "-": "out", 0: "all" }[event.key];
      if (!what) return;
      event.preventDefault();
      look(inside(doing[what](span)));
    });
    for (const place of places) place.addEventListener("dblclick", () => look(whole));
    let width = list.clientWidth;
    addEventListener("resize", () => {
      if (list.clientWidth === width) return;
      width = list.clientWidth;
      for (const [i, u] of plots.entries()) u.setSize({ width: places[i].clientWidth, height: HEIGHT });
      line();
      show();
    });
    document.addEventListener("light", draw);
  });
})();
