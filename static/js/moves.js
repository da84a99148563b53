// Keep-outs and modules moved on the plan: by drag, by arrow keys, by buttons. The drawing follows
// at once; the figures follow when the hand rests. Nothing is stored before "Save as a revision".
(() => {
  "use strict";

  const area = document.getElementById("moves");
  const views = document.getElementById("fit-drawing");
  if (!area || !views) {
    return;
  }
  const REST_MS = 300;
  const COARSE_MM = 5;
  const FINE_MM = 1;
  const FURTHEST_MM = 5000;
  const PARTS = ["fit-candidates", "fit-poses", "fit-verdict", "fit-drawing", "fit-balance",
    "fit-gaps", "fit-ground", "move-faults", "move-list"];
  const KEYS = { ArrowUp: [1, 0], ArrowDown: [-1, 0], ArrowLeft: [0, 1], ArrowRight: [0, -1] };
  const save = document.getElementById("sheet");
  const tryForm = document.getElementById("try-form");
  const choice = document.getElementById("move-item");
  const step = document.getElementById("move-step");
  const free = document.getElementById("move-free");
  const status = document.getElementById("move-status");
  let pending = readMoves(list().dataset.moves);
  let drawn = readMoves(list().dataset.drawn);
  let asked = 0;
  let timer = 0;
  let leaving = false;
  let drag = null;

  function list() {
    return document.getElementById("move-list");
  }

  function readMoves(text) {
    const moves = new Map();
    for (const entry of text.split(";").filter(Boolean)) {
      const [item, place] = entry.split(":");
      moves.set(item, place.split(",").map(Number));
    }
    return moves;
  }

  function writeMoves(moves) {
    return [...moves].map(([item, [forward, left]]) => `${item}:${forward},${left}`).join(";");
  }

  function handleOf(item) {
    return views.querySelector(`.move-handle[data-item="${item}"]`);
  }

  function at(moves, item) {
    return moves.get(item) ?? [0, 0];
  }

  function tenths(value) {
    return Math.round(value * 10) / 10 + 0;
  }

  // A module goes outwards only as far as the corner of wheelbase and track.
  function held(item, [forward, left]) {
    const handle = handleOf(item);
    const outwards = handle.dataset.outwards.split(" ").map(Number);
    const room = handle.dataset.room.split(" ").map(Number);
    const shown = at(drawn, item);
    return [forward, left].map((value, axis) => {
      const sign = outwards[axis];
      const most = sign === 0 ? FURTHEST_MM : sign * shown[axis] + room[axis];
      const kept = sign === 0 ? value : sign * Math.min(sign * value, most);
      return tenths(Math.max(-FURTHEST_MM, Math.min(FURTHEST_MM, kept)));
    });
  }

  function put(item, place) {
    if (place[0] === 0 && place[1] === 0) {
      pending.delete(item);
    } else {
      pending.set(item, place);
    }
  }

  // Returns whether anything moved.
  function moveTo(item, place) {
    const before = writeMoves(pending);
    const was = at(pending, item);
    const now = held(item, place);
    put(item, now);
    const partner = handleOf(item).dataset.partner;
    if (partner && !free?.checked) {
      const other = at(pending, partner);
      put(partner, held(partner, [other[0] + now[0] - was[0], other[1] - now[1] + was[1]]));
    }
    if (writeMoves(pending) === before) {
      return false;
    }
    follow();
    soon();
    return true;
  }

  function moveBy(item, [forward, left], length) {
    const was = at(pending, item);
    if (!moveTo(item, [was[0] + forward * length, was[1] + left * length])) {
      status.textContent = `${handleOf(item).dataset.words}: no further that way.`;
    }
  }

  // Shift what is drawn by what has moved since it was drawn.
  function follow() {
    for (const drawing of views.querySelectorAll("svg[data-scale]")) {
      const scale = Number(drawing.dataset.scale) / 1000;
      const plan = drawing.classList.contains("drawing-plan");
      for (const shape of drawing.querySelectorAll("[data-item]")) {
        const now = at(pending, shape.dataset.item);
        const then = at(drawn, shape.dataset.item);
        const forward = (now[0] - then[0]) * scale;
        const left = (now[1] - then[1]) * scale;
        if (forward === 0 && left === 0) {
          shape.removeAttribute("transform");
        } else {
          shape.setAttribute("transform", plan ? `translate(${-left} ${-forward})` : `translate(${forward} 0)`);
        }
      }
    }
    views.classList.toggle("moving", writeMoves(pending) !== writeMoves(drawn));
    const text = writeMoves(pending);
    for (const form of [save, tryForm]) {
      form.elements.namedItem("moves").value = text;
    }
    save.hidden = text === "";
  }

  function soon() {
    asked += 1;
    clearTimeout(timer);
    timer = setTimeout(ask, REST_MS);
  }

  // Each question carries a number; the answer to any but the newest is dropped.
  async function ask() {
    const number = asked;
    const body = new URLSearchParams(new FormData(save));
    body.set("seq", String(number));
    const row = document.querySelector("tr.gap.lit");
    if (row) {
      body.set("row", row.dataset.row);
    }
    let answer;
    let text;
    try {
      answer = await fetch(area.dataset.live, { method: "POST", body });
      text = await answer.text();
    } catch {
      answer = null;
    }
    if (number !== asked) {
      return;
    }
    if (answer === null || ![200, 422].includes(answer.status) ||
        Number(answer.headers.get("Answer-Sequence")) !== number) {
      status.textContent = "The figures could not be worked out. What you moved is still here, not saved.";
      return;
    }
    show(new DOMParser().parseFromString(text, "text/html"), answer.status === 200);
  }

  function show(page, possible) {
    const focused = document.activeElement?.closest?.("[data-item]")?.dataset.item;
    for (const id of possible ? PARTS : ["move-faults", "move-list"]) {
      const fresh = page.getElementById(id);
      document.getElementById(id).replaceChildren(...fresh.childNodes);
      if (id === "move-list") {
        Object.assign(list().dataset, fresh.dataset);
      }
    }
    if (possible) {
      pending = readMoves(list().dataset.moves);
      drawn = readMoves(list().dataset.drawn);
      document.dispatchEvent(new CustomEvent("fit:redrawn"));
    }
    follow();
    mark();
    if (focused) {
      handleOf(focused)?.focus({ preventScroll: true });
    }
    const told = [...list().querySelectorAll("li")].map((line) => line.firstChild.textContent.trim());
    const verdict = document.getElementById("fit-verdict").innerText.trim();
    const fault = document.getElementById("move-faults").innerText.trim();
    status.textContent = fault || `${told.join("; ") || "Everything is where it was"}. ${verdict}`;
  }

  // Which handle is chosen: the one that the buttons and the next drag move.
  function mark() {
    for (const handle of views.querySelectorAll(".move-handle")) {
      handle.setAttribute("aria-pressed", String(handle.dataset.item === choice.value));
    }
  }

  function choose(item) {
    choice.value = item;
    mark();
  }

  function handleAt(event) {
    return event.target instanceof Element ? event.target.closest(".move-handle") : null;
  }

  choice.addEventListener("change", mark);

  views.addEventListener("focusin", (event) => {
    const handle = handleAt(event);
    if (handle) {
      choose(handle.dataset.item);
    }
  });

  views.addEventListener("keydown", (event) => {
    const handle = handleAt(event);
    const way = KEYS[event.key];
    if (!handle) {
      return;
    }
    if (way && !event.altKey && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      moveBy(handle.dataset.item, way, event.shiftKey ? FINE_MM : COARSE_MM);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      choose(handle.dataset.item);
    }
  });

  views.addEventListener("pointerdown", (event) => {
    const handle = handleAt(event);
    if (!handle || event.button !== 0 || drag) {
      return;
    }
    const item = handle.dataset.item;
    const was = choice.value;
    handle.focus({ preventScroll: true });
    choose(item);
    // With a finger the first touch chooses, so that one can still scroll over the drawing.
    if (event.pointerType === "touch" && was !== item) {
      return;
    }
    event.preventDefault();
    views.setPointerCapture(event.pointerId);
    drag = { item, id: event.pointerId, x: event.clientX, y: event.clientY, place: at(pending, item) };
  });

  views.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.id) {
      return;
    }
    const plan = views.querySelector("svg.drawing-plan");
    const pixels = (plan.getScreenCTM().a * Number(plan.dataset.scale)) / 1000;
    drag.place = [
      drag.place[0] - (event.clientY - drag.y) / pixels,
      drag.place[1] - (event.clientX - drag.x) / pixels,
    ];
    drag.x = event.clientX;
    drag.y = event.clientY;
    moveTo(drag.item, drag.place.map((value) => Math.round(value / FINE_MM) * FINE_MM));
  });

  for (const name of ["pointerup", "pointercancel"]) {
    views.addEventListener(name, (event) => {
      if (drag && event.pointerId === drag.id) {
        drag = null;
      }
    });
  }

  area.addEventListener("click", (event) => {
    const pressed = event.target.closest("[data-step], [data-put-back]");
    if (!pressed) {
      return;
    }
    event.preventDefault();
    if (pressed.dataset.step !== undefined) {
      moveBy(choice.value, pressed.dataset.step.split(" ").map(Number), Number(step.value));
      return;
    }
    const item = pressed.dataset.putBack;
    if (item) {
      pending.delete(item);
    } else {
      pending.clear();
    }
    follow();
    soon();
    choice.focus({ preventScroll: true });
  });

  for (const form of [save, tryForm]) {
    form.addEventListener("submit", () => {
      leaving = true;
    });
  }
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest("a[href*='moves=']") : null;
    leaving = leaving || (link !== null && !event.defaultPrevented);
  });
  window.addEventListener("beforeunload", (event) => {
    if (pending.size && !leaving) {
      event.preventDefault();
    }
  });
  window.addEventListener("pageshow", () => {
    leaving = false;
  });

  follow();
  mark();
})();
