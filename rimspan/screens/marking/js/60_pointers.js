/* Pointer and touch: a tap adds, a drag on a point moves it, a drag elsewhere pans, two pinch. */

const SLOP_PX = { mouse: 4, pen: 6, touch: 9 };
const GRASP_PX = { mouse: 14, pen: 18, touch: 26 };
const EXACT_PX = { mouse: 12, pen: 12, touch: 13 }; // at least 24 px across, WCAG 2.2, 2.5.8
const HOLD_MS = 380;
const NEAR_PX = 14;

const by = (sizes, event) => sizes[event.pointerType] || sizes.touch;
const nearPx = (stage) => NEAR_PX / stage.view.scale;

function listenToPointers(stage, on) {
  on(stage.box, "pointerdown", (event) => pressed(stage, event));
  on(stage.box, "pointermove", (event) => moved(stage, event));
  on(stage.box, "pointerup", (event) => lifted(stage, event, true));
  on(stage.box, "pointercancel", (event) => lifted(stage, event, false));
  on(stage.box, "pointerleave", () => { stage.hover = null; stage.redraw(); });
  on(stage.box, "contextmenu", (event) => event.preventDefault());
  on(stage.box, "wheel", (event) => wheeled(stage, event), { passive: false });
}

function placeOf(stage, event) {
  const frame = stage.box.getBoundingClientRect();
  return [event.clientX - frame.left, event.clientY - frame.top];
}

/* A line's points lie close: while something else is marked, a tap among them is for that. */
const isAside = (model, point) => Boolean(model.step) && isLine(point.kind)
  && point.kind !== model.step;

/* The nearest point within a radius; the chosen one comes first where two are close. */
function pointAt(stage, at, radius, counts = () => true) {
  const { model, view } = stage;
  let best = null, least = radius;
  for (const point of allPoints(model.marks).filter(counts)) {
    const off = apart(at, toScreen(view, point.at)) - (point.id === model.chosen ? 4 : 0);
    if (off <= least) [best, least] = [point, off];
  }
  return best;
}

function pressed(stage, event) {
  stage.align();
  stage.touchedAt = performance.now();
  const at = placeOf(stage, event);
  stage.fingers.set(event.pointerId, at);
  stage.box.setPointerCapture(event.pointerId);
  stage.keyboard = false;
  event.preventDefault();
  clearTimeout(stage.holding);
  if (stage.fingers.size > 1) {
    endDrag(stage);
    stage.act = { kind: "pinch" };
    return;
  }
  const panning = event.button === 1 || stage.space;
  const inStep = (point) => !isAside(stage.model, point);
  stage.act = { kind: panning ? "pan" : "tap", from: at, last: at, type: event.pointerType,
    grasped: panning ? null : pointAt(stage, at, by(GRASP_PX, event)),
    exact: panning ? null : pointAt(stage, at, by(EXACT_PX, event), inStep),
    slop: by(SLOP_PX, event) };
  if (!panning) expectLoupe(stage, toPhoto(stage.view, at));
  if (!panning) stage.holding = setTimeout(() => holdDown(stage), HOLD_MS);
}

/* Held down: on a point the loupe opens, elsewhere a point is set under the loupe. */
function holdDown(stage) {
  const { act, model, view } = stage;
  if (!act || act.kind !== "tap") return;
  if (act.exact || !model.step) {
    if (act.grasped) beginDrag(stage, act.grasped);
  } else {
    const at = toPhoto(view, act.from);
    if (!inside(view, at) || !add(model, clamped(view, at), nearPx(stage))) return;
    beginDrag(stage, chosenPoint(model), true);
  }
  stage.redraw();
}

function beginDrag(stage, point, added = false) {
  const { act, view } = stage;
  const [x, y] = toScreen(view, point.at);
  Object.assign(act, { kind: "drag", id: point.id, added,
    grip: [x - act.from[0], y - act.from[1]], moved: false });
  choose(stage.model, point.id);
  showLoupe(stage, point.at, act.type !== "mouse");
}

function moved(stage, event) {
  const at = placeOf(stage, event);
  if (event.pointerType !== "touch") stage.hover = at;
  if (!stage.fingers.has(event.pointerId)) {
    stage.redraw();
    return;
  }
  const before = [...stage.fingers.values()];
  stage.fingers.set(event.pointerId, at);
  const { act } = stage;
  if (!act) return;
  if (act.kind === "pinch") pinch(stage, before, [...stage.fingers.values()]);
  else if (act.kind === "tap" && apart(at, act.from) > act.slop) {
    clearTimeout(stage.holding);
    if (act.grasped) beginDrag(stage, act.grasped);
    else act.kind = "pan";
  }
  if (act.kind === "drag") dragTo(stage, at);
  if (act.kind === "pan") {
    pan(stage.view, at[0] - act.last[0], at[1] - act.last[1]);
    act.last = at;
  }
  stage.redraw();
}

function dragTo(stage, at) {
  const { act, model, view } = stage;
  const point = pointById(model.marks, act.id);
  if (!point) return;
  if (!act.moved && !act.added) remember(model);
  if (!act.moved) stage.spoken = null;
  act.moved = true;
  const wanted = clamped(view, toPhoto(view, [at[0] + act.grip[0], at[1] + act.grip[1]]));
  writePoint(model.marks, point, wanted);
  showLoupe(stage, wanted, act.type !== "mouse");
  streamed(stage);
}

function endDrag(stage) {
  stage.loupe.hidden = true;
  const { act } = stage;
  if (!act || act.kind !== "drag") return;
  stage.changed(true);
  if (act.added || act.moved) placed(stage, act.id, act.added);
}

function pinch(stage, [a, b], [c, d]) {
  if (!b || !d) return;
  const middle = (p, q) => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const factor = apart(c, d) / Math.max(apart(a, b), 1);
  zoom(stage.view, factor, middle(a, b), middle(c, d));
}

function lifted(stage, event, whole) {
  if (!stage.fingers.delete(event.pointerId)) return;
  stage.touchedAt = performance.now();
  clearTimeout(stage.holding);
  const { act } = stage;
  if (act && act.kind === "tap" && whole) tapped(stage, act, placeOf(stage, event));
  else endDrag(stage);
  if (!stage.fingers.size) stage.act = null;
  if (event.pointerType === "touch") stage.hover = null;
  if (act && act.kind === "drag") focusPoint(stage, act.id);
  stage.redraw();
}

function tapped(stage, act, at) {
  const { model, view } = stage;
  const wanted = toPhoto(view, at);
  stage.act = null;
  if (act.exact || (!model.step && act.grasped)) choose(model, (act.exact || act.grasped).id);
  else if (inside(view, wanted) && add(model, clamped(view, wanted), nearPx(stage))) {
    stage.changed(true);
    placed(stage, model.chosen, true);
  } else model.chosen = null;
  drawPoints(stage);
  focusPoint(stage, model.chosen);
}

/* At the far end the page scrolls on. A wheel tells whole pixels only, the pointer its parts. */
function wheeled(stage, event) {
  if (event.deltaY > 0 && stage.view.fitted && !event.ctrlKey) return;
  event.preventDefault();
  const told = placeOf(stage, event);
  const at = stage.hover && apart(stage.hover, told) < 1.5 ? stage.hover : told;
  const lines = event.deltaMode === 1 ? 16 : 1;
  const speed = event.ctrlKey ? 0.01 : 0.0022;
  zoom(stage.view, Math.exp(-event.deltaY * lines * speed), at);
  stage.redraw();
}
