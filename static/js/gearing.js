// A click on the map types its place into the boxes and shows that design.
(() => {
  const form = document.getElementById("gear-form");
  if (!form) {
    return;
  }

  function placeIn(map, event) {
    const corner = map.createSVGPoint();
    corner.x = event.clientX;
    corner.y = event.clientY;
    return corner.matrixTransform(map.getScreenCTM().inverse());
  }

  function between(text, share, bend) {
    const [low, high] = text.split(" ").map(Number);
    return bend ? low * (high / low) ** share : low + (high - low) * share;
  }

  function pick(map, event) {
    const { left, right, top, bottom, ratios, rows, against } = map.dataset;
    const at = placeIn(map, event);
    const across = (at.x - left) / (right - left);
    const up = (bottom - at.y) / (bottom - top);
    if (across < 0 || across > 1 || up < 0 || up > 1) {
      return;
    }
    const row = between(rows, up, false);
    const digits = against === "diameter" && Number(rows.split(" ")[1]) < 20 ? 2 : 0;
    form.elements.ratio.value = between(ratios, across, true).toFixed(2);
    // At the upper edge of a limit there is none
    form.elements[against].value = against !== "diameter" && up > 0.985 ? "" : row.toFixed(digits);
    form.action = `${form.action.split("#")[0]}#pick`;
    form.requestSubmit();
  }

  for (const map of document.querySelectorAll(".gear-map")) {
    map.classList.add("pickable");
    map.addEventListener("click", (event) => pick(map, event));
  }
})();
