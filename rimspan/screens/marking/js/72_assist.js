/* Help with a contour: a few taps bring a proposal, which counts only once it is accepted.

   Three taps on one line, a rest, and the other is asked for by itself; then both are accepted at
   once. */

const FEWEST_TAPS = 3;
const REST_MS = 1500;
const AROUND = 3;
const NO_LANE = { key: "", wanted: null, answer: null, slow: false, answeredAt: 0 };

function buildAssist(stage, data) {
  Object.assign(stage, { turns: {}, stretch: null, spoken: null, streaming: 0,
    streamedAt: -Infinity, touchedAt: -Infinity,
    along: { busy: false, answers: new Map(), left: new Set() }, lanes: { outer_rim: NO_LANE, inner_rim: NO_LANE } });
  learnHelp(stage, data);
  const group = document.createElement("div");
  group.className = "chips";
  group.dataset.part = "assist";
  group.setAttribute("role", "group");
  group.setAttribute("aria-label", "Proposal");
  const act = (what) => () => { what(stage); stage.changed(true); };
  group.append(button("accept", "Accept the line", act(acceptLines)),
    button("own", "Keep my taps", act(keepTaps)),
    button("accept_dots", "Accept the dot", act(acceptDots)),
    button("leave_dot", "Leave it", act(leaveDot)),
    button("stretch", "Redo this stretch", act(redoStretch)),
    button("propose", "Propose the line", act(proposeAgain)),
    button("unsnap", "Unsnap", act(unsnapChosen)));
  stage.root.querySelector(".tools").prepend(group);
  stage.assist = group;
  stage.layers.proposal = svg("g");
  stage.layers.ghost.before(stage.layers.proposal);
}

/* Called in every run that draws the marking: what was sent before has been looked at. */
function learnHelp(stage, data) {
  stage.help = data.help;
  stage.running = false;
  if (stage.streaming) sendInTurn(stage);
}

/* What proposals are wanted for: {kind, points, between, index} each. */
function wantedLines(stage) {
  const { model, stretch, act } = stage;
  if (!helps(stage) || (act && act.kind === "drag")) return [];
  if (stretch) {
    const points = model.marks[stretch.kind];
    if (JSON.stringify(points) === stretch.of) return [wantedStretch(stretch, points)];
    stage.stretch = null;
  }
  if (!LINES.includes(model.step)) return [];
  return LINES.filter((kind) => isAsking(model, kind))
    .map((kind) => ({ kind, points: model.marks[kind], between: null }));
}

/* The line that is marked, and the other while it has just the taps that ask for a proposal. */
function isAsking({ marks, step }, kind) {
  const count = marks[kind].length;
  return !lineOrigin(marks, kind)
    && (count === FEWEST_TAPS || (count > FEWEST_TAPS && kind === step));
}

/* The stretch between a point's neighbours; some points beyond say how the line goes on. */
function wantedStretch({ kind, index }, points) {
  const first = Math.max(index - 1, 0), last = Math.min(index + 1, points.length - 1);
  const from = Math.max(index - AROUND, 0), to = Math.min(index + AROUND, points.length - 1);
  return { kind, index, first, last, points: points.slice(from, to + 1),
    between: [first - from, last - from] };
}

/* Looks at every frame whether other proposals are wanted than are there, and asks for them. */
function considerLines(stage) {
  const all = wantedLines(stage);
  for (const kind of LINES) {
    const wanted = all.find((each) => each.kind === kind) || null;
    const key = wanted ? JSON.stringify([stage.model.photo, wanted]) : "";
    if (key !== stage.lanes[kind].key) wantLine(stage, kind, { ...NO_LANE, key, wanted });
  }
}

/* The first question goes at once; those that follow it wait for the hand to pause. */
function wantLine(stage, kind, lane) {
  const name = `line ${kind}`, pause = stage.lanes[kind].wanted ? ASK_MS : 0;
  clearTimeout(stage.lanes[kind].asking);
  stage.lanes[kind] = lane;
  stage.turns[name] = (stage.turns[name] || 0) + 1;
  if (lane.wanted) lane.asking = setTimeout(() => askForLine(stage, name, lane), pause);
}

async function askForLine(stage, name, lane) {
  const { kind, points, between } = lane.wanted;
  const slow = setTimeout(() => { lane.slow = true; stage.redraw(); }, SLOW_MS);
  const answer = await ask(stage, name,
    { kind: kind === "outer_rim" ? "outer" : "inner", points: points.map(rounded), between });
  clearTimeout(slow);
  if (!answer || stage.lanes[kind] !== lane) return;
  Object.assign(lane, { answer, answeredAt: performance.now() });
  goOnToOther(stage, lane);
  stage.redraw();
}

/* The proposals on the screen, {kind, line, u_px, gaps, keep, ...} each. */
const proposals = ({ lanes }) => LINES.map((kind) => lanes[kind])
  .filter(({ answer }) => answer && answer.line)
  .map(({ wanted, answer }) => ({ ...wanted, ...answer }));

/* Whether a whole line is proposed: then it is drawn instead of the taps' own. */
const isProposed = (stage, kind) =>
  proposals(stage).some((found) => found.kind === kind && !found.between);

/* A line that was asked for and not found: its own taps are all there is. */
const isNotFound = ({ lanes }, kind) => Boolean(lanes[kind].answer && !lanes[kind].answer.line);

