// Forms that recompute while one types. Without this file they save and change rows all the same.
// Here: the save state in words, a warning before typed text is left behind, fixes typed into
// their boxes, and answers that arrive too late thrown away.
(() => {
  "use strict";

  const form = document.querySelector("form[data-sheet]");
  if (!form) {
    return;
  }
  const state = document.getElementById("save-state");
  const figures = document.getElementById("figures");
  const SLOW_MS = 500;
  let unsaved = "unsaved" in form.dataset;
  let leaving = false;
  let asked = 0;
  let shown = 0;
  let slowTimer = 0;
  let chartsSeen = false;

  function say(words, isUnsaved) {
    state.textContent = words;
    state.classList.toggle("unsaved", isUnsaved);
  }

  function markUnsaved() {
    if (!unsaved || !state.classList.contains("unsaved")) {
      say("Changed, not saved yet.", true);
    }
    unsaved = true;
  }

  if (unsaved) {
    state.classList.add("unsaved");
  }

  form.addEventListener("input", (event) => {
    if (event.target.name !== "revision_note" && event.target.name !== "your_name") {
      markUnsaved();
    }
  });

  form.addEventListener("submit", () => {
    leaving = true;
    say("Saving …", false);
  });

  window.addEventListener("beforeunload", (event) => {
    if (unsaved && !leaving) {
      event.preventDefault();
    }
  });

  // A page that the browser brings back from its cache is not saving any more.
  window.addEventListener("pageshow", () => {
    leaving = false;
  });

  // A remark's fix: typed into its boxes as if by hand.
  document.addEventListener("click", (event) => {
    const button = event.target instanceof Element ? event.target.closest("[data-fix]") : null;
    if (!button) {
      return;
    }
    const boxes = [...new URLSearchParams(button.value)].map(([name, text]) => [
      form.elements.namedItem(name),
      text,
    ]);
    if (!boxes.every(([box]) => box instanceof Element)) {
      return;
    }
    event.preventDefault();
    for (const [box, text] of boxes) {
      box.value = text;
      box.closest("details")?.setAttribute("open", "");
    }
    boxes[0][0].focus();
    boxes[0][0].dispatchEvent(new Event("input", { bubbles: true }));
  });

  const refresh = form.querySelector("button[value='refresh']");
  if (refresh) {
    refresh.hidden = true;
  }

  // Another layout has other inputs: fetch them, with everything typed kept.
  form.addEventListener("change", (event) => {
    if (event.target.name === "layout") {
      leaving = true;
      refresh.click();
    }
  });

  // Live figures: each question carries a number, and an older answer than the one shown is dropped.
  document.addEventListener("htmx:config:request", (event) => {
    const { ctx } = event.detail;
    if (ctx.sourceElement === form) {
      asked += 1;
      ctx.request.body.set("seq", String(asked));
      ctx.request.body.set("curves", chartsSeen ? "yes" : "");
      clearTimeout(slowTimer);
      slowTimer = setTimeout(() => figures?.classList.add("working"), SLOW_MS);
    }
  });

  document.addEventListener("htmx:before:swap", (event) => {
    const { ctx } = event.detail;
    if (ctx.sourceElement !== form) {
      return;
    }
    const number = Number(ctx.response.headers.get("Answer-Sequence") ?? 0);
    if (ctx.response.status !== 200 || number <= shown) {
      event.preventDefault();
      if (ctx.response.status !== 200) {
        say("The figures could not be worked out. What you typed is still here, not saved.", true);
      }
      return;
    }
    shown = number;
  });

  document.addEventListener("htmx:finally:request", (event) => {
    if (event.detail.ctx.sourceElement === form && event.detail.ctx.request.body.get("seq") === String(asked)) {
      clearTimeout(slowTimer);
      figures?.classList.remove("working");
    }
  });

  // Curves are asked for only once the charts have come near: they cost the server most.
  const charts = document.querySelector("[data-charts]");
  if (charts) {
    const near = new IntersectionObserver(
      (entries) => {
        if (entries.some((entry) => entry.isIntersecting)) {
          near.disconnect();
          chartsSeen = true;
          if (unsaved) {
            form.dispatchEvent(new Event("input", { bubbles: true }));
          }
        }
      },
      { rootMargin: "300px" },
    );
    near.observe(charts);
  }

  // A row was added or taken out: the form changed, and the figures with it.
  document.addEventListener("htmx:after:swap", (event) => {
    const target = event.detail.ctx.target;
    if (target instanceof Element && target.id.startsWith("rows-")) {
      markUnsaved();
      form.dispatchEvent(new Event("input", { bubbles: true }));
    }
  });

  document.getElementById("fault-summary")?.focus();
})();
