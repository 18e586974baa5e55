/* Marking again: the first marks out of sight, the same points anew, and the mean of them all.

   In the document a pass that runs is `x_again`: {by, placements}, with `counted` once it has all
   its points and stands in `x_passes` too. In the model the first marks lie in `held` meanwhile
   and the pass takes their place, so that drawing, dragging, keys and undo work on it as ever. */

const EMPTY = { outer_rim: [], inner_rim: [], head_up: [], [WORN]: [], ties: {}, placements: [] };
const SINGLE_SPOTS = ["entry", "exit", "below", "crest", "floor"];

const inPass = (model) => Boolean(model.marks.held);
const passesOf = (marks) => marks.x_passes || [];
const samePlace = (a, b) => String(rounded(a)) === String(rounded(b));

/* From the document to the model: a pass that runs takes the place of the first marks. */
function openPass(full) {
  if (!full.x_again) return full;
  const { by, placements = [], counted } = full.x_again;
  const held = {};
  for (const name of Object.keys(EMPTY)) held[name] = full[name];
  const passes = passesOf(full);
  return { ...full, ...copy(EMPTY), placements, held, x_again: { by },
    x_passes: counted ? passes.slice(0, -1) : passes };
}

/* From the model to the document; a pass counts from its last point on. */
function shutPass(full) {
  if (!full.held) return full;
  const { held, ...rest } = full;
  const placements = rest.placements.filter((p) => SPOTS.some((spot) => p[spot]))
    .map(barePlacement);
  const { by } = rest.x_again;
  const counted = placements.length > 0 && !lackingSpots(full).length;
  return { ...rest, ...held,
    x_passes: counted ? [...passesOf(rest), { by, placements }] : passesOf(rest),
    x_again: counted ? { by, placements, counted } : { by, placements } };
}

/* The points that a hand has put, placement by placement; what was snapped needs no repeats. */
function handSpots(placements) {
  return placements.flatMap((p) => SINGLE_SPOTS
    .filter((kind) => p[kind] && !(p.snapped || []).includes(kind))
    .map((kind) => ({ label: p.label, kind, at: p[kind],
      outline: (p.outline || []).includes(kind) })));
}

function spotIn(pass, { label, kind }) {
  const found = pass.placements.find((p) => p.label === label);
  return found && found[kind] && !(found.snapped || []).includes(kind) ? found[kind] : null;
}

const spotsBy = (passes, by, spot) =>
  passes.filter((pass) => pass.by === by).map((pass) => spotIn(pass, spot)).filter(Boolean);

/* A first mark with its repeats; once it is moved it counts as marked once, where it is now. */
function repeatsOf(marks, spot) {
  const passes = passesOf(marks);
  const first = passes.length ? spotIn(passes[0], spot) : null;
  return first && samePlace(first, spot.at) ? spotsBy(passes, passes[0].by, spot) : [spot.at];
}

const firstMarks = (marks) => (marks.held || marks).placements;

/* How often somebody has marked a point; the first marks are the owner's. */
function timesMarked(marks, spot, { by, firstBy }) {
  const passes = passesOf(marks);
  const owner = passes.length ? passes[0].by : firstBy || by;
  return by === owner ? repeatsOf(marks, spot).length : spotsBy(passes, by, spot).length;
}

/* What a pass asks for: the points that were marked least often, and how often that is. */
function askedFor(marks, who) {
  const spots = handSpots(firstMarks(marks));
  const times = spots.map((spot) => timesMarked(marks, spot, who));
  const least = Math.min(...times);
  return { least, spots: spots.filter((spot, i) => times[i] === least) };
}

function lackingSpots(marks) {
  const { spots } = askedFor(marks, { by: marks.x_again.by });
  return spots.filter((spot) => !(placementOf(marks, spot.label) || {})[spot.kind]);
}

/* The next point of a pass; it may lie in another placement, and on the visible edge. */
function nextAgain(model) {
  const [next] = lackingSpots(model.marks);
  if (!next) return null;
  Object.assign(model, { label: next.label, onEdge: next.outline });
  return next.kind;
}

