/* The marks of one photo, what can be done to them, and their past. Pixels of the photo. */

const LINES = ["outer_rim", "inner_rim"];
const SPOTS = ["entry", "exit", "below", "crest", "floor"];
const WORDS = {
  outer_rim: "Outer rim", inner_rim: "Inner rim", entry: "Entry", exit: "Exit",
  below: "Next below", crest: "Crest", floor: "Floor", tie: "Spare dot", head_up: "Head up",
};

const copy = (value) => JSON.parse(JSON.stringify(value));
const rounded = (point) => point.map((v) => Math.round(v * 1000) / 1000);

function newModel(photo, marks, label) {
  const model = {
    photo, marks: {}, past: [], future: [], chosen: null, step: "outer_rim", label, rev: 0,
  };
  model.marks = { outer_rim: [], inner_rim: [], head_up: [], ties: {}, placements: [],
    ...copy(marks || {}) };
  if (model.marks.placements.length) model.label = model.marks.placements[0].label;
  model.step = nextStep(model);
  return model;
}

/* The marks as the marks file has them: nothing that is empty. */
function bareMarks(model) {
  const out = {};
  for (const name of [...LINES, "head_up"]) {
    if (model.marks[name].length) out[name] = model.marks[name].map(rounded);
  }
  if (Object.keys(model.marks.ties).length) {
    out.ties = Object.fromEntries(
      Object.entries(model.marks.ties).map(([name, point]) => [name, rounded(point)]));
  }
  const placements = model.marks.placements
    .filter((p) => SPOTS.some((name) => p[name]))
    .map((p) => {
      const kept = { ...p };
      for (const name of SPOTS) if (kept[name]) kept[name] = rounded(kept[name]);
      for (const list of ["outline", "snapped"]) {
        if (kept[list]) kept[list] = kept[list].filter((name) => kept[name]);
        if (kept[list] && !kept[list].length) delete kept[list];
      }
      if (!kept.snapped) delete kept.u_px;
      return kept;
    });
  if (placements.length) out.placements = placements;
  return out;
}

const placementOf = (model, label) => model.marks.placements.find((p) => p.label === label);

/* Every point with a name of its own: {id, words, at}. */
function allPoints(model) {
  const found = [];
  for (const name of [...LINES, "head_up"]) {
    model.marks[name].forEach((at, i) =>
      found.push({ id: `${name}/${i}`, kind: name, words: `${WORDS[name]}, point ${i + 1}`, at }));
  }
  for (const [name, at] of Object.entries(model.marks.ties)) {
    found.push({ id: `tie/${name}`, kind: "tie", words: `Spare dot ${name}`, at });
  }
  for (const p of model.marks.placements) {
    for (const name of SPOTS) {
      if (p[name]) {
        found.push({ id: `${p.label}//${name}`, kind: name, label: p.label,
          words: `${WORDS[name]} of placement ${p.label}`, at: p[name],
          outline: (p.outline || []).includes(name) });
      }
    }
  }
  return found;
}

function nextStep(model) {
  const p = placementOf(model, model.label) || {};
  if (model.marks.outer_rim.length < 3) return "outer_rim";
  if (model.marks.inner_rim.length < 3) return "inner_rim";
  return ["entry", "exit", "below"].find((name) => !p[name]) || "entry";
}

function remember(model) {
  model.past.push({ marks: copy(model.marks), step: model.step, label: model.label });
  if (model.past.length > 200) model.past.shift();
  model.future = [];
  model.rev += 1;
}

function travel(model, from, to) {
  if (!from.length) return false;
  to.push({ marks: copy(model.marks), step: model.step, label: model.label });
  Object.assign(model, from.pop());
  model.chosen = null;
  model.rev += 1;
  return true;
}

const undo = (model) => travel(model, model.past, model.future);
const redo = (model) => travel(model, model.future, model.past);

function write(model, id, at) {
  const [head, rest] = id.split(/\/(?=[^/]*$)/);
  if (head === "tie") model.marks.ties[rest] = at;
  else if (model.marks[head] instanceof Array && head !== "placements") {
    model.marks[head][Number(rest)] = at;
  } else placementOf(model, head.replace(/\/$/, ""))[rest] = at;
}

function addPoint(model, at) {
  remember(model);
  const step = model.step;
  if (LINES.includes(step) || step === "head_up") {
    const line = model.marks[step];
    if (step === "head_up" && line.length === 2) line.length = 0;
    const place = LINES.includes(step) ? insertionPlace(line, at) : line.length;
    line.splice(place, 0, at);
    model.chosen = `${step}/${place}`;
    return;
  }
  if (step === "tie") {
    let n = 1;
    while (model.marks.ties[`t${n}`]) n += 1;
    model.marks.ties[`t${n}`] = at;
    model.chosen = `tie/t${n}`;
    return;
  }
  if (!placementOf(model, model.label)) model.marks.placements.push({ label: model.label });
  placementOf(model, model.label)[step] = at;
  model.chosen = `${model.label}//${step}`;
  const order = ["entry", "exit", "below"];
  const p = placementOf(model, model.label);
  const open = order.slice(order.indexOf(step) + 1).find((name) => !p[name]);
  if (order.includes(step) && open) model.step = open;
}

/* A tap near a stretch of the line goes between its ends; elsewhere it goes on from the end. */
function insertionPlace(line, at) {
  let best = line.length, least = Infinity;
  for (let i = 1; i < line.length; i += 1) {
    const [ax, ay] = line[i - 1], [bx, by] = line[i];
    const length = Math.hypot(bx - ax, by - ay) || 1;
    const along = ((at[0] - ax) * (bx - ax) + (at[1] - ay) * (by - ay)) / length ** 2;
    if (along <= 0 || along >= 1) continue;
    const off = Math.abs((at[0] - ax) * (by - ay) - (at[1] - ay) * (bx - ax)) / length;
    if (off < least && off < 0.25 * length) { least = off; best = i; }
  }
  return best;
}

function removePoint(model, id) {
  const point = allPoints(model).find((p) => p.id === id);
  if (!point) return;
  remember(model);
  if (point.kind === "tie") delete model.marks.ties[id.slice(4)];
  else if (point.label !== undefined) {
    const p = placementOf(model, point.label);
    delete p[point.kind];
    model.step = point.kind;
    if (!SPOTS.some((name) => p[name])) {
      model.marks.placements = model.marks.placements.filter((other) => other !== p);
    }
  } else model.marks[point.kind].splice(Number(id.split("/")[1]), 1);
  model.chosen = null;
}

function toggleEdge(model, id) {
  const point = allPoints(model).find((p) => p.id === id);
  if (!point || !["entry", "exit"].includes(point.kind)) return;
  remember(model);
  const p = placementOf(model, point.label);
  const list = new Set(p.outline || []);
  if (!list.delete(point.kind)) list.add(point.kind);
  p.outline = [...list];
}

function addPlacement(model) {
  const taken = new Set(model.marks.placements.map((p) => p.label));
  let n = 1;
  while (taken.has(String(n)) || String(n) === model.label) n += 1;
  model.label = String(n);
  model.step = "entry";
  model.chosen = null;
}
