/* Mouse, touch, pen and keys. One finger taps, drags and pans; two zoom; holding still places. */

const NEAR_TOUCH = 24, NEAR_MOUSE = 13, STILL = 6, HOLD_MS = 350;

function listen(stage) {
  const { box } = stage;
  const on = (type, what, options) => box.addEventListener(type, what, options);
  on("pointerdown", (event) => pressed(stage, event));
  on("pointermove", (event) => moved(stage, event));
  on("pointerup", (event) => released(stage, event));
  on("pointercancel", (event) => released(stage, event, true));
  on("wheel", (event) => {
    event.preventDefault();
    zoom(stage.view, Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.002)), place(stage, event));
    stage.redraw();
  }, { passive: false });
  on("keydown", (event) => keyed(stage, event));
  for (const type of ["keyup", "keypress"]) on(type, (event) => event.stopPropagation());
}

function place(stage, event) {
  const frame = stage.canvas.getBoundingClientRect();
  return [event.clientX - frame.left, event.clientY - frame.top];
}

function nearest(stage, at, reach) {
  let best = null, least = reach;
  for (const point of allPoints(stage.model)) {
    const [x, y] = toScreen(stage.view, point.at);
    const away = Math.hypot(x - at[0], y - at[1]);
    const handicap = point.id === stage.model.chosen ? 0.7 : 1;
    if (away * handicap < least) { least = away * handicap; best = point; }
  }
  return best;
}

function pressed(stage, event) {
  if (event.button > 0 || event.target.closest("button.tool")) return;
  event.preventDefault();
  stage.box.focus({ preventScroll: true });
  stage.settle();
  const at = place(stage, event);
  stage.fingers.set(event.pointerId, at);
  try { stage.canvas.setPointerCapture(event.pointerId); } catch { /* a made-up event */ }
  clearTimeout(stage.holding);
  if (stage.fingers.size > 1) {
    if (stage.act && stage.act.kind === "drag" && stage.act.began) undo(stage.model);
    stage.act = { kind: "pinch" };
    hideLoupe(stage);
    return;
  }
  const point = nearest(stage, at, event.pointerType === "mouse" ? NEAR_MOUSE : NEAR_TOUCH);
  stage.act = { kind: point ? "drag" : "tap", point, at, last: at, began: false };
  if (point) {
    const [x, y] = toScreen(stage.view, point.at);
    stage.act.grip = [x - at[0], y - at[1]];
    stage.model.chosen = point.id;
    stage.redraw();
  } else if (event.pointerType !== "mouse") {
    stage.holding = setTimeout(() => placeByHolding(stage), HOLD_MS);
  }
}

function placeByHolding(stage) {
  const { act } = stage;
  if (!act || act.kind !== "tap") return;
  const at = toPhoto(stage.view, act.at);
  if (!inside(stage.view, at)) return;
  addPoint(stage.model, at);
  Object.assign(act, { kind: "drag", began: true, grip: [0, 0],
    point: allPoints(stage.model).find((p) => p.id === stage.model.chosen) });
  showLoupe(stage, at);
  stage.changed();
}

function moved(stage, event) {
  if (!stage.fingers.has(event.pointerId)) return;
  event.preventDefault();
  const before = [...stage.fingers.values()];
  const at = place(stage, event);
  stage.fingers.set(event.pointerId, at);
  const { act } = stage;
  if (!act) return;
  if (act.kind === "pinch") pinch(stage, before, [...stage.fingers.values()]);
  else if (act.kind === "drag") dragTo(stage, at);
  else if (act.kind === "pan" || Math.hypot(at[0] - act.at[0], at[1] - act.at[1]) > STILL) {
    clearTimeout(stage.holding);
    act.kind = "pan";
    pan(stage.view, at[0] - act.last[0], at[1] - act.last[1]);
    act.last = at;
    stage.redraw();
  }
}

function pinch(stage, [a, b], [c, d]) {
  if (!b || !d) return;
  const middle = (p, q) => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const span = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1]) || 1;
  const from = middle(a, b), to = middle(c, d);
  pan(stage.view, to[0] - from[0], to[1] - from[1]);
  zoom(stage.view, span(c, d) / span(a, b), to);
  stage.redraw();
}

function dragTo(stage, at) {
  const { act, model, view } = stage;
  if (!act.began && Math.hypot(at[0] - act.at[0], at[1] - act.at[1]) < 2) return;
  if (!act.began) { remember(model); act.began = true; }
  const wanted = toPhoto(view, [at[0] + act.grip[0], at[1] + act.grip[1]]);
  const held = [Math.min(Math.max(wanted[0], 0), view.width - 1),
    Math.min(Math.max(wanted[1], 0), view.height - 1)];
  write(model, act.point.id, held);
  model.rev += 1;
  showLoupe(stage, held);
  stage.changed();
}

function released(stage, event, cancelled = false) {
  if (!stage.fingers.delete(event.pointerId)) return;
  clearTimeout(stage.holding);
  const { act } = stage;
  hideLoupe(stage);
  if (act && act.kind === "tap" && !cancelled) {
    const at = toPhoto(stage.view, place(stage, event));
    if (inside(stage.view, at)) { addPoint(stage.model, at); stage.changed(); }
  }
  if (act && act.kind === "drag") stage.changed(true);
  if (!stage.fingers.size) stage.act = null;
  stage.redraw();
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function keyed(stage, event) {
  const { model, view } = stage;
  const middle = [view.boxWidth / 2, view.boxHeight / 2];
  event.stopPropagation(); // Streamlit has keys of its own
  if (event.target.closest("button.tool")) return;
  const command = event.ctrlKey || event.metaKey;
  if (ARROWS[event.key]) {
    const step = event.shiftKey || event.altKey ? 0.1 : 1;
    const [dx, dy] = ARROWS[event.key];
    const point = allPoints(model).find((p) => p.id === model.chosen);
    if (point) {
      remember(model);
      write(model, point.id, [point.at[0] + dx * step, point.at[1] + dy * step]);
      stage.changed();
    } else { pan(view, -40 * dx, -40 * dy); stage.redraw(); }
  } else if (event.key === "Delete" || event.key === "Backspace") {
    removePoint(model, model.chosen);
    stage.changed();
  } else if (event.key === "+" || event.key === "=") { zoom(view, 1.4, middle); stage.redraw(); }
  else if (event.key === "-") { zoom(view, 1 / 1.4, middle); stage.redraw(); }
  else if (event.key === "0") { fit(view); stage.redraw(); }
  else if (command && event.key.toLowerCase() === "z") {
    if (event.shiftKey ? redo(model) : undo(model)) stage.changed();
  } else if (command && event.key.toLowerCase() === "y") {
    if (redo(model)) stage.changed();
  } else if (event.key === "Enter" && !event.target.closest("button.spot")) {
    const at = toPhoto(view, middle);
    if (inside(view, at)) { addPoint(model, at); stage.changed(); }
  } else return;
  event.preventDefault();
}
