/* The few things one can do now, as buttons, and the line that says what comes next. */

function buildTools(stage) {
  const { root, model, view } = stage;
  const of = (name) => root.querySelector(`[data-part="${name}"]`);
  const edit = (what) => () => { what(stage.model); stage.changed(true); };
  const look = (what) => () => { what(stage.view); stage.redraw(); };
  const rest = [...MAIN, ...MORE].filter((step) => !model.offers.includes(step));
  root.classList.toggle("several", model.several);
  of("main").replaceChildren(...model.offers.map((step) => stepButton(stage, step)));
  of("more").replaceChildren(...rest.map((step) => stepButton(stage, step)));
  of("context").replaceChildren(
    button("edge", "On the visible edge", edit(toggleEdge)),
    button("unseen", "Not seen here", () => { notSeen(stage); stage.changed(true); }),
    button("turn", "Swap front and back", edit(turnLine)),
    button("clear", "Start this line again", edit(clearLine)));
  of("edit").replaceChildren(
    button("undo", "Undo", edit(undo)), button("redo", "Redo", edit(redo)),
    button("delete", "Delete", () => removeChosen(stage)));
  of("look").replaceChildren(
    button("out", "−", look((v) => zoom(v, 1 / 1.6, zoomPlace(stage))), "Zoom out"),
    button("fit", "Fit", look(fit), "Fit: the whole photo"),
    button("in", "+", look((v) => zoom(v, 1.6, zoomPlace(stage))), "Zoom in"),
    button("ear", "Ear", look((v) => showArea(v, earOf(stage))), "Show the ear"));
  buildAgain(stage);
  stage.parts = { hint: of("hint"), ear: of("ear"), said: of("said"), labels: of("labels"),
    more: of("more").parentElement };
}

/* Where the ear is: as Python says, else where the marks are. */
const earOf = (stage) => stage.area || areaOf(withoutHints(stage.model.marks));

/* The buttons zoom about the chosen point, as far as it is in sight. */
function zoomPlace({ model, view }) {
  const point = chosenPoint(model);
  const at = point ? toScreen(view, point.at) : centre(view);
  const seen = at[0] > 0 && at[1] > 0 && at[0] < view.boxWidth && at[1] < view.boxHeight;
  return seen ? at : centre(view);
}

function button(name, text, act, label) {
  const made = document.createElement("button");
  made.type = "button";
  made.dataset.name = name;
  made.textContent = text;
  if (label) made.setAttribute("aria-label", label);
  made.addEventListener("click", act);
  return made;
}

/* Frames round the signs; the skin's line tells entry and exit apart. */
const ICONS = { entry: "-14 -22 28 28", exit: "-14 -6 28 28", below: "-14 -17 28 28",
  crest: "-14 -14 28 28", floor: "-14 -18 28 28", tie: "-14 -14 28 28",
  entry_end: "-14 -18 28 28", exit_end: "-14 -10 28 28", axis_to: "-14 -14 28 28",
  axis_from: "-14 -14 28 28" };

function stepButton(stage, step) {
  const made = button(step, "", () => { openStep(stage.model, step); stage.redraw(); });
  const picture = svg("svg", { viewBox: ICONS[step] || "-22 -22 44 44", "aria-hidden": "true" });
  const dash = DASHES[step];
  const shape = dash === undefined ? SIGNS[step] // a spot; else a line
    : step === "head_up" ? "M0 18V-16M-8 -7L0 -17L8 -7" : "M-17 12C-12 -16 12 -16 17 12";
  picture.append(svg("path", { d: shape, class: ENDS.includes(step) ? "full" : "strong",
    "stroke-dasharray": { inner_rim: "8 5", [WORN]: "9 3 2 3" }[step] || "" }));
  const words = document.createElement("span");
  words.textContent = NAMES[step];
  const count = document.createElement("small");
  if (ENDS.includes(step)) {
    picture.append(svg("path", { d: "M-12 0H12", class: "strong" }));
  }
  if (ICONS[step]) picture.classList.add("fine");
  made.append(picture, words, count);
  return made;
}

function refreshTools(stage) {
  const { model, root, parts } = stage;
  const target = edgeTarget(model);
  const line = isLine(model.step) && model.marks[model.step].length;
  const can = { undo: model.past.length, redo: model.future.length, delete: chosenPoint(model) };
  const shown = { ear: earOf(stage), edge: target, turn: line > 1, clear: line,
    unseen: canBeUnseen(stage) };
  for (const made of root.querySelectorAll("button[data-name]")) {
    const { name } = made.dataset;
    if (name in NAMES) refreshStep(model, made, name);
    if (name in can) made.disabled = !can[name];
    if (name in shown) made.hidden = !shown[name];
    if (name === "edge" && target) {
      made.textContent = `${NAMES[target.kind]} on the visible edge`;
      made.setAttribute("aria-pressed", String(Boolean(target.on)));
    }
  }
  if (model.step && !model.offers.includes(model.step) && !inPass(model)) parts.more.open = true;
  refreshAgain(stage);
  refreshLabels(stage);
  refreshWords(stage);
}

function refreshStep(model, made, step) {
  const count = countOf(model, step);
  made.setAttribute("aria-pressed", String(step === model.step));
  const single = SPOTS.includes(step);
  const text = !count ? "" : single ? "✓" : String(count);
  made.querySelector("small").textContent = text;
  const said = !count ? "not marked" : single ? "marked" : `${count} marked`;
  made.setAttribute("aria-label", `${NAMES[step]}, ${said}`);
}

function refreshLabels(stage) {
  const { model, parts } = stage;
  const look = JSON.stringify([model.labels, model.label]);
  if (parts.labels.dataset.look === look) return;
  parts.labels.dataset.look = look;
  const several = model.labels.length > 1 ? model.labels : [];
  const chips = several.map((label) => {
    const made = button("label", label, () => {
      openStep(model, firstLacking(model.marks, label) || null, label);
      stage.redraw();
    }, `Placement ${label}`);
    made.setAttribute("aria-pressed", String(label === model.label));
    return made;
  });
  const another = button("another", several.length ? "Add" : "Add a placement",
    () => { addPlacement(stage.model); stage.redraw(); }, "Add a placement");
  parts.labels.replaceChildren(...chips, another);
}

function refreshWords(stage) {
  const { model, parts, side } = stage;
  if (stage.fault) {
    parts.hint.textContent = stage.fault;
    return;
  }
  const [what, why] = afterTap(stage, proposalWords(stage) || otherWords(stage) || hintOf(model));
  const look = `${what} ${why}`;
  if (parts.hint.dataset.look !== look) {
    parts.hint.dataset.look = look;
    const strong = document.createElement("strong");
    strong.textContent = what;
    parts.hint.replaceChildren(strong, ` ${why}`);
    parts.ear.replaceChildren(smallEar(model.step, side));
  }
  const point = chosenPoint(model);
  if (stage.news && stage.news.chosen !== model.chosen) stage.news = null;
  const said = stage.waiting ? WAITING : stage.news && stage.news.words
    || (point ? `Chosen: ${spoken(point)} px.` : "Tap a point to choose it. Hold to set one "
    + "under the loupe. Two fingers or the wheel zoom.");
  if (parts.said.textContent !== said) parts.said.textContent = said;
}
