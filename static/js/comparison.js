// On a phone two candidates stand side by side: change the second one without loading the page.
(() => {
  "use strict";

  const table = document.querySelector("table.comparison");
  const choice = document.querySelector(".beside-choice");
  if (!table || !choice) return;

  choice.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-beside]");
    if (!link) return;
    event.preventDefault();
    for (const cell of table.querySelectorAll(".column")) {
      cell.classList.toggle("column-beside", cell.dataset.key === link.dataset.beside);
    }
    for (const other of choice.querySelectorAll("a")) other.removeAttribute("aria-current");
    link.setAttribute("aria-current", "true");
    history.replaceState(null, "", link.href);
  });
})();
