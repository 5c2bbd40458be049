"use strict";
// Zoom and pan of every plot: wheel or pinch zooms, drag draws a box to zoom into, double click or "whole" goes back.
(function () {
  const STEPS = [1, 2, 2.5, 5, 10, 20, 25, 50];
  const SVG = "http://www.w3.org/2000/svg";

  function ticks(low, high, most) {
    const power = Math.pow(10, Math.floor(Math.log10((high - low) / most)));
    let step = power, first = 0, last = 0;
    for (const factor of STEPS) {
      step = factor * power;
      first = Math.ceil(low / step - 1e-9);
      last = Math.floor(high / step + 1e-9);
      if (last - first + 1 <= most) { break; }
    }
    let digits = Math.max(0, -Math.floor(Math.log10(step)));
    const scaled = step * Math.pow(10, digits);
    if (Math.abs(scaled - Math.round(scaled)) >= 1e-6) { digits += 1; }
    const found = [];
    for (let k = first; k <= last; k += 1) {
      let text = (k * step).toFixed(digits);
      if (text.startsWith("-")) { text = Number(text) === 0 ? text.slice(1) : "\u2212" + text.slice(1); }
      found.push({ value: k * step, text: text });
    }
    return found;
  }

  function element(name, attributes, text) {
    const made = document.createElementNS(SVG, name);
    for (const key in attributes) { made.setAttribute(key, attributes[key]); }
    if (text !== undefined) { made.textContent = text; }
    return made;
  }

  function attach(svg) {
    const [left, top, width, height, x0, x1, y0, y1] = svg.dataset.frame.split(" ").map(Number);
    const axes = svg.querySelector(".axes"), content = svg.querySelector(".content");
    const anchored = Array.from(svg.querySelectorAll(".labels > g"));
    const names = JSON.parse(svg.dataset.names || "[]").map(([value, text]) => ({ value: value, text: text }));
    let view = [x0, x1, y0, y1];
    const toX = (v) => left + (v - view[0]) / (view[1] - view[0]) * width;
    const toY = (v) => top + (view[3] - v) / (view[3] - view[2]) * height;

    function draw() {
      const sx = (x1 - x0) / (view[1] - view[0]), sy = (y1 - y0) / (view[3] - view[2]);
      const tx = toX(x0) - left * sx, ty = toY(y1) - top * sy;
      content.setAttribute("transform", "matrix(" + [sx, 0, 0, sy, tx, ty].join(" ") + ")");
      for (const group of anchored) {
        const x = "x" in group.dataset ? toX(Number(group.dataset.x)) : left;
        const y = "y" in group.dataset ? toY(Number(group.dataset.y)) : top;
        group.setAttribute("transform", "translate(" + x + " " + y + ")");
      }
      axes.replaceChildren();
      for (const tick of ticks(view[0], view[1], 8)) {
        const x = toX(tick.value);
        axes.append(element("line", { x1: x, x2: x, y1: top, y2: top + height }),
          element("text", { class: "x", x: x, y: top + height + 14 }, tick.text));
      }
      const named = names.filter((name) => view[2] <= name.value && name.value <= view[3]);
      for (const tick of names.length ? named : ticks(view[2], view[3], 6)) {
        const y = toY(tick.value);
        axes.append(element("line", { x1: left, x2: left + width, y1: y, y2: y }),
          element("text", { class: "y", x: left - 5, y: y, dy: "0.35em" }, tick.text));
      }
      whole.disabled = view[0] === x0 && view[1] === x1 && view[2] === y0 && view[3] === y1;
    }

    // The view stays inside the whole and never gets narrower than a ten-thousandth of it.
    function bounded(low, high, a, b) {
      const span = Math.min(Math.max(high - low, (b - a) * 1e-4), b - a);
      const from = Math.min(Math.max(low, a), b - span);
      return [from, from + span];
    }
    function show(a, b, c, d) {
      view = bounded(a, b, x0, x1).concat(bounded(c, d, y0, y1));
      draw();
    }
    function place(event) {
      const box = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / box.width;
      const px = (event.clientX - box.left) * scale, py = (event.clientY - box.top) * scale;
      return [view[0] + (px - left) / width * (view[1] - view[0]), view[3] - (py - top) / height * (view[3] - view[2])];
    }
    function zoom(centre, factor) {
      const [cx, cy] = centre;
      show(cx - (cx - view[0]) * factor, cx + (view[1] - cx) * factor, cy - (cy - view[2]) * factor, cy + (view[3] - cy) * factor);
    }
    const middle = () => [(view[0] + view[1]) / 2, (view[2] + view[3]) / 2];

    svg.addEventListener("wheel", function (event) {
      if (!event.ctrlKey && !event.shiftKey && document.activeElement !== svg) { return; } // the page scrolls as usual
      event.preventDefault();
      zoom(place(event), Math.exp(event.deltaY * 0.0015));
    }, { passive: false });
    svg.addEventListener("dblclick", () => show(x0, x1, y0, y1));

    const pointers = new Map();
    let start = null, box = null, pinch = null;
    svg.addEventListener("pointerdown", function (event) {
      svg.focus({ preventScroll: true });
      pointers.set(event.pointerId, event);
      if (pointers.size === 2) {
        const [a, b] = Array.from(pointers.values());
        pinch = { apart: Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) };
        if (box) { box.remove(); box = null; }
        start = null;
      } else if (event.pointerType === "mouse" && event.button === 0) {
        start = place(event);
        svg.setPointerCapture(event.pointerId);
      }
    });
    svg.addEventListener("pointermove", function (event) {
      if (!pointers.has(event.pointerId)) { return; }
      pointers.set(event.pointerId, event);
      if (pinch && pointers.size === 2) {
        const [a, b] = Array.from(pointers.values());
        const apart = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
        const centre = { clientX: (a.clientX + b.clientX) / 2, clientY: (a.clientY + b.clientY) / 2 };
        if (apart > 0 && pinch.apart > 0) { zoom(place(centre), pinch.apart / apart); }
        pinch.apart = apart;
      } else if (start) {
        const now = place(event);
        if (!box) { box = element("rect", { fill: "#0072B2", "fill-opacity": 0.12, stroke: "#0072B2" }); svg.append(box); }
        const a = [toX(start[0]), toY(start[1])], b = [toX(now[0]), toY(now[1])];
        box.setAttribute("x", Math.min(a[0], b[0])); box.setAttribute("y", Math.min(a[1], b[1]));
        box.setAttribute("width", Math.abs(a[0] - b[0])); box.setAttribute("height", Math.abs(a[1] - b[1]));
      }
    });
    function up(event) {
      pointers.delete(event.pointerId);
      if (pointers.size < 2) { pinch = null; }
      if (box && start && event.type === "pointerup") {
        const now = place(event);
        const wide = Math.abs(toX(now[0]) - toX(start[0])) > 5 && Math.abs(toY(now[1]) - toY(start[1])) > 5;
        if (wide) {
          show(Math.min(start[0], now[0]), Math.max(start[0], now[0]), Math.min(start[1], now[1]), Math.max(start[1], now[1]));
        }
      }
      if (box) { box.remove(); box = null; }
      start = null;
    }
    svg.addEventListener("pointerup", up);
    svg.addEventListener("pointercancel", up);
    svg.addEventListener("keydown", function (event) {
      const dx = (view[1] - view[0]) * 0.1, dy = (view[3] - view[2]) * 0.1;
      const moves = { ArrowLeft: [-dx, 0], ArrowRight: [dx, 0], ArrowUp: [0, dy], ArrowDown: [0, -dy] };
      if (event.key === "+") { zoom(middle(), 0.7); }
      else if (event.key === "-") { zoom(middle(), 1 / 0.7); }
      else if (event.key === "0" || event.key === "Escape") { show(x0, x1, y0, y1); }
      else if (moves[event.key] && (view[1] - view[0] < x1 - x0 || view[3] - view[2] < y1 - y0)) {
        show(view[0] + moves[event.key][0], view[1] + moves[event.key][0], view[2] + moves[event.key][1], view[3] + moves[event.key][1]);
      } else { return; }
      event.preventDefault();
    });

    const bar = document.createElement("div");
    bar.className = "zoom-bar";
    const button = (text, label, act) => {
      const made = document.createElement("button");
      made.type = "button"; made.textContent = text; made.setAttribute("aria-label", label);
      made.addEventListener("click", act); bar.append(made); return made;
    };
    button("+", "Zoom in", () => zoom(middle(), 0.6));
    button("\u2212", "Zoom out", () => zoom(middle(), 1 / 0.6));
    const whole = button("whole", "Show the whole plot", () => show(x0, x1, y0, y1));
    whole.disabled = true;
    svg.after(bar);
    svg.setAttribute("tabindex", "0");
  }

  document.querySelectorAll("svg.plot").forEach(attach);
}());
