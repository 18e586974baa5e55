/* The few things one can do now, as buttons, and a focusable spot for every point. */

const MAIN = ["outer_rim", "inner_rim", "entry", "exit", "below"];
const MORE = ["crest", "floor", "tie", "head_up"];

const HINTS = {
  outer_rim: "Tap along the rim's outer edge, from front to back.",
  inner_rim: "Tap along the rim's inner edge, from front to back.",
  entry: "Tap where the post enters on top: its dot, or the visible edge.",
  exit: "Tap where it comes out under the fold: its dot, or the visible edge.",
  below: "Tap the next structure below the exit, along the post.",
  crest: "Tap the dot on the rim's most forward place.",
  floor: "Tap the dot in the scapha beside it.",
  tie: "Tap a spare dot away from the placement.",
  head_up: "Tap two places of a line that points up along the head, the lower first.",
};

function tool(words, act, options = {}) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "tool";
  made.textContent = words;
  if (options.label) made.setAttribute("aria-label", options.label);
  if (options.name) made.dataset.name = options.name;
  made.addEventListener("click", (event) => { event.stopPropagation(); act(); });
  return made;
}

function buildRail(stage) {
  const { rail } = stage;
  rail.replaceChildren();
  const step = (name) => tool(WORDS[name], () => {
    stage.model.step = name;
    stage.model.chosen = null;
    stage.redraw();
  }, { name });
  const group = (...parts) => {
    const made = document.createElement("div");
    made.className = "group";
    made.append(...parts);
    rail.append(made);
  };
  const change = (what) => () => { what(stage.model); stage.changed(); };
  const look = (what) => () => { what(); stage.redraw(); };
  const middle = () => [stage.view.boxWidth / 2, stage.view.boxHeight / 2];
  stage.more = step;
  group(...MAIN.map(step));
  const extra = document.createElement("details");
  const summary = document.createElement("summary");
  summary.textContent = "More marks";
  extra.append(summary, ...MORE.map(step),
    tool("Another placement", change(addPlacement), { name: "another" }));
  group(extra);
  group(
    tool("Undo", change(undo), { name: "undo" }), tool("Redo", change(redo), { name: "redo" }),
    tool("Delete", change((m) => removePoint(m, m.chosen)), { name: "delete" }),
    tool("On the visible edge", change((m) => toggleEdge(m, m.chosen)), { name: "edge" }));
  group(
    tool("+", look(() => zoom(stage.view, 1.6, middle())), { label: "Zoom in", name: "in" }),
    tool("−", look(() => zoom(stage.view, 1 / 1.6, middle())), { label: "Zoom out", name: "out" }),
    tool("Fit", look(() => fit(stage.view)), { name: "fit" }));
}

function refreshRail(stage) {
  const { rail, model } = stage;
  const chosen = allPoints(model).find((p) => p.id === model.chosen);
  const can = { undo: model.past.length, redo: model.future.length, delete: chosen,
    edge: chosen && ["entry", "exit"].includes(chosen.kind) };
  for (const button of rail.querySelectorAll("button")) {
    const { name } = button.dataset;
    if (name in WORDS) button.setAttribute("aria-pressed", String(name === model.step));
    if (name in can) button.disabled = !can[name];
    if (name === "edge") button.setAttribute("aria-pressed", String(!!(chosen && chosen.outline)));
  }
  const of = SPOTS.includes(model.step) && model.marks.placements.length + (model.label !== "1") > 1
    ? ` (placement ${model.label})` : "";
  stage.hint.textContent = chosen
    ? `${chosen.words}${chosen.outline ? ", on the visible edge" : ""}: drag it, or use the arrow keys.`
    : HINTS[model.step] + of;
}

/* Spots for the keyboard and the screen reader; the pointer goes through them. */
function refreshSpots(stage) {
  const { spots, model, view } = stage;
  const points = allPoints(model);
  const held = spots.getRootNode().activeElement;
  const old = new Map([...spots.children].map((spot) => [spot.dataset.id, spot]));
  for (const point of points) {
    let spot = old.get(point.id);
    old.delete(point.id);
    if (!spot) {
      spot = document.createElement("button");
      spot.type = "button";
      spot.className = "spot";
      spot.dataset.id = point.id;
      spot.addEventListener("focus", () => { model.chosen = point.id; stage.redraw(); });
    }
    const [x, y] = toScreen(view, point.at);
    spot.style.left = `${x - 14}px`;
    spot.style.top = `${y - 14}px`;
    const [px, py] = point.at;
    spot.setAttribute("aria-label", `${point.words}, x ${px.toFixed(1)}, y ${py.toFixed(1)}`);
    if (spot !== held) spots.append(spot);
  }
  for (const spot of old.values()) spot.remove();
}
