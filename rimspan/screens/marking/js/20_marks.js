/* The marks of one photo: what there is, how a point is named, written, added and taken away. */

const LINES = ["outer_rim", "inner_rim"];
/* Where a worn thing touches, for the plan: a line that is no part of the rim. */
const WORN = "x_worn";
const isLine = (kind) => LINES.includes(kind) || kind === WORN;
/* Of a post that is in, at a later visit: the middles of its two ends, two places on its axis. */
const POST_ENDS = ["entry_end", "exit_end"];
const AXIS = ["axis_to", "axis_from"];
const SPOTS = ["entry", "exit", "below", "crest", "floor", ...POST_ENDS, ...AXIS];
const ENDS = ["entry", "exit"];

const copy = (value) => JSON.parse(JSON.stringify(value));
const rounded = (point) => point.map((v) => Math.round(v * 1000) / 1000);

/* The marks with every name there, empty or not. */
function fullMarks(marks) {
  const full = { outer_rim: [], inner_rim: [], head_up: [], [WORN]: [], ties: {}, placements: [] };
  return openPass(Object.assign(full, copy(marks || {})));
}

/* The marks as the marks file has them: nothing that is empty. */
function bareMarks(full) {
  const out = {};
  for (const [name, value] of Object.entries(shutPass(full))) {
    if (isLine(name) || name === "head_up") {
      if (value.length) out[name] = value.map(rounded);
    } else if (name === "ties") {
      const ties = Object.entries(value).map(([tie, point]) => [tie, rounded(point)]);
      if (ties.length) out.ties = Object.fromEntries(ties);
    } else if (name === "placements") {
      const kept = value.filter((p) => SPOTS.some((spot) => p[spot])).map(barePlacement);
      if (kept.length) out.placements = kept;
    } else if (!isEmpty(value)) out[name] = value;
  }
  return out;
}

function barePlacement(placement) {
  const kept = { ...placement };
  for (const spot of SPOTS) if (kept[spot]) kept[spot] = rounded(kept[spot]);
  for (const list of ["outline", "snapped"]) {
    if (!kept[list]) continue;
    kept[list] = kept[list].filter((spot) => kept[spot]);
    if (!kept[list].length) delete kept[list];
  }
  if (!kept.snapped) delete kept.u_px;
  if (isEmpty(kept.x_snap)) delete kept.x_snap;
  return kept;
}

const placementOf = (marks, label) => marks.placements.find((p) => p.label === label);

function openPlacement(marks, label) {
  if (!placementOf(marks, label)) marks.placements.push({ label });
  return placementOf(marks, label);
}

/* Every point: {id, kind, at} and, by its kind, the line's index, the tie's name, the label. */
function allPoints(marks) {
  const found = [];
  for (const kind of [...LINES, "head_up", WORN]) {
    marks[kind].forEach((at, index) => found.push({ id: `${kind}/${index}`, kind, index, at }));
  }
  for (const p of marks.placements) {
    const shown = meanPlacement(marks, p);
    for (const kind of SPOTS) {
      if (p[kind]) {
        found.push({ id: `${kind}/${p.label}`, kind, label: p.label, at: shown[kind],
          times: marksBehind(marks, p, kind),
          outline: (p.outline || []).includes(kind), snapped: (p.snapped || []).includes(kind) });
      }
    }
  }
  for (const [name, at] of Object.entries(marks.ties)) {
    const snapped = name in (marks.x_ties_snap || {});
    found.push({ id: `tie/${name}`, kind: "tie", name, at, snapped });
  }
  return found;
}

const pointById = (marks, id) => allPoints(marks).find((point) => point.id === id);

/* The area round all points, with room about it, or null where there are few. */
function areaOf(marks) {
  const points = allPoints(marks).map((point) => point.at);
  if (points.length < 3) return null;
  const xs = points.map(([x]) => x), ys = points.map(([, y]) => y);
  const room = 0.35 * Math.max(Math.max(...xs) - Math.min(...xs),
    Math.max(...ys) - Math.min(...ys), 200);
  return [Math.min(...xs) - room, Math.min(...ys) - room,
    Math.max(...xs) + room, Math.max(...ys) + room];
}

/* A point that is moved by hand is no longer snapped. */
function writePoint(marks, point, at) {
  if (point.kind === "tie") marks.ties[point.name] = at;
  else if (point.label === undefined) marks[point.kind][point.index] = at;
  else placementOf(marks, point.label)[point.kind] = at;
  if (isSingle(point)) forgetSnap(marks, point);
}

function removePoint(marks, point) {
  if (point.kind === "tie") delete marks.ties[point.name];
  else if (point.label === undefined) {
    marks[point.kind].splice(point.index, 1);
    if (marks[point.kind].length < FEWEST_TAPS) setLineOrigin(marks, point.kind, null);
  } else {
    const p = placementOf(marks, point.label);
    delete p[point.kind];
    if (!SPOTS.some((spot) => p[spot])) {
      marks.placements = marks.placements.filter((other) => other !== p);
    }
  }
  if (isSingle(point)) forgetSnap(marks, point);
}

/* Adds a point of a kind and returns its id. */
function addPoint(marks, kind, at, { label, outline, tie, near }) {
  if (isLine(kind)) {
    const place = insertionPlace(marks[kind], at, near);
    marks[kind].splice(place, 0, at);
    return `${kind}/${place}`;
  }
  if (kind === "head_up") {
    if (marks.head_up.length === 2) marks.head_up = [];
    return `head_up/${marks.head_up.push(at) - 1}`;
  }
  if (kind === "tie") {
    seenAfterAll(marks, `tie/${tie}`);
    writePoint(marks, { kind, name: tie }, at);
    return `tie/${tie}`;
  }
  const p = openPlacement(marks, label);
  seenAfterAll(marks, `${kind}/${label}`);
  writePoint(marks, { kind, label }, at);
  if (ENDS.includes(kind)) setOutline(p, kind, outline);
  return `${kind}/${label}`;
}

function seenAfterAll(marks, id) {
  if (marks.x_unseen) marks.x_unseen = marks.x_unseen.filter((each) => each !== id);
}

function setOutline(placement, kind, on) {
  const rest = (placement.outline || []).filter((spot) => spot !== kind);
  placement.outline = on ? [...rest, kind] : rest;
}

/* Near a stretch of the line between its two ends; elsewhere on from the nearer end. */
function insertionPlace(line, at, near) {
  let best = null, least = near;
  for (let i = 1; i < line.length; i += 1) {
    const off = offSegment(at, line[i - 1], line[i]);
    if (off < least) [best, least] = [i, off];
  }
  if (best !== null) return best;
  if (line.length > 1 && apart(at, line[0]) < apart(at, line[line.length - 1])) return 0;
  return line.length;
}

/* Distance from a stretch, or infinity beside its ends. */
function offSegment([x, y], [ax, ay], [bx, by]) {
  const [dx, dy] = [bx - ax, by - ay];
  const square = dx * dx + dy * dy;
  if (!square) return Infinity;
  const along = ((x - ax) * dx + (y - ay) * dy) / square;
  if (along <= 0 || along >= 1) return Infinity;
  return Math.abs((x - ax) * dy - (y - ay) * dx) / Math.sqrt(square);
}
