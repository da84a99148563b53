// Pointing at a row of the list of gaps lights its two bodies in both views and draws the measure.
// Without this file each row is a link that does the same on the server.
(() => {
  "use strict";

  const views = document.querySelector(".fit-views");
  if (!views) return;
  let rows = [];
  let kept = null;

  function light(row) {
    for (const lit of document.querySelectorAll(".gap.lit, .fit-views .lit")) {
      lit.classList.remove("lit");
    }
    row.classList.add("lit");
    for (const shape of views.querySelectorAll("[data-body], [data-keepout], [data-row]")) {
      const { body, keepout, row: number } = shape.dataset;
      const belongs =
        body !== undefined
          ? body === row.dataset.body
          : keepout !== undefined
            ? keepout === row.dataset.keepout
            : number === row.dataset.row;
      if (belongs) shape.classList.add("lit");
    }
  }

  function watch(row) {
    const link = row.querySelector("a");
    row.addEventListener("pointerenter", () => light(row));
    row.addEventListener("pointerleave", () => light(kept));
    link.addEventListener("focus", () => light(row));
    row.addEventListener("click", (event) => {
      event.preventDefault();
      for (const other of rows) other.querySelector("a").removeAttribute("aria-current");
      link.setAttribute("aria-current", "true");
      kept = row;
      light(row);
      history.replaceState(null, "", link.href);
    });
  }

  // Once at the start, and again when a move on the drawing has brought another list.
  function begin() {
    rows = [...document.querySelectorAll("tr.gap")];
    if (!rows.length) return;
    kept = rows.find((row) => row.classList.contains("lit")) ?? rows[0];
    for (const row of rows) watch(row);
  }

  document.addEventListener("fit:redrawn", begin);
  begin();
})();
