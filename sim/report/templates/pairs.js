(function () {
  "use strict";
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const WIDTH = 640, LEFT = 62, RIGHT = 22, TOP = 40, BOTTOM = 70, WIDEST = 48;
  const byId = (id) => document.getElementById(id);
  const data = JSON.parse(byId("pairs-data").textContent);
  const size = Math.min(WIDEST, (WIDTH - LEFT - RIGHT) / data.offs.length);
  const bottom = TOP + size * data.ons.length;
  const box = byId("explore-map");
  let chosen = data.recommended, shown = -1;

  function drawn(parent, name, attributes, text) {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    if (text !== undefined) element.textContent = text;
    return parent.appendChild(element);
  }

  function written(parent, name, text, className) {
    const element = document.createElement(name);
    if (text !== undefined) element.textContent = text;
    if (className) element.className = className;
    return parent.appendChild(element);
  }

  // Left and upper edge of a pair's cell.
  const corner = (pair) => [LEFT + size * pair.at[0], bottom - size * (pair.at[1] + 1)];

  function ticks(volts, place) {
    const every = Math.ceil(volts.length / 5), tenths = volts.every((v) => Math.abs(v * 10 - Math.round(v * 10)) < 1e-6);
    volts.forEach((value, k) => { if (k % every === 0) place(k, value.toFixed(tenths ? 1 : 2)); });
  }

  const svg = drawn(box, "svg", { class: "plot", "aria-hidden": "true", viewBox: `0 0 ${WIDTH} ${bottom + BOTTOM}` });
  const hatch = drawn(drawn(svg, "defs", {}), "pattern", {
    id: "explore-hatch", patternUnits: "userSpaceOnUse", width: 7, height: 7, patternTransform: "rotate(45)",
  });
  drawn(hatch, "line", { x1: 0, y1: 0, x2: 0, y2: 7, stroke: "var(--ink)", "stroke-width": 2 });
  const cells = data.pairs.slice(0, data.cells).map((pair) => {
    const [x, y] = corner(pair), square = { x, y, width: size, height: size };
    const cell = drawn(svg, "rect", { ...square, fill: "var(--water)", "shape-rendering": "crispEdges" });
    if (!pair.steady) drawn(svg, "rect", { ...square, fill: "url(#explore-hatch)" });
    return cell;
  });
  ticks(data.offs, (k, text) => drawn(svg, "text", {
    x: LEFT + size * (k + 0.5), y: bottom + 26, "text-anchor": "middle", "font-size": 13, fill: "var(--muted)",
  }, text));
  ticks(data.ons, (k, text) => drawn(svg, "text", {
    x: LEFT - 8, y: bottom - size * (k + 0.5) + 5, "text-anchor": "end", "font-size": 13, fill: "var(--muted)",
  }, text));
  drawn(svg, "text", { x: 4, y: 22, "font-size": 13, fill: "var(--ink)" }, "load reconnect, V");
  drawn(svg, "text", {
    x: LEFT + size * data.offs.length / 2, y: bottom + 58, "text-anchor": "middle", "font-size": 13, fill: "var(--ink)",
  }, "load disconnect, V");

  function mark(index, name, above, points) {
    const [x, y] = corner(data.pairs[index]), half = size / 2, after = x < WIDTH / 2;
    const path = points.map(([dx, dy]) => `${x + half + dx},${y + half + dy}`).join(" ");
    drawn(svg, "polygon", { points: path, fill: "var(--paper)", stroke: "var(--alarm)", "stroke-width": 2.6 });
    drawn(svg, "text", {
      x: after ? x : x + size, y: above ? y - 9 : y + size + 22, "text-anchor": after ? "start" : "end",
      "font-size": 13, fill: "var(--ink)",
    }, name);
  }
  const same = data.present === data.recommended;
  mark(data.present, same ? "" : "present", data.above[0], [[-9, -9], [9, -9], [9, 9], [-9, 9]]);
  mark(data.recommended, same ? "present and recommended" : "recommended", data.above[1], [[0, -9], [9, 0], [0, 9], [-9, 0]]);
  const cursor = drawn(svg, "rect", { class: "cursor", width: size + 4, height: size + 4 });

  const bars = MONTHS.map((name, k) => {
    const row = written(byId("explore-months"), "tr");
    written(row, "th", name).scope = "row";
    const track = written(written(row, "td"), "div", undefined, "track");
    const bar = written(track, "div", undefined, "bar");
    const wanted = written(track, "div", undefined, "wanted");
    wanted.style.left = `${data.wanted[k] / 24 * 100}%`;
    return { bar, figure: written(row, "td") };
  });
  const figures = data.figures.map((name) => {
    const row = written(byId("explore-figures"), "div");
    written(row, "dt", name);
    return written(row, "dd");
  });

  function role(index) {
    const names = [];
    if (index === data.present) names.push("present");
    if (index === data.recommended) names.push("recommended");
    return names.length ? ` (${names.join(" and ")})` : "";
  }

  function show(index) {
    if (index === shown) return;
    shown = index;
    const pair = data.pairs[index], [x, y] = corner(pair);
    cursor.setAttribute("x", x - 2);
    cursor.setAttribute("y", y - 2);
    byId("explore-name").textContent = `Off / on at ${pair.name}${role(index)}`;
    pair.figures.forEach((text, k) => { figures[k].textContent = text; });
    pair.months.forEach((hours, k) => {
      bars[k].bar.style.width = `${hours / 24 * 100}%`;
      bars[k].figure.textContent = hours.toFixed(1);
    });
  }

  function choose(index) {
    chosen = index;
    show(index);
    const pair = data.pairs[index];
    byId("explore-said").textContent =
      `${pair.said}${role(index)} Hours a day: ${pair.months.map((hours, k) => `${MONTHS[k]} ${hours}`).join(", ")}.`;
  }

  // The nearest pair of the grid on the way from the chosen one; itself where there is none.
  function along(axis, direction) {
    const from = data.pairs[chosen].at, other = 1 - axis;
    let best = chosen, nearest = Infinity;
    data.pairs.slice(0, data.cells).forEach((pair, index) => {
      const ahead = (pair.at[axis] - from[axis]) * direction;
      if (Math.abs(pair.at[other] - from[other]) <= 0.5 && ahead > 0.01 && ahead < nearest) {
        [best, nearest] = [index, ahead];
      }
    });
    return best;
  }

  function under(event) {
    const frame = svg.getBoundingClientRect(), scale = WIDTH / frame.width;
    const column = Math.floor(((event.clientX - frame.left) * scale - LEFT) / size);
    const row = Math.floor((bottom - (event.clientY - frame.top) * scale) / size);
    const index = data.pairs.findIndex(({ at }) => at[0] === column && at[1] === row);
    return index < 0 || index >= data.cells ? null : index;
  }

  function colour() {
    const measure = Number(byId("explore-measure").value);
    cells.forEach((cell, k) => cell.setAttribute("fill-opacity", data.pairs[k].opaque[measure]));
  }

  const keys = {
    ArrowLeft: () => along(0, -1),
    ArrowRight: () => along(0, 1),
    ArrowDown: () => along(1, -1),
    ArrowUp: () => along(1, 1),
    p: () => data.present,
    r: () => data.recommended,
  };
  box.addEventListener("keydown", (event) => {
    const move = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!move || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    choose(move());
  });
  svg.addEventListener("pointermove", (event) => show(under(event) ?? chosen));
  svg.addEventListener("pointerleave", () => show(chosen));
  svg.addEventListener("click", (event) => choose(under(event) ?? chosen));
  byId("explore-measure").addEventListener("change", colour);

  byId("explore").hidden = false;
  byId("explore-without").hidden = true;
  colour();
  show(chosen);
})();
