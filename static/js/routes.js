// Points of a route moved on the drawing: by drag, by arrow keys, by buttons. Each move is typed
// into the route's own boxes, so that the form, its live figures and its save know of nothing else.
(() => {
  "use strict";

  const form = document.getElementById("sheet");
  const metresAUnit = Number(form?.dataset.metres);
  if (!form || !metresAUnit) {
    return;
  }
  const KEYS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };
  const [COARSE, FINE] = form.dataset.steps.split(" ").map(Number);
  const DRAG_STEP = COARSE / 10;
  const typed = new Map(); // place -> what a move has put into its two boxes, and where that is
  let drag = null;

  function all(selector, within = form) {
    return [...within.querySelectorAll(selector)];
  }

  function handleOf(place) {
    return form.querySelector(`.route-handle[data-place="${place}"]`);
  }

  function boxesOf(place) {
    return [0, 1].map((axis) => form.elements.namedItem(`${place}.${axis}`));
  }

  function drawingOf(element) {
    return element.closest("svg");
  }

  // Where a point is in metres: where a move has put it while its boxes still say so, else as drawn.
  function placeOf(handle) {
    const moved = typed.get(handle.dataset.place);
    if (moved && boxesOf(handle.dataset.place).every((box, axis) => box.value === moved.texts[axis])) {
      return moved.metres;
    }
    return handle.dataset.metres.split(" ").map(Number);
  }

  function drawnAt(drawing, [x, y]) {
    const { scale, left, base } = drawing.dataset;
    return [Number(left) + x * Number(scale), Number(base) - y * Number(scale)];
  }

  function moveTo(handle, metres) {
    const drawing = drawingOf(handle);
    const [lowX, lowY, highX, highY] = drawing.dataset.extent.split(" ").map(Number);
    const before = placeOf(handle);
    const held = [
      Math.min(Math.max(metres[0], lowX), highX),
      Math.min(Math.max(metres[1], lowY), highY),
    ];
    const texts = held.map((value) => String(Number((value / metresAUnit).toFixed(2))));
    const now = texts.map((text) => Number(text) * metresAUnit);
    const boxes = boxesOf(handle.dataset.place);
    if (Math.hypot(now[0] - before[0], now[1] - before[1]) < 1e-6) {
      say(handle, `${handle.dataset.words}: no further that way.`);
      return;
    }
    typed.set(handle.dataset.place, { texts, metres: now });
    boxes.forEach((box, axis) => {
      box.value = texts[axis];
    });
    follow(drawing);
    say(handle, `${handle.dataset.words}: ${texts.join(", ")} ${form.dataset.unit}`);
    boxes[0].dispatchEvent(new Event("input", { bubbles: true }));
  }

  function moveBy(handle, [x, y], length) {
    const before = placeOf(handle);
    moveTo(handle, [before[0] + x * length * metresAUnit, before[1] + y * length * metresAUnit]);
  }

  function say(handle, words) {
    const status = handle.closest("[data-routes-draw]").querySelector("[data-status]");
    status.textContent = words.charAt(0).toUpperCase() + words.slice(1);
  }

  // Put points, legs, arrows and words where the boxes now say.
  function follow(drawing) {
    const places = new Map();
    let moved = false;
    for (const handle of all(".route-handle", drawing)) {
      const was = handle.dataset.metres.split(" ").map(Number);
      const now = placeOf(handle);
      const [from, to] = [drawnAt(drawing, was), drawnAt(drawing, now)];
      const shift = [to[0] - from[0], to[1] - from[1]];
      places.set(handle.dataset.place, { to, shift });
      moved = moved || Math.hypot(...shift) > 0.05;
    }
    for (const shape of all("[data-item]", drawing)) {
      const [right, down] = places.get(shape.dataset.item).shift;
      if (Math.hypot(right, down) > 0.05) {
        shape.setAttribute("transform", `translate(${right} ${down})`);
      } else {
        shape.removeAttribute("transform");
      }
    }
    for (const line of all("[data-begins]", drawing)) {
      const ends = [places.get(line.dataset.begins).to, places.get(line.dataset.ends).to];
      line.setAttribute("d", `M${ends.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}`);
    }
    drawing.classList.toggle("route-moving", moved);
  }

  // Which point is chosen: the one that the buttons move.
  function choose(place) {
    const draw = handleOf(place)?.closest("[data-routes-draw]");
    if (draw) {
      draw.querySelector("[data-point]").value = place;
      mark(draw);
    }
  }

  function mark(draw) {
    const chosen = draw.querySelector("[data-point]").value;
    for (const handle of all(".route-handle", draw)) {
      handle.setAttribute("aria-pressed", String(handle.dataset.place === chosen));
    }
  }

  function handleAt(event) {
    return event.target instanceof Element ? event.target.closest(".route-handle") : null;
  }

  form.addEventListener("focusin", (event) => {
    const handle = handleAt(event);
    if (handle) {
      choose(handle.dataset.place);
    }
  });

  form.addEventListener("keydown", (event) => {
    const handle = handleAt(event);
    const way = KEYS[event.key];
    if (!handle) {
      return;
    }
    if (way && !event.altKey && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      moveBy(handle, way, event.shiftKey ? FINE : COARSE);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      choose(handle.dataset.place);
    }
  });

  form.addEventListener("pointerdown", (event) => {
    const handle = handleAt(event);
    if (!handle || event.button !== 0 || drag) {
      return;
    }
    const draw = handle.closest("[data-routes-draw]");
    const { place } = handle.dataset;
    const was = draw.querySelector("[data-point]").value;
    handle.focus({ preventScroll: true });
    choose(place);
    // With a finger the first touch chooses, so that one can still scroll over the drawing.
    if (event.pointerType === "touch" && (was !== place || !draw.dataset.touched)) {
      draw.dataset.touched = "yes";
      return;
    }
    event.preventDefault();
    draw.setPointerCapture(event.pointerId);
    drag = { place, id: event.pointerId, x: event.clientX, y: event.clientY, at: placeOf(handle) };
  });

  form.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.id) {
      return;
    }
    const handle = handleOf(drag.place);
    const drawing = drawingOf(handle);
    const pixels = drawing.getScreenCTM().a * Number(drawing.dataset.scale);
    drag.at = [
      drag.at[0] + (event.clientX - drag.x) / pixels,
      drag.at[1] - (event.clientY - drag.y) / pixels,
    ];
    drag.x = event.clientX;
    drag.y = event.clientY;
    const step = DRAG_STEP * metresAUnit;
    moveTo(handle, drag.at.map((value) => Math.round(value / step) * step));
  });

  for (const name of ["pointerup", "pointercancel"]) {
    form.addEventListener(name, (event) => {
      if (drag && event.pointerId === drag.id) {
        drag = null;
      }
    });
  }

  form.addEventListener("change", (event) => {
    const draw = event.target.closest("[data-point]")?.closest("[data-routes-draw]");
    if (draw) {
      mark(draw);
    }
  });

  form.addEventListener("click", (event) => {
    const pressed = event.target instanceof Element ? event.target.closest("[data-step]") : null;
    if (!pressed) {
      return;
    }
    const pad = pressed.closest("[data-routes-draw]");
    const handle = handleOf(pad.querySelector("[data-point]").value);
    moveBy(handle, pressed.dataset.step.split(" ").map(Number), Number(pad.querySelector("[data-length]").value));
  });

  // The tabs: all routes are in the form; one is shown.
  form.addEventListener("click", (event) => {
    const tab = event.target instanceof Element ? event.target.closest(".route-tab") : null;
    if (tab) {
      event.preventDefault();
      showRoute(tab.dataset.route);
    }
  });

  function showRoute(number) {
    for (const tab of all(".route-tab")) {
      tab.setAttribute("aria-pressed", String(tab.dataset.route === number));
    }
    for (const route of all("section.route")) {
      route.hidden = route.dataset.route !== number;
    }
    form.elements.namedItem("shown_route").value = number;
    form.dispatchEvent(new CustomEvent("routes:shown"));
  }

  // A link of the summary of faults may lead to a box of a route that is not shown.
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("a[href^='#f-routes-']") : null;
    const route = link && document.getElementById(link.hash.slice(1))?.closest("section.route");
    if (route?.hidden) {
      showRoute(route.dataset.route);
    }
  });

  // What the server drew anew takes over what has moved since it was asked, and keeps the focus.
  let focused = "";
  let opened = [];
  document.addEventListener("htmx:before:swap", (event) => {
    const { ctx } = event.detail;
    if (ctx.target instanceof Element && ctx.target.id === "live-poses" && ctx.response.status !== 200) {
      event.preventDefault();
      return;
    }
    focused = document.activeElement?.dataset?.place ?? "";
    opened = all("details.route-detail[open]").map((one) => one.id);
  });
  document.addEventListener("htmx:after:swap", () => {
    for (const id of opened) {
      document.getElementById(id)?.setAttribute("open", "");
    }
    for (const drawing of all("svg.route-field")) {
      follow(drawing);
    }
    for (const draw of all("[data-routes-draw]")) {
      mark(draw);
    }
    for (const pad of all("[data-needs-scripts]")) {
      pad.hidden = false;
    }
    if (focused && document.activeElement?.dataset?.place !== focused) {
      handleOf(focused)?.focus({ preventScroll: true });
    }
  });

  for (const draw of all("[data-routes-draw]")) {
    mark(draw);
  }
})();