/* Sets what a pass asks for next, or, outside of one, that nothing is asked on the edge. */
function aimAgain(model) {
  model.onEdge = false;
  if (inPass(model)) model.step = nextAgain(model);
}

/* What the view may be laid by: in a pass nothing that tells where the first marks are. */
const withoutHints = (marks) => (marks.held ? { ...marks.held, placements: [] } : marks);

/* Passes for first marks as they are now: what was moved or is new begins anew. */
function passesAnew(marks, owner) {
  const passes = passesOf(marks).length ? copy(marks.x_passes) : [{ by: owner, placements: [] }];
  const first = marks.placements.filter((p) => SPOTS.some((spot) => p[spot])).map(barePlacement);
  const own = passes.filter((pass) => pass.by === passes[0].by);
  for (const spot of handSpots(first)) {
    const before = spotIn(passes[0], spot);
    if (before && samePlace(before, spot.at)) continue;
    for (const pass of own) {
      const found = pass.placements.find((p) => p.label === spot.label);
      if (found) delete found[spot.kind];
    }
  }
  passes[0].placements = first;
  return passes;
}

const firstBy = ({ by, firstBy: first }) => ({ by, firstBy: first || by });

function canMarkAgain(model, who, most) {
  const { least, spots } = askedFor(model.marks, firstBy(who));
  return spots.length > 0 && least < most;
}

function startPass(model, who) {
  remember(model);
  beginPass(model, who);
}

function beginPass(model, who) {
  const marks = { ...model.marks, x_passes: passesAnew(model.marks, firstBy(who).firstBy),
    x_again: { by: who.by, placements: [] } };
  Object.assign(model, { marks: openPass(marks), chosen: null, onEdge: false });
  model.step = nextStep(model);
}

/* Left early, a pass keeps the points it has: a mark that was made counts. */
function leavePass(model) {
  const { x_again: running, ...marks } = shutPass(model.marks);
  if (running.placements.length && !running.counted) {
    marks.x_passes = [...marks.x_passes, { by: running.by, placements: running.placements }];
  }
  if (marks.x_passes.length < 2) delete marks.x_passes;
  Object.assign(model, { marks, chosen: null, onEdge: false });
}

function endPass(model) {
  remember(model);
  leavePass(model);
  model.step = nextStep(model);
}

function nextPass(model) {
  const { by } = model.marks.x_again;
  remember(model);
  leavePass(model);
  beginPass(model, { by });
}

/* A placement as it is drawn: each repeated point at the mean of its marks. */
function meanPlacement(marks, placement) {
  if (marks.held || !passesOf(marks).length) return placement;
  const shown = { ...placement };
  for (const spot of handSpots([placement])) {
    const all = repeatsOf(marks, spot);
    const mean = (axis) => all.reduce((sum, at) => sum + at[axis], 0) / all.length;
    if (all.length > 1) shown[spot.kind] = [mean(0), mean(1)];
  }
  return shown;
}

/* How many marks a drawn point is the mean of. */
function marksBehind(marks, placement, kind) {
  if (marks.held || !passesOf(marks).length) return 1;
  const [spot] = handSpots([placement]).filter((each) => each.kind === kind);
  return spot ? repeatsOf(marks, spot).length : 1;
}

/* The first marks, pale under the means. */
function drawFirstMarks(stage) {
  const { marks } = stage.model;
  if (marks.held || !passesOf(marks).length) return [];
  return handSpots(marks.placements).filter((spot) => repeatsOf(marks, spot).length > 1)
    .map((spot) => {
      const place = `translate(${toScreen(stage.view, spot.at)})`;
      const turn = `rotate(${wayOf(marks, spot.label)}) scale(${signScale(stage.view)})`;
      const made = svg("g", { transform: `${place} ${turn}`, class: "first" });
      made.append(...sign(spot.kind, { hollow: true }));
      return made;
    });
}
