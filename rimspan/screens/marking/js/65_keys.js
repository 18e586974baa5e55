/* The keyboard: everything that a pointer can do. */

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const PAN_PX = 48;

function listenToKeys(stage, on) {
  on(stage.root, "keydown", (event) => {
    event.stopPropagation(); // the page has keys of its own
    stage.touchedAt = performance.now();
    if (keyDown(stage, event)) event.preventDefault();
  });
  for (const name of ["keyup", "keypress"]) {
    on(stage.root, name, (event) => {
      event.stopPropagation();
      if (event.key === " ") stage.space = false;
    });
  }
  on(stage.box, "focus", () => {
    stage.keyboard = stage.box.matches(":focus-visible") && !stage.fingers.size;
    stage.redraw();
  });
  on(stage.box, "focusout", () => {
    stage.keyboard = false;
    stage.space = false;
    stage.flush();
    stage.redraw();
  });
}

/* Returns whether the key was ours. */
function keyDown(stage, event) {
  if (event.target.matches("input")) return false; // a name is typed
  const command = event.ctrlKey || event.metaKey;
  const key = event.key.toLowerCase();
  if (command) {
    const back = key === "z" && !event.shiftKey;
    if (!back && key !== "y" && key !== "z") return false;
    if (back ? undo(stage.model) : redo(stage.model)) stage.changed();
    return true;
  }
  return stage.box.contains(event.target) && keyOnPhoto(stage, event, key);
}

function keyOnPhoto(stage, event, key) {
  const { model, view, box } = stage;
  const onPoint = event.target !== box;
  const middle = onPoint && chosenPoint(model) ? toScreen(view, chosenPoint(model).at)
    : centre(view);
  if (ARROWS[event.key]) arrow(stage, event, onPoint);
  else if (key === "delete" || key === "backspace") removeChosen(stage);
  else if (key === "+" || key === "=") zoom(view, 1.4, middle);
  else if (key === "-") zoom(view, 1 / 1.4, middle);
  else if (key === "0") fit(view);
  else if (key === "enter" && !onPoint) addInTheMiddle(stage);
  else if (model.offers[key - 1] && !onPoint && !inPass(model)) {
    openStep(model, model.offers[key - 1]);
  } else if (key === " ") stage.space = true;
  else if (key === "escape") {
    model.chosen = null;
    box.focus({ preventScroll: true });
  } else return false;
  stage.redraw();
  return true;
}

/* A step is 1 px, with Alt or Shift 0.1 px; with nothing chosen the photo moves. */
function arrow(stage, event, onPoint) {
  const [dx, dy] = ARROWS[event.key];
  if (!onPoint) {
    pan(stage.view, -PAN_PX * dx, -PAN_PX * dy);
    return;
  }
  const step = event.shiftKey || event.altKey ? 0.1 : 1;
  if (!nudge(stage.model, stage.view, dx * step, dy * step)) return;
  reveal(stage.view, chosenPoint(stage.model).at);
  stage.spoken = null;
  stage.changed();
}

function addInTheMiddle(stage) {
  const at = toPhoto(stage.view, centre(stage.view));
  if (!inside(stage.view, at) || !add(stage.model, clamped(stage.view, at), nearPx(stage))) return;
  stage.changed(true);
  placed(stage, stage.model.chosen, true);
}

function removeChosen(stage) {
  if (!take(stage.model)) return;
  stage.changed(true);
  stage.box.focus({ preventScroll: true });
}