/* The line that is marked next, once three taps brought a proposal for this one; or undefined.
   A line that the piercer chose is not left by itself. */
function nextLine(stage, kind) {
  const { marks, step, picked } = stage.model;
  if (step !== kind || picked === kind || marks[kind].length !== FEWEST_TAPS) return undefined;
  if (!isProposed(stage, kind)) return undefined;
  return LINES.find((each) => each !== kind && !marks[each].length);
}

/* Goes on once the hand has rested, never under a finger that taps on: what is marked must not
   change between the look at it and the tap. */
function goOnToOther(stage, lane) {
  clearTimeout(stage.goingOn);
  const { kind } = lane.wanted;
  const other = stage.lanes[kind] === lane && stage.root.isConnected && nextLine(stage, kind);
  if (!other) return;
  const rested = performance.now() - Math.max(lane.answeredAt, stage.touchedAt);
  if (rested < REST_MS || stage.fingers.size) {
    const left = stage.fingers.size ? REST_MS : REST_MS - rested;
    stage.goingOn = setTimeout(() => goOnToOther(stage, lane), left);
    return;
  }
  stage.model.step = other;
  stage.redraw();
}

function acceptLines(stage) {
  const { model } = stage;
  const found = proposals(stage);
  if (!found.length) return;
  remember(model);
  for (const each of found) {
    const before = model.marks[each.kind];
    model.marks[each.kind] = each.between ? withStretch(before, each) : each.keep;
    setLineOrigin(model.marks, each.kind, "traced");
  }
  Object.assign(stage, { stretch: null, spoken: null });
  model.chosen = null;
  if (!found[0].between) {
    model.step = LINES.find((kind) => isNotFound(stage, kind)) || nextStep(model);
  }
  stage.box.focus({ preventScroll: true });
}

/* The point's neighbours stay; what lay between them is replaced. */
function withStretch(points, { index, first, last, keep }) {
  const inner = keep.slice(first < index ? 1 : 0, last > index ? -1 : undefined);
  return [...points.slice(0, first < index ? first + 1 : first), ...inner,
    ...points.slice(last > index ? last : last + 1)];
}

function keepTaps(stage) {
  const { model, stretch } = stage;
  if (stretch) {
    stage.stretch = null;
    return;
  }
  if (!LINES.includes(model.step)) return;
  remember(model);
  setLineOrigin(model.marks, model.step, "own");
}

function proposeAgain(stage) {
  const { model } = stage;
  remember(model);
  setLineOrigin(model.marks, model.step, null);
}

function redoStretch(stage) {
  const point = chosenPoint(stage.model);
  if (point) stage.stretch = stretchAt(stage, point);
}

function stretchAt({ model }, { kind, index }) {
  return { kind, index, of: JSON.stringify(model.marks[kind]) };
}

const onTracedLine = ({ marks }, point) => Boolean(point) && LINES.includes(point.kind)
  && lineOrigin(marks, point.kind) === "traced" && marks[point.kind].length >= FEWEST_TAPS;

/* A point was set or dragged: on an accepted line its stretch is looked at anew. */
function placed(stage, id, isNew) {
  const point = pointById(stage.model.marks, id);
  if (!point || !helps(stage)) return;
  if (onTracedLine(stage.model, point)) stage.stretch = stretchAt(stage, point);
  else if (isNew) askForDot(stage, point);
}

function refreshAssist(stage) {
  const { model } = stage;
  const found = proposals(stage), point = chosenPoint(model);
  const stretch = Boolean(found.length && found[0].between);
  const own = LINES.includes(model.step) && lineOrigin(model.marks, model.step) === "own"
    && model.marks[model.step].length >= FEWEST_TAPS;
  const dots = found.length ? [] : proposedDots(stage), active = activeOther(model);
  const shown = { accept: found.length, accept_dots: dots.length,
    leave_dot: active && dots.some(({ id }) => id === otherId(active)),
    own: stretch || found.some((each) => each.kind === model.step),
    propose: helps(stage) && own,
    stretch: helps(stage) && !stage.stretch && onTracedLine(model, point),
    unsnap: point && point.snapped };
  for (const made of stage.assist.children) made.hidden = !shown[made.dataset.name];
  stage.assist.hidden = ![...stage.assist.children].some((made) => !made.hidden);
  stage.assist.querySelector('[data-name="accept_dots"]').textContent = dots.length > 1
    ? `Accept ${dots.length} dots` : "Accept the dot";
  stage.assist.querySelector('[data-name="leave_dot"]').textContent = active && dots.length > 1
    ? `Leave the ${active.kind === "tie" ? "spare dot" : NAMES[active.kind].toLowerCase()}`
    : "Leave it";
  if (!found.length) return;
  for (const name of ["turn", "clear"]) { // one thing at a time
    stage.root.querySelector(`button[data-name="${name}"]`).hidden = true;
  }
  const [accept, own_] = stretch ? ["Accept the stretch", "Keep my point"]
    : [found.length > 1 ? "Accept both lines" : "Accept the line", "Keep my taps"];
  stage.assist.querySelector('[data-name="accept"]').textContent = accept;
  stage.assist.querySelector('[data-name="own"]').textContent = own_;
}
