// A played line, step by step on the loom: how every run stands, what changed, who takes part.
(() => {
  const SIGN = { battery: "+", ground: "−", between: "·", open: "·", broken: "✕" };
  const calm = matchMedia("(prefers-reduced-motion: reduce)");

  const run = (play) => {
    const data = JSON.parse(play.querySelector("[data-trace-of]").textContent);
    const { moments, runs, coils, guilty, words, slot } = data;
    const says = play.querySelector("[data-says]");
    const slider = play.querySelector("[data-step]");
    const wires = new Map();
    for (const id of Object.keys(runs)) {
      const wire = document.getElementById(`${slot}-run-${id}`);
      if (!wire) continue;
      const halo = wire.querySelector(".halo");
      if (guilty.includes(id) && halo) {
        const guilt = halo.cloneNode();
        guilt.setAttribute("class", "guilt");
        guilt.setAttribute("stroke-width", Number(halo.getAttribute("stroke-width")) + 7);
        halo.before(guilt);
      }
      wires.set(id, { wire, texts: [...wire.querySelectorAll("text")], title: wire.querySelector("title"), told: wire.getAttribute("aria-label") ?? id });
    }
    play.querySelector(".loom").classList.add("is-live");

    const changed = (k) => k === 0 ? [] : Object.keys(runs).filter((id) => runs[id].levels[k] !== runs[id].levels[k - 1]);

    const turned = (k) => k === 0 ? [] : Object.keys(coils).filter((id) => coils[id][k] !== coils[id][k - 1]);

    const paint = (k) => {
      for (const id of Object.keys(coils)) document.getElementById(`${slot}-part-${id}`)?.classList.toggle("is-pulled", coils[id][k]);
      const moved = new Set(changed(k));
      for (const [id, { wire, texts, title, told }] of wires) {
        const level = runs[id].levels[k];
        const volts = runs[id].volts[k];
        for (const other of Object.keys(SIGN)) wire.classList.toggle(`at-${other}`, other === level);
        wire.classList.toggle("is-moved", moved.has(id));
        const mark = guilty.includes(id) ? `! ${id}` : id;
        for (const text of texts) {
          if (text.getAttribute("font-weight") !== "600") { text.textContent = `${words[level]}${moved.has(id) ? " now" : ""}`; continue; }
          text.dataset.near ??= String(text.textContent === id);
          text.textContent = text.dataset.near === "true" ? `${mark} ${SIGN[level]}` : level === "open" ? mark : `${mark} ${volts}`;
        }
        const now = `${words[level]}${level === "open" ? "" : `, ${volts}`}`;
        if (title) title.textContent = `${id}: ${now}`;
        wire.setAttribute("aria-label", `${told}, ${now}`);
      }
    };

    const line = (...parts) => {
      const p = document.createElement("p");
      for (const part of parts) p.append(part);
      return p;
    };
    const bold = (text) => Object.assign(document.createElement("b"), { textContent: text });

    const tell = (k) => {
      const m = moments[k];
      const at = Object.assign(document.createElement("span"), { className: "moment-at", textContent: `${m.at} s` });
      const lines = [line(bold(`${k + 1} of ${moments.length}`), " · ", at, " · ", bold(m.what))];
      lines.push(line(m.stands, m.driven.length ? ` The unit drives ${m.driven.join(", ")}.` : " The unit drives nothing."));
      const to = new Map();
      for (const id of changed(k)) {
        const level = runs[id].levels[k];
        to.set(level, [...(to.get(level) ?? []), id]);
      }
      const moves = [...to].map(([level, ids]) => `${words[level]}: ${ids.map((id) => runs[id].name).join(", ")}`);
      for (const id of turned(k)) moves.push(`${id} ${coils[id][k] ? "pulls in" : "lets go"}`);
      if (k > 0) lines.push(line(moves.length ? `Now ${moves.join("; ")}.` : "No run changes."));
      if (guilty.length) lines.push(line(bold("! "), `Takes part: ${guilty.map((id) => `${runs[id].name} ${words[runs[id].levels[k]]}`).join(", ")}.`));
      says.replaceChildren(...lines);
    };

    const bring = (k) => {
      const id = guilty.find((g) => changed(k).includes(g)) ?? changed(k)[0];
      wires.get(id)?.wire.dispatchEvent(new CustomEvent("bring", { bubbles: true }));
    };

    let at = 0;
    const go = (to, moving = true) => {
      at = Math.min(Math.max(to, 0), moments.length - 1);
      slider.value = String(at + 1);
      slider.setAttribute("aria-valuetext", `${at + 1} of ${moments.length}, ${moments[at].at} s, ${moments[at].what}`);
      paint(at);
      tell(at);
      if (moving) bring(at);
      for (const [name, off] of [["first", at === 0], ["back", at === 0], ["on", at === moments.length - 1], ["last", at === moments.length - 1]]) {
        play.querySelector(`[data-go="${name}"]`).setAttribute("aria-disabled", String(off));
      }
      for (const button of play.querySelectorAll("[data-step-to]")) {
        if (Number(button.dataset.stepTo) === at) button.setAttribute("aria-current", "step");
        else button.removeAttribute("aria-current");
      }
      play.dispatchEvent(new CustomEvent("step", { detail: at }));
    };

    const ways = { first: () => 0, back: () => at - 1, on: () => at + 1, last: () => moments.length - 1 };
    const keys = { ArrowLeft: "back", ArrowDown: "back", ArrowRight: "on", ArrowUp: "on", Home: "first", End: "last" };
    play.addEventListener("click", (event) => {
      const button = event.target instanceof Element ? event.target.closest("[data-go], [data-step-to]") : null;
      if (!(button instanceof HTMLElement)) return;
      if (button.dataset.go) go(ways[button.dataset.go]());
      else { go(Number(button.dataset.stepTo)); play.querySelector("[data-stepper]").scrollIntoView({ block: "nearest", behavior: calm.matches ? "auto" : "smooth" }); }
    });
    slider.addEventListener("input", () => go(Number(slider.value) - 1));
    play.querySelector("[data-stepper]").addEventListener("keydown", (event) => {
      const way = keys[event.key];
      if (!way || event.altKey || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      go(ways[way]());
    });
    play.addEventListener("to", (event) => go(event.detail));
    play.querySelector("[data-stepper]").hidden = false;
    go(0, false);
  };

  const ready = () => {
    for (const play of document.querySelectorAll("[data-trace]:not([data-ready])")) {
      play.setAttribute("data-ready", "");
      run(play);
      play.dispatchEvent(new CustomEvent("trace", { bubbles: true }));
    }
  };
  addEventListener("DOMContentLoaded", ready);
  document.addEventListener("htmx:load", ready);
})();
