/* The live edit: marks, their past and future, the point that is chosen and what comes next. */

const PAST = 300;
const ONE_NUDGE_MS = 800;
const NO_OTHERS = { dots: [], ties: [], mm_per_px: 0 };

const othersOf = (data) => (data.several || {}).others || NO_OTHERS;

function newModel(data) {
  const model = {
    photo: data.photo, rev: data.revision, marks: fullMarks(data.marks), labels: [], label: "",
    past: kept(data, "past"), future: kept(data, "future"),
    offers: MAIN, ...data.several, several: Boolean(data.several),
    recheck: data.recheck || null, others: othersOf(data), chosen: null, step: null, picked: null, onEdge: false, nudge: null,
  };
  learnLabels(model, data.labels);
  model.label = model.labels.find((label) => firstLacking(model.marks, label)) || model.labels[0];
  model.step = stepToGoOn(model);
  return model;
}

/* After a reload: the line that was being marked, else what is lacking. */
function stepToGoOn(model) {
  const next = nextStep(model), last = model.past[model.past.length - 1];
  return next && last && LINES.includes(last.step) ? last.step : next;
}

/* Steps as Python keeps them, with every name in their marks. */
const opened = (steps) => steps.map((step) => ({ ...step, marks: fullMarks(step.marks) }));
const kept = (data, name) => opened(((data.held || {}).undo || {})[name] || []);

function learnLabels(model, labels) {
  const marked = model.marks.placements.map((p) => p.label);
  model.labels = [...new Set([...labels, ...model.labels, ...marked])];
}

const chosenPoint = (model) => pointById(model.marks, model.chosen);
const state = ({ marks, step, label }) => copy({ marks, step, label });

/* Call before a change: what is now becomes the past. */
function remember(model) {
  model.past.push(state(model));
  if (model.past.length > PAST) model.past.shift();
  model.future = [];
  model.rev += 1;
  model.nudge = null;
}

function travel(model, from, to) {
  if (!from.length) return false;
  const wasInPass = inPass(model);
  to.push(state(model));
  Object.assign(model, from.pop(), { chosen: null, nudge: null });
  if (wasInPass || inPass(model)) aimAgain(model);
  model.rev += 1;
  return true;
}

const undo = (model) => travel(model, model.past, model.future);
const redo = (model) => travel(model, model.future, model.past);

/* Adds a point of the active step; `near` is how close, px, a tap is on a line. */
function add(model, at, near) {
  if (!model.step) return false;
  remember(model);
  const { step, label, onEdge } = model;
  model.chosen = addPoint(model.marks, step, at,
    { label, outline: onEdge, tie: tieName(model, at), near });
  model.onEdge = false;
  if (SPOTS.includes(step) || (step === "tie" && openOthers(model).length)) {
    model.step = nextStep(model);
  }
  if (step === "head_up" && model.marks.head_up.length === 2) model.step = nextStep(model);
  return true;
}

/* A name that no spare dot has, here or in another photo. */
function freeTie(marks, known) {
  let n = 1;
  while (marks.ties[String(n)] || known.includes(String(n))) n += 1;
  return String(n);
}

function take(model) {
  const point = chosenPoint(model);
  if (!point) return false;
  remember(model);
  removePoint(model.marks, point);
  model.chosen = null;
  model.step = point.kind;
  if (point.label !== undefined) model.label = point.label;
  if (inPass(model)) aimAgain(model);
  return true;
}

/* Moves the chosen point; steps in quick succession are one step back. */
function nudge(model, view, dx, dy) {
  const point = chosenPoint(model);
  if (!point) return false;
  const now = performance.now();
  const goesOn = model.nudge && model.nudge.id === point.id
    && now - model.nudge.at < ONE_NUDGE_MS;
  if (goesOn) model.rev += 1;
  else remember(model);
  model.nudge = { id: point.id, at: now };
  writePoint(model.marks, point, clamped(view, [point.at[0] + dx, point.at[1] + dy]));
  return true;
}

function choose(model, id) {
  model.chosen = id;
  const point = chosenPoint(model);
  if (point && point.label !== undefined && !inPass(model)) model.label = point.label;
}

/* The end that the switch "on the visible edge" speaks of: a point, or the one to come. */
function edgeTarget(model) {
  const point = chosenPoint(model);
  if (point && ENDS.includes(point.kind)) return { kind: point.kind, on: point.outline, point };
  if (!ENDS.includes(model.step)) return null;
  const there = pointById(model.marks, `${model.step}/${model.label}`);
  return { kind: model.step, on: there ? there.outline : model.onEdge, point: there };
}

function toggleEdge(model) {
  const target = edgeTarget(model);
  if (!target) return;
  if (!target.point) {
    model.onEdge = !model.onEdge;
    return;
  }
  remember(model);
  if (target.point.snapped) unsnap(model.marks, target.point);
  setOutline(placementOf(model.marks, target.point.label), target.kind, !target.on);
}

function turnLine(model) {
  if (!isLine(model.step)) return;
  remember(model);
  model.marks[model.step].reverse();
  model.chosen = null;
}

function clearLine(model) {
  if (!isLine(model.step)) return;
  remember(model);
  model.marks[model.step] = [];
  setLineOrigin(model.marks, model.step, null);
  model.chosen = null;
}

/* Letters go on with letters, everything else with numbers. */
function addPlacement(model) {
  const last = model.labels[model.labels.length - 1] || "0";
  let label = /^[A-Y]$/.test(last) ? String.fromCharCode(last.charCodeAt(0) + 1) : "";
  for (let n = 1; !label || model.labels.includes(label); n += 1) label = String(n);
  model.labels.push(label);
  openStep(model, "entry", label);
}

/* What the piercer picked to mark. */
function openStep(model, step, label = model.label) {
  model.step = model.picked = step;
  model.label = label;
  model.chosen = null;
  model.onEdge = false;
}
