// The number pad types into the field; a keyboard types into it as ever.
(() => {
  const form = document.querySelector("[data-pad]");
  if (!form) return;
  const keys = form.querySelector("[data-keys]");
  const volts = form.querySelector("#volts");
  form.addEventListener("submit", (event) => {
    // sent once, however often it is pressed
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
  });
  addEventListener("pageshow", () => { delete form.dataset.sent; });
  if (!keys || !volts) return;
  keys.hidden = false;
  // no second pad over the first one
  if (matchMedia("(pointer: coarse)").matches) volts.setAttribute("inputmode", "none");
  else addEventListener("load", () => { volts.focus({ preventScroll: true }); if (volts.value) volts.select(); });
  let fresh = volts.value !== "";
  volts.addEventListener("input", () => { fresh = false; });
  keys.addEventListener("click", (event) => {
    const key = event.target instanceof Element ? event.target.closest("[data-key]")?.dataset.key : undefined;
    if (!key) return;
    let text = fresh && key !== "back" && key !== "-" ? "" : volts.value;
    fresh = false;
    if (key === "back") text = text.slice(0, -1);
    else if (key === "-") text = text.startsWith("-") ? text.slice(1) : `-${text}`;
    else if (key === ".") text = text.includes(".") ? text : `${text || "0"}.`;
    else if (text.length < 7) text += key;
    volts.value = text;
  });
})();
