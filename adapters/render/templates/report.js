"use strict";
// Zoom and pan the lanes, and open what a mark leads to. Without this script the page is whole.
(() => {
  const lanes = document.getElementById("lanes");
  const data = JSON.parse(document.getElementById("data").textContent);
  const left = Number(lanes.dataset.left), right = Number(lanes.dataset.right);
  const span = Math.max(1, Number(lanes.dataset.span));
  const spans = [...lanes.querySelectorAll(".span")].map((node) => ({
    a: Number(node.dataset.a), b: Number(node.dataset.b),
    rect: node.querySelector("rect"), word: node.querySelector(".word"),
    wide: 0,
  }));
  for (const one of spans) {
    if (!one.word) continue;
    const hidden = one.word.classList.contains("hidden");
    one.word.classList.remove("hidden");
    one.wide = one.word.getComputedTextLength() + 8;
    if (hidden) one.word.classList.add("hidden");
  }
  const marks = [...lanes.querySelectorAll(".mark")].map((node) => ({
    node, at: Number(node.dataset.a), x: Number(node.dataset.x),
  }));
  const read = document.getElementById("read"), readTop = Number(read.dataset.top);
  const axis = lanes.querySelector(".axis"), wholeAxis = axis.innerHTML, wholeRead = read.getAttribute("d");
  const steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800];
  const heightOf = (ratio) => {
    const low = 1.2, high = 2.8;
    return 92 * (1 - Math.log(Math.min(Math.max(ratio, low), high) / low) / Math.log(high / low));
  };
  const shiftAt = (ms) => {
    let shift = 0;
    for (const [from, offset] of data.offsets) if (from <= ms) shift = offset;
    return shift;
  };
  const clock = (ms) => new Date(data.begins + ms + shiftAt(ms)).toISOString().slice(11, 19);

  function drawReadings(at, from, to) {
    // A column of the drawing is as wide as a bin or wider: bins are then summed, extremes kept.
    const count = data.low.length, parts = [];
    const columns = Math.min(right - left, Math.ceil((to - from) / span * count));
    const first = Math.max(0, Math.floor(from / span * count));
    const last = Math.min(count - 1, Math.ceil(to / span * count));
    let column = -1, low = 0, high = 0;
    const put = () => {
      if (high > 0) {
        const x = left + (column + 0.5) * (right - left) / columns;
        parts.push(`M${x.toFixed(1)} ${(readTop + heightOf(low) + 0.7).toFixed(1)}V${(readTop + heightOf(high) - 0.7).toFixed(1)}`);
      }
    };
    for (let bin = first; bin <= last; bin += 1) {
      const here = Math.floor((at((bin + 0.5) * span / count) - left) / (right - left) * columns);
      if (here !== column) { put(); column = here; low = 0; high = 0; }
      if (data.high[bin] > 0) {
        low = low === 0 ? data.low[bin] / 1000 : Math.min(low, data.low[bin] / 1000);
        high = Math.max(high, data.high[bin] / 1000);
      }
    }
    put();
    read.setAttribute("d", parts.join(""));
    read.setAttribute("stroke-width", Math.max(1, (right - left) / columns).toFixed(2));
  }

  function drawAxis(at, from, to) {
    const wanted = (to - from) / 10000;
    const step = 1000 * (steps.find((one) => one >= wanted) || 21600);
    const y = axis.querySelector("line").getAttribute("y1");
    axis.querySelectorAll("line ~ *").forEach((node) => node.remove());
    const begun = data.begins + from + shiftAt(from);
    for (let ms = from + (step - begun % step) % step; ms <= to; ms += step) {
      const x = at(ms), base = axis.querySelector("line");
      const tick = base.cloneNode();
      for (const [name, value] of [["x1", x], ["x2", x], ["y1", y], ["y2", Number(y) + 4]]) tick.setAttribute(name, value);
      const words = document.createElementNS(lanes.namespaceURI, "text");
      words.setAttribute("x", x); words.setAttribute("y", Number(y) + 16);
      words.setAttribute("font-size", 11); words.setAttribute("text-anchor", "middle");
      words.setAttribute("fill", base.getAttribute("stroke"));
      words.textContent = step < 60000 ? clock(ms) : clock(ms).slice(0, 5);
      axis.append(tick, words);
    }
  }

  function draw(transform) {
    const at = (ms) => transform.applyX(left + ms / span * (right - left));
    for (const one of spans) {
      const a = Math.max(left - 5, Math.min(right + 5, at(one.a)));
      const b = Math.max(left - 5, Math.min(right + 5, at(one.b)));
      one.rect.setAttribute("x", a);
      one.rect.setAttribute("width", Math.max(0.6, b - a));
      if (one.word) {
        one.word.setAttribute("x", Math.max(left, a) + 4);
        one.word.classList.toggle("hidden", one.wide > Math.min(right, b) - Math.max(left, a));
      }
    }
    for (const one of marks) {
      const x = at(one.at);
      one.node.setAttribute("transform", `translate(${x - one.x} 0)`);
      one.node.setAttribute("visibility", x < left - 1 || x > right + 1 ? "hidden" : "visible");
    }
    if (transform.k === 1) {
      axis.innerHTML = wholeAxis;
      read.setAttribute("d", wholeRead);
      return;
    }
    const from = Math.max(0, transform.invertX(left) - left) / (right - left) * span;
    const to = Math.min(span, (transform.invertX(right) - left) / (right - left) * span);
    drawReadings(at, from, to);
    drawAxis(at, from, to);
  }

  const box = lanes.viewBox.baseVal;
  const extent = [[left, 0], [right, box.height]];
  const zoom = d3.zoom().scaleExtent([1, Math.max(8, span / 30000)])
    .extent(extent).translateExtent(extent)
    .filter((event) => !event.button && (event.type !== "wheel" || event.ctrlKey || event.shiftKey || lanes.dataset.near === "1"))
    .on("zoom", (event) => { lanes.dataset.near = event.transform.k > 1 ? "1" : "0"; draw(event.transform); });
  const chosen = d3.select(lanes).call(zoom).on("dblclick.zoom", null);
  const doing = {
    in: () => chosen.call(zoom.scaleBy, 2), out: () => chosen.call(zoom.scaleBy, 0.5),
    left: () => chosen.call(zoom.translateBy, (right - left) / 3 / d3.zoomTransform(lanes).k, 0),
    right: () => chosen.call(zoom.translateBy, (left - right) / 3 / d3.zoomTransform(lanes).k, 0),
    whole: () => chosen.call(zoom.transform, d3.zoomIdentity),
  };
  const bar = document.querySelector(".zoom");
  bar.hidden = false;
  bar.addEventListener("click", (event) => {
    const what = event.target.dataset && event.target.dataset.do;
    if (what) doing[what]();
  });
  window.addEventListener("beforeprint", doing.whole);

  function open() {
    const wanted = location.hash && document.getElementById(location.hash.slice(1));
    if (wanted && wanted.tagName === "DETAILS") {
      wanted.open = true;
      wanted.querySelector("summary").focus({ preventScroll: true });
      wanted.scrollIntoView({ block: "start" });
    }
  }
  window.addEventListener("hashchange", open);
  lanes.addEventListener("click", (event) => { if (event.target.closest("a")) setTimeout(open, 0); });
  open();
  document.documentElement.dataset.ready = "1";
})();
