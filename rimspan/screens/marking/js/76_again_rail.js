/* Marking again in the rail: its buttons, the line that says what comes. */

function buildAgain(stage) {
  const group = stage.root.querySelector('[data-part="again"]');
  const act = (what) => () => {
    what(stage.model);
    showAfresh(stage);
    stage.changed(true);
  };
  group.replaceChildren(
    button("again", "Mark again", () => markAgain(stage)), noNeed(),
    button("next_pass", "Next pass", act(nextPass)), button("end_pass", "Finish", act(endPass)));
}

function noNeed() {
  const words = document.createElement("small");
  words.textContent = "Snapped to their dots: no need to mark them again.";
  return words;
}

/* The first marks' place mustn't show in how the view lies. */
function showAfresh(stage) {
  if (!inPass(stage.model)) return;
  const ear = earOf(stage);
  fit(stage.view);
  if (ear) showArea(stage.view, ear);
}

function markAgain(stage) {
  startPass(stage.model, stage.who);
  showAfresh(stage);
  stage.changed(true);
  stage.box.focus({ preventScroll: true });
}

/* Scatter belongs to a hand: without a name nothing is marked again. */
function learnWho(stage, { by, firstBy: first, most }) {
  stage.who = { by, firstBy: first };
  stage.most = most;
}

function refreshAgain(stage) {
  const { model, root, who, most } = stage;
  const running = inPass(model);
  for (const part of ["main", "context", "labels", "others"]) {
    const elsewhere = model.recheck && ["labels", "others"].includes(part);
    root.querySelector(`[data-part="${part}"]`).hidden = running || elsewhere;
  }
  const done = running && !lackingSpots(model.marks).length;
  const more = done && askedFor(model.marks, model.marks.x_again).least + 2 <= most;
  const first = firstMarks(model.marks);
  const hand = handSpots(first);
  root.querySelector('[data-part="again"] small').hidden = running || hand.length || model.recheck
    || !first.some((p) => SPOTS.some((spot) => p[spot]));
  const again = !running && !model.recheck && who.by && hand.length;
  const shown = { again, next_pass: more, end_pass: running };
  for (const [name, on] of Object.entries(shown)) {
    root.querySelector(`button[data-name="${name}"]`).hidden = !on;
  }
  const start = root.querySelector('button[data-name="again"]');
  start.disabled = !running && !canMarkAgain(model, who, most);
  start.title = start.disabled ? `Marked ${most} times, which is enough.` : "";
  const end = root.querySelector('button[data-name="end_pass"]');
  end.textContent = done ? "Finish" : model.marks.placements.length ? "Stop here, keep these" : "Leave";
}

const CARDINALS = ["", "once", "twice"];
const times = (count) => CARDINALS[count] || `${count} times`;

/* The line of a pass, and what for; null outside of one. */
function passHint(model) {
  if (!inPass(model)) return null;
  const { marks, step, label } = model;
  const { least } = askedFor(marks, marks.x_again);
  const owner = passesOf(marks)[0].by === marks.x_again.by;
  const pass = `Pass ${least + 1}${owner ? "" : ` by ${marks.x_again.by}`}`;
  if (!step) {
    return [`${pass} has all its points.`, "Drag any to mend it; then go on, or finish."];
  }
  const first = handSpots(firstMarks(marks)).find((s) => s.kind === step && s.label === label);
  const edge = first && first.outline ? ", on the visible edge" : "";
  return [`${pass}: ${pointWords({ kind: step, label })}${edge}; mark it as if for the first time.`,
    snappedWords(marks) || "Your first marks are hidden."];
}

/* What a pass leaves out, and why. */
function snappedWords(marks) {
  const found = firstMarks(marks).flatMap((p) => (p.snapped || []).filter((kind) => p[kind])
    .map((kind) => pointWords({ kind, label: p.label })));
  if (!found.length) return "";
  const [first] = found;
  const rest = found.length > 1 ? ` and ${found.length - 1} more` : "";
  return `${first[0].toUpperCase()}${first.slice(1)}${rest}: snapped to its dot: no need.`;
}
