// Daylight or bay: what the person chose last, else what the machine says. Runs before paint.
(() => {
  const kept = () => { try { return localStorage.getItem("light"); } catch { return null; } };
  const root = document.documentElement;
  const chosen = kept();
  if (chosen === "dark" || chosen === "light") root.dataset.light = chosen;
  root.classList.add("scripted");
  document.addEventListener("DOMContentLoaded", () => {
    const button = document.querySelector("[data-light-switch]");
    if (!(button instanceof HTMLButtonElement)) return;
    const dark = () => root.dataset.light
      ? root.dataset.light === "dark"
      : matchMedia("(prefers-color-scheme: dark)").matches;
    const show = () => { button.textContent = dark() ? "Daylight" : "Bay light"; };
    button.hidden = false;
    show();
    button.addEventListener("click", () => {
      root.dataset.light = dark() ? "light" : "dark";
      try { localStorage.setItem("light", root.dataset.light); } catch { /* private window */ }
      show();
      document.dispatchEvent(new CustomEvent("light"));
    });
  });
})();
