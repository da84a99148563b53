// The ballot: a slider beside each number box, and no box for what was chosen as most important.
(() => {
  "use strict";

  const form = document.getElementById("ballot-form");
  if (!form) {
    return;
  }

  for (const slider of form.querySelectorAll("input[data-keeps]")) {
    const box = document.getElementById(slider.dataset.keeps);
    slider.addEventListener("input", () => {
      box.value = slider.value;
    });
    box.addEventListener("input", () => {
      const points = Number(box.value);
      if (box.value.trim() !== "" && points >= 0 && points <= 100) {
        slider.value = String(points);
      }
    });
  }

  function showChosen() {
    const chosen = form.querySelector("input[name='most']:checked");
    for (const row of form.querySelectorAll("[data-swing]")) {
      const first = chosen !== null && row.dataset.swing === chosen.value;
      for (const input of row.querySelectorAll("input")) {
        input.hidden = first;
      }
      row.querySelector(".swing-first").hidden = !first;
    }
  }

  form.addEventListener("change", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.name === "most") {
      showChosen();
    }
  });
  showChosen();
})();
