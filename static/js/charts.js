// Draws the charts of the page when they come into view. The specifications and the curves come
// from the server as JSON; here they get the colours of the page and are handed to vega-embed.
// Without this file, or where drawing fails, the tables of values stay open.
(() => {
  "use strict";

  const OPTIONS = {
    mode: "vega-lite",
    ast: true,
    actions: false,
    renderer: "svg",
    defaultStyle: false,
    tooltip: { disableDefaultStyle: true },
  };
  const drawn = new Map(); // figure → the running view of its chart
  const answers = new Map(); // address → promise of its JSON
  let drawing = null;

  function loadScript(address) {
    return new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = address;
      script.onload = resolve;
      script.onerror = () => reject(new Error(`could not load ${address}`));
      document.head.append(script);
    });
  }

  function loadDrawing(section) {
    drawing ??= [section.dataset.vega, section.dataset.vegaLite, section.dataset.vegaEmbed].reduce(
      (before, address) => before.then(() => loadScript(address)),
      Promise.resolve(),
    );
    return drawing;
  }

  function loadAnswer(section) {
    const address = section.dataset.charts;
    if (!answers.has(address)) {
      const asked = fetch(address, { headers: { Accept: "application/json" } }).then((answer) => {
        if (!answer.ok) throw new Error(`status ${answer.status}`);
        return answer.json();
      });
      answers.set(address, asked);
    }
    return answers.get(address);
  }

  // The curves of the candidate in hand, where the page carries fresher ones than the address.
  function freshSeries() {
    const block = document.querySelector("script[data-chart-series]");
    return block ? JSON.parse(block.textContent).series : [];
  }

  function withFresh(answer) {
    const fresh = new Map(freshSeries().map((one) => [one.letter, one]));
    return answer.series.map((one) => {
      const newer = fresh.get(one.letter);
      return newer ? { ...newer, strong: one.strong, cased: one.cased } : one;
    });
  }

  function rowsOf(one, curve) {
    const columns = Object.entries(one[curve]);
    const length = columns.length ? columns[0][1].length : 0;
    return Array.from({ length }, (_, index) => {
      const row = { letter: one.letter, name: one.name, cased: one.cased };
      for (const [field, values] of columns) row[field] = values[index];
      return row;
    });
  }

  function dataOf(chart, key, series) {
    const curves = [];
    const labels = [];
    const changes = [];
    for (const one of series) {
      const rows = rowsOf(one, chart.curve);
      curves.push(...rows);
      if (rows.length) labels.push(rows[Math.min(one.labels[key], rows.length - 1)]);
      const common = { letter: one.letter, name: one.name, strong: one.strong };
      changes.push(...one.changes.map((change) => ({ ...common, ...change })));
    }
    return { curves, labels, changes };
  }

  function cssColour(element, name) {
    return getComputedStyle(element).getPropertyValue(name).trim();
  }

  function candidateColours(section, series) {
    return series.map((one) => {
      const probe = document.createElement("span");
      probe.className = one.style;
      probe.hidden = true;
      section.append(probe);
      const colour = cssColour(probe, "--cand");
      probe.remove();
      return colour;
    });
  }

  function configFor(section, series) {
    const ink = cssColour(section, "--ink");
    const faint = cssColour(section, "--faint");
    const rule = cssColour(section, "--rule");
    const bad = cssColour(section, "--bad");
    const paper = cssColour(section, "--paper");
    const font = getComputedStyle(section).fontFamily;
    return {
      aria: false,
      mark: { aria: false },
      background: null,
      font,
      range: { category: candidateColours(section, series) },
      axis: {
        labelColor: ink, titleColor: ink, gridColor: rule, domainColor: faint, tickColor: faint,
        labelFontSize: 13, titleFontSize: 14, titleFontWeight: "normal", titlePadding: 8,
        gridDash: [2, 3],
      },
      view: { stroke: null },
      style: {
        letter: { color: ink, fontSize: 15, fontWeight: "bold" },
        words: { color: ink, fontSize: 13 },
        casing: { color: ink },
        change: { stroke: paper, strokeWidth: 1 },
        reading: { color: ink, stroke: paper },
        limit: { color: bad, strokeWidth: 2 },
        "limit-words": { color: bad, fontSize: 13 },
      },
    };
  }

  function say(figure, words) {
    figure.querySelector(".chart-state").textContent = words;
  }

  async function draw(figure) {
    const section = figure.closest("[data-charts]");
    try {
      say(figure, "Drawing the chart …");
      const [answer] = await Promise.all([loadAnswer(section), loadDrawing(section)]);
      const chart = answer.charts[figure.dataset.chart];
      const series = withFresh(answer);
      const spec = structuredClone(chart.spec);
      spec.datasets = dataOf(chart, figure.dataset.chart, series);
      spec.config = configFor(section, series);
      const result = await vegaEmbed(figure.querySelector(".chart-plot"), spec, OPTIONS);
      drawn.get(figure)?.finalize();
      drawn.set(figure, result);
      figure.classList.add("chart-drawn");
      say(figure, "");
    } catch (error) {
      figure.classList.add("chart-failed");
      figure.querySelector(".chart-values").open = true;
      say(figure, "The chart could not be drawn. The values are in the table below.");
      console.error(error);
    }
  }

  async function refresh() {
    for (const [figure, result] of drawn) {
      const section = figure.closest("[data-charts]");
      if (!section) {
        result.finalize();
        drawn.delete(figure);
        continue;
      }
      const answer = await loadAnswer(section);
      const chart = answer.charts[figure.dataset.chart];
      const data = dataOf(chart, figure.dataset.chart, withFresh(answer));
      for (const [name, rows] of Object.entries(data)) {
        if (chart.spec.layer.some((layer) => layer.data?.name === name)) {
          result.view.data(name, rows);
        }
      }
      await result.view.runAsync();
    }
  }

  const seen = new IntersectionObserver(
    (entries) => {
      for (const entry of entries) {
        if (!entry.isIntersecting) continue;
        seen.unobserve(entry.target);
        draw(entry.target);
      }
    },
    { rootMargin: "200px" },
  );

  function watch(root) {
    for (const figure of root.querySelectorAll("figure.chart:not(.chart-watched)")) {
      figure.classList.add("chart-watched");
      figure.querySelector(".chart-values").open = false;
      seen.observe(figure);
    }
  }

  watch(document);
  document.addEventListener("htmx:after:swap", () => {
    watch(document);
    if (document.querySelector("script[data-chart-series]")) refresh();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    for (const figure of drawn.keys()) draw(figure);
  });
})();
