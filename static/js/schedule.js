// Tables of the plan by keyboard, and what if. Without this file all of it works by its buttons.
(() => {
  "use strict";

  // Enter goes to the same box of the row below; in the last row it adds a row.
  document.addEventListener("keydown", (event) => {
    const box = event.target;
    if (event.key !== "Enter" || !(box instanceof HTMLInputElement) || box.type === "checkbox") {
      return;
    }
    const table = box.closest("[data-row-keys]");
    if (!table || event.ctrlKey || event.metaKey) {
      return;
    }
    event.preventDefault();
    const path = box.name.split(".");
    const row = path.findIndex((step) => /^\d+$/.test(step));
    if (row < 0) {
      return;
    }
    path[row] = String(Number(path[row]) + 1);
    const below = box.form?.elements.namedItem(path.join("."));
    if (below instanceof HTMLElement) {
      below.focus();
      below.select?.();
      return;
    }
    const add = table.closest(".rows")?.querySelector("button[name='row'][value^='add:']");
    add?.click();
  });

  // A list of ticks says in words what is ticked.
  document.addEventListener("change", (event) => {
    const box = event.target;
    const pick = box instanceof HTMLInputElement && box.type === "checkbox" ? box.closest("details.pick") : null;
    if (!pick) {
      return;
    }
    const ticked = [...pick.querySelectorAll("input:checked")].map((one) => one.closest("label").textContent.trim());
    const words = pick.querySelector("[data-pick-words]");
    if (words) {
      words.textContent = ticked.length ? `${words.dataset.verb}: ${ticked.join(", ")}` : words.dataset.nothing;
    }
  });

  // What is chosen in a line of what if is what will be tried.
  const form = document.querySelector("form[data-try]");
  form?.addEventListener("input", (event) => {
    const radio = event.target.closest(".try-row")?.querySelector("input[type='radio']");
    if (radio && event.target !== radio) {
      radio.checked = true;
    }
  });
})();
