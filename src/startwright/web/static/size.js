// The fuse against the wire: seconds over amps, both as powers of ten.
(() => {
  const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  let plot = null;

  const between = (points, amps, key) => {
    const at = points.filter((p) => p[key] !== null);
    if (amps < at[0]?.amps_A || amps > at[at.length - 1]?.amps_A) return null;
    for (let i = 1; i < at.length; i += 1) {
      const [a, b] = [at[i - 1], at[i]];
      if (amps <= b.amps_A) {
        const share = Math.log(amps / a.amps_A) / Math.log(b.amps_A / a.amps_A);
        return Math.exp(Math.log(a[key]) + share * Math.log(b[key] / a[key]));
      }
    }
    return null;
  };

  const draw = () => {
    const place = document.querySelector("[data-picture]");
    const data = document.querySelector("[data-curves-of]");
    plot?.destroy();
    plot = null;
    if (!place || !data || !window.uPlot) return;
    const { fuse, wire, ampacity_A: lasting } = JSON.parse(data.textContent);
    const amps = [...new Set([...fuse, ...wire].map((p) => p.amps_A))].sort((a, b) => a - b);
    const line = (points, key) => amps.map((a) => between(points, a, key));
    const grid = { stroke: css("--rule"), width: 1 };
    const values = (unit) => (_, at) => at.map((v) => (v === null ? "" : `${(+v.toPrecision(3)).toLocaleString("en")} ${unit}`));
    plot = new uPlot({
      width: place.clientWidth,
      height: Math.min(420, Math.max(280, place.clientWidth * 0.5)),
      padding: [8, 32, 0, 0],
      legend: { show: false },
      cursor: { y: false, drag: { x: false, y: false } },
      scales: { x: { time: false, distr: 3 }, y: { distr: 3, range: [0.005, 1000] } },
      axes: [
        { stroke: css("--faint"), grid, ticks: grid, values: values("A") },
        { stroke: css("--faint"), grid, ticks: grid, values: values("s"), size: 76 },
      ],
      series: [
        {},
        { stroke: css("--wire-bad"), width: 1.5, points: { show: false }, spanGaps: true },
        { stroke: css("--wire-bad"), width: 1.5, points: { show: false }, spanGaps: true },
        { stroke: css("--wire-ok"), width: 3, points: { show: false }, spanGaps: true },
      ],
      hooks: {
        draw: [(u) => {
          const { ctx, bbox } = u;
          const x = Math.round(u.valToPos(lasting, "x", true));
          ctx.save();
          ctx.strokeStyle = css("--wire-ok");
          ctx.fillStyle = css("--ink");
          ctx.lineWidth = 2 * devicePixelRatio;
          ctx.setLineDash([6 * devicePixelRatio, 5 * devicePixelRatio]);
          ctx.beginPath();
          ctx.moveTo(x, bbox.top);
          ctx.lineTo(x, bbox.top + bbox.height);
          ctx.stroke();
          ctx.font = `${13 * devicePixelRatio}px "Hyperlegible", sans-serif`;
          const words = `${lasting.toPrecision(3)} A for good`;
          const apart = 8 * devicePixelRatio;
          const room = x + apart + ctx.measureText(words).width <= bbox.left + bbox.width;
          ctx.textAlign = room ? "left" : "right";
          ctx.textBaseline = "alphabetic";
          ctx.fillText(words, room ? x + apart : x - apart, bbox.top + 18 * devicePixelRatio);
          ctx.restore();
        }],
      },
      bands: [{ series: [2, 1], fill: `${css("--wire-bad")}2e` }],
    }, [amps, line(fuse, "opens_min_s"), line(fuse, "opens_max_s"), line(wire, "survives_s")], place);
    place.setAttribute("data-drawn", "");
  };

  draw();
  document.addEventListener("htmx:afterSettle", draw);
  document.addEventListener("light", draw);
  let width = innerWidth;
  addEventListener("resize", () => { if (innerWidth !== width) { width = innerWidth; draw(); } });
})();
