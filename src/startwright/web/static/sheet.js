// Touch a run: its row, its figures and its slip light up. Everything else the page does by itself.
(() => {
  let picked = null;

  const WIRE = "[data-loom] .run";
  const runOf = (wire) => wire.id.replace(/^run-/, "");
  const named = (element, run) => (element.dataset.touch || "").split(" ").includes(run);

  const show = (run) => {
    picked = run;
    for (const figure of document.querySelectorAll("[data-loom]")) {
      figure.classList.toggle("is-picking", run !== null);
      for (const wire of figure.querySelectorAll(".run")) {
        wire.classList.toggle("is-picked", runOf(wire) === run);
      }
    }
    for (const element of document.querySelectorAll("[data-touch]")) {
      element.classList.toggle("is-touched", run !== null && named(element, run));
    }
    const slip = document.querySelector("[data-slip]");
    const full = run === null ? null : document.getElementById(`slip-${run}`);
    if (slip) {
      slip.hidden = full === null;
      slip.replaceChildren(...(full ? [...full.children].map((c) => c.cloneNode(true)) : []));
    }
  };

  // Where the drawing is wider than the page: roll it to where that wire ends in the car.
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  document.addEventListener("bring", (event) => {
    const wire = event.target;
    const roll = wire instanceof Element && wire.closest(".loom-roll");
    if (!roll || (roll.scrollWidth <= roll.clientWidth && roll.scrollHeight <= roll.clientHeight)) return;
    const boxes = [...wire.querySelectorAll("text")].map((text) => text.getBoundingClientRect());
    const end = boxes.reduce((far, box) => (box.right > far.right ? box : far), boxes[0] ?? wire.getBoundingClientRect());
    const seen = roll.getBoundingClientRect();
    const beside = end.left < seen.left + 20 || end.right > seen.right - 60;
    const foot = Math.min(seen.bottom, innerHeight) - seen.top > 120 ? Math.min(seen.bottom, innerHeight) : seen.bottom;
    const above = roll.scrollHeight > roll.clientHeight && (end.top < seen.top + 20 || end.bottom > foot - 20);
    const left = beside ? (end.left + end.right - seen.left - seen.right) / 2 : 0;
    const top = above ? (end.top + end.bottom - seen.top - foot) / 2 : 0;
    if (left || top) roll.scrollBy({ left, top, behavior: calm.matches ? "auto" : "smooth" });
  });
  const bring = (run) => document.getElementById(`run-${run}`)?.dispatchEvent(new CustomEvent("bring", { bubbles: true }));

  // On a phone the drawing lies behind a window, which is on the unit to begin with.
  const begin = () => {
    for (const roll of document.querySelectorAll(":is([data-loom], .is-trace) > .loom-roll:not([data-begun])")) {
      const unit = roll.querySelector(".unit");
      if (!unit || roll.clientHeight === 0) continue;
      roll.setAttribute("data-begun", "");
      const box = unit.getBoundingClientRect();
      const seen = roll.getBoundingClientRect();
      roll.scrollTop += box.top - seen.top - Math.max(12, (seen.height - box.height) / 2);
    }
  };
  document.addEventListener("toggle", begin, true);

  const wires = () => [...document.querySelectorAll(WIRE)];

  // One stop for the tab key; the arrow keys walk from wire to wire.
  const ready = () => {
    for (const [n, wire] of wires().entries()) {
      if (wire.hasAttribute("data-ready")) continue;
      wire.setAttribute("data-ready", "");
      wire.setAttribute("tabindex", n === 0 ? "0" : "-1");
      wire.setAttribute("role", "button");
    }
  };

  document.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null;
    if (!target) return;
    const pick = target.closest("[data-pick]");
    if (pick instanceof HTMLElement) {
      event.preventDefault();
      show(pick.dataset.pick);
      bring(pick.dataset.pick);
      const figure = document.querySelector("[data-loom]");
      if (figure && !target.closest(".row")) {
        figure.scrollIntoView({ block: "nearest" });
      }
      return;
    }
    const line = target.closest("[data-line]");
    const form = line && document.querySelector("form.play");
    if (form instanceof HTMLFormElement) {
      event.preventDefault();
      form.elements.namedItem("line").value = line.dataset.line;
      form.requestSubmit();
      form.scrollIntoView({ block: "nearest" });
      return;
    }
    const wire = target.closest(WIRE);
    if (wire) {
      show(runOf(wire) === picked ? null : runOf(wire));
      return;
    }
    const next = target.closest('a[href^="#"]');
    if (next) open(next.getAttribute("href").slice(1));
    else if (picked !== null && !target.closest("[data-touch], [data-slip], a, button, input")) show(null);
  });

  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && picked !== null) { show(null); return; }
    const wire = document.activeElement;
    if (!(wire instanceof SVGElement) || !wire.matches(WIRE)) return;
    const all = wires();
    const at = all.indexOf(wire);
    const to = { ArrowDown: at + 1, ArrowRight: at + 1, ArrowUp: at - 1, ArrowLeft: at - 1, Home: 0, End: all.length - 1 }[event.key];
    if (to !== undefined) {
      event.preventDefault();
      const next = all[(to + all.length) % all.length];
      wire.setAttribute("tabindex", "-1");
      next.setAttribute("tabindex", "0");
      next.focus();
      show(runOf(next));
      bring(runOf(next));
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      show(runOf(wire) === picked ? null : runOf(wire));
    }
  });

  const open = (id) => {
    const details = document.querySelector(`#${CSS.escape(id)} > details`);
    if (details) details.open = true;
  };

  let closed = [];
  addEventListener("beforeprint", () => {
    closed = [...document.querySelectorAll(".part > details:not([open])")];
    for (const details of closed) details.open = true;
  });
  addEventListener("afterprint", () => { for (const details of closed) details.open = false; });

  addEventListener("DOMContentLoaded", () => { ready(); begin(); if (location.hash) open(location.hash.slice(1)); });
  // A part that the person opened stays open when its answer comes.
  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const now = document.getElementById(event.detail.target?.id)?.querySelector(":scope > details");
    const next = event.detail.fragment?.querySelector?.(".part > details");
    if (now?.open && next) next.open = true;
  });
  document.addEventListener("htmx:load", () => { ready(); begin(); if (picked) show(picked); });
})();
