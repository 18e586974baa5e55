/* Draws the marks over the photo; every point can be reached by the Tab key. */

const pathOf = (places) => places.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y}`).join("");

function drawMarks(stage) {
  const { model, view, layers } = stage;
  const on = (points) => points.map((point) => toScreen(view, point));
  const lines = [...drawEarlier(stage), ...drawFirstMarks(stage)];
  for (const kind of [...LINES, "head_up", WORN]) {
    const places = on(model.marks[kind]);
    const width = kind === "head_up" ? 1.6 : 1.4 + signScale(view);
    if (places.length > 1 && !isProposed(stage, kind)) {
      lines.push(...cased(pathOf(places), width, { dash: DASHES[kind] }));
    }
    if (places.length && kind === model.step && LINES.includes(kind)) {
      lines.push(...words("front", places[0], [0, 22]));
    }
  }
  if (model.marks.head_up.length === 2) lines.push(...arrowHead(on(model.marks.head_up)));
  for (const p of model.marks.placements) {
    lines.push(...drawPlacement(stage, meanPlacement(model.marks, p), on));
  }
  layers.lines.replaceChildren(...lines);
  drawProposal(stage);
  drawGhost(stage);
  drawPoints(stage);
}

/* The axis, and the label where there are several. */
function drawPlacement(stage, p, on) {
  const { model } = stage;
  const parts = [];
  for (const [from, to] of [["entry", "exit"], POST_ENDS, AXIS]) {
    if (p[from] && p[to]) parts.push(...cased(pathOf(on([p[from], p[to]])), 1));
  }
  if (p.exit && p.below) parts.push(...cased(pathOf(on([p.exit, p.below])), 1, { dash: "2 5" }));
  const first = p.entry || p.exit || p.below;
  if (first && model.labels.length > 1) parts.push(...words(p.label, on([first])[0], [0, -8 - 16 * signScale(stage.view)]));
  return parts;
}

function words(text, [x, y], [dx, dy]) {
  const place = { x: x + dx, y: y + dy, "text-anchor": "middle", class: "words" };
  const parts = [svg("text", { ...place, stroke: CASING, "stroke-width": 4 }),
    svg("text", { ...place, fill: INK })];
  for (const part of parts) part.textContent = text;
  return parts;
}

function arrowHead([[ax, ay], [bx, by]]) {
  const angle = (Math.atan2(by - ay, bx - ax) * 180) / Math.PI + 90;
  return cased("M-7 12L0 0L7 12", 2.4, { transform: `translate(${bx} ${by}) rotate(${angle})` });
}

/* What a tap would set: a pale sign under the pointer, or in the middle for the keyboard. */
function drawGhost(stage) {
  const { model, view, layers, act } = stage;
  const at = stage.keyboard ? centre(view) : stage.hover;
  const { step, label, marks } = model;
  if (!step || !at || (act && act.kind !== "tap") || !inside(view, toPhoto(view, at))) {
    layers.ghost.replaceChildren();
    return;
  }
  const parts = [];
  const from = ghostStart(model, toPhoto(view, at), nearPx(stage));
  if (from) parts.push(...cased(pathOf([toScreen(view, from), at]), 1, { dash: "3 4" }));
  const turn = SPOTS.includes(step) ? wayOf(marks, label) : 0;
  const group = svg("g", { transform: `translate(${at}) rotate(${turn}) scale(${signScale(view)})` });
  group.append(...sign(step, { hollow: model.onEdge }));
  layers.ghost.replaceChildren(...parts, group);
}

function ghostStart({ marks, step, label }, at, near) {
  if (isLine(step)) {
    const place = insertionPlace(marks[step], at, near);
    return marks[step][place ? place - 1 : 0];
  }
  if (step === "head_up") return marks.head_up.length === 1 ? marks.head_up[0] : null;
  const p = placementOf(marks, label) || {};
  return { exit: p.entry, below: p.exit, floor: p.crest, exit_end: p.entry_end,
    axis_from: p.axis_to }[step];
}

function drawPoints(stage) {
  const { model, view, layers } = stage;
  const points = allPoints(model.marks);
  const ids = new Set(points.map((point) => point.id));
  const old = new Map();
  for (const made of [...layers.points.children]) {
    if (ids.has(made.dataset.id)) old.set(made.dataset.id, made);
    else made.remove();
  }
  let before = null; // a point that stays in its place keeps the focus
  for (const point of points) {
    const made = old.get(point.id) || newPoint(stage, point.id);
    const turn = point.label === undefined ? 0 : wayOf(model.marks, point.label);
    made.setAttribute("transform", `translate(${toScreen(view, point.at)})`);
    made.setAttribute("aria-label", spoken(point));
    const open = !isLine(point.kind) || point.kind === model.step;
    const size = signScale(view) * (open || point.id === model.chosen ? 1 : 0.55);
    const look = `${turn} ${size} ${point.outline} ${point.snapped} ${point.id === model.chosen}`;
    if (made.dataset.look !== look) {
      redrawPoint(made, point, `rotate(${turn}) scale(${size})`, point.id === model.chosen);
    }
    made.dataset.look = look;
    const next = before ? before.nextSibling : layers.points.firstChild;
    if (next !== made) layers.points.insertBefore(made, next);
    before = made;
  }
}

function newPoint(stage, id) {
  const made = svg("g", { tabindex: "0", role: "button", class: "point" });
  made.dataset.id = id;
  made.addEventListener("focus", () => {
    if (stage.model.chosen === id) return;
    choose(stage.model, id);
    const point = chosenPoint(stage.model);
    if (point && !stage.act) reveal(stage.view, point.at);
    stage.redraw();
  });
  return made;
}

function redrawPoint(made, point, transform, chosen) {
  const turned = svg("g", { transform });
  turned.append(...sign(point.kind, { hollow: point.outline, snapped: point.snapped }));
  const parts = [svg("circle", { r: 14, fill: "transparent" }), turned];
  if (chosen) {
    const corners = svg("g", { class: "corners" });
    corners.append(...cased(CORNERS, 2));
    parts.push(corners);
  }
  made.replaceChildren(...parts);
}

function focusPoint(stage, id) {
  const made = [...stage.layers.points.children].find((point) => point.dataset.id === id);
  (made || stage.box).focus({ preventScroll: true });
}
