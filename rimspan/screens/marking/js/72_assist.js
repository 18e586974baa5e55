/* Help with a contour: a few taps bring a proposal, which counts only once it is accepted.

   Three taps on one line, and the other is asked for by itself; then both are accepted at once. */

const FEWEST_TAPS = 3;
const AROUND = 3;
const NO_LANE = { key: "", wanted: null, answer: null, slow: false };

function buildAssist(stage, data) {
  Object.assign(stage, { turns: {}, stretch: null, spoken: null, streaming: 0,
    streamedAt: -Infinity, lanes: { outer_rim: NO_LANE, inner_rim: NO_LANE } });
  learnHelp(stage, data);
  const group = document.createElement("div");
  group.className = "chips";
  group.dataset.part = "assist";
  group.setAttribute("role", "group");
  group.setAttribute("aria-label", "Proposal");
  const act = (what) => () => { what(stage); stage.changed(true); };
  group.append(button("accept", "Accept the line", act(acceptLines)),
    button("own", "Keep my taps", act(keepTaps)),
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

function wantLine(stage, kind, lane) {
  const name = `line ${kind}`;
  clearTimeout(stage.lanes[kind].asking);
  stage.lanes[kind] = lane;
  stage.turns[name] = (stage.turns[name] || 0) + 1;
  if (lane.wanted) lane.asking = setTimeout(() => askForLine(stage, name, lane), ASK_MS);
}

async function askForLine(stage, name, lane) {
  const { kind, points, between } = lane.wanted;
  const slow = setTimeout(() => { lane.slow = true; stage.redraw(); }, SLOW_MS);
  const answer = await ask(stage, name,
    { kind: kind === "outer_rim" ? "outer" : "inner", points: points.map(rounded), between });
  clearTimeout(slow);
  if (!answer || stage.lanes[kind] !== lane) return;
  lane.answer = answer;
  if (!answer.line) goBackTo(stage, kind);
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

/* Three taps on one line: the other is next, if it has none yet. */
function goOnToOther(stage, kind) {
  const { model } = stage;
  if (!LINES.includes(kind) || lineOrigin(model.marks, kind)) return;
  const other = LINES.find((each) => each !== kind && !model.marks[each].length);
  if (other && model.marks[kind].length === FEWEST_TAPS) model.step = other;
}

/* No proposal came for the line before: it is marked on by hand, unless a tap went elsewhere. */
function goBackTo({ model }, kind) {
  const other = LINES.find((each) => each !== kind);
  if (model.step === other && !model.marks[other].length) model.step = kind;
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
  else if (isNew) {
    goOnToOther(stage, point.kind);
    askForDot(stage, point);
  }
}

function refreshAssist(stage) {
  const { model } = stage;
  const found = proposals(stage), point = chosenPoint(model);
  const stretch = Boolean(found.length && found[0].between);
  const own = LINES.includes(model.step) && lineOrigin(model.marks, model.step) === "own"
    && model.marks[model.step].length >= FEWEST_TAPS;
  const shown = { accept: found.length,
    own: stretch || found.some((each) => each.kind === model.step),
    propose: helps(stage) && own,
    stretch: helps(stage) && !stage.stretch && onTracedLine(model, point),
    unsnap: point && point.snapped };
  for (const made of stage.assist.children) made.hidden = !shown[made.dataset.name];
  stage.assist.hidden = ![...stage.assist.children].some((made) => !made.hidden);
  if (!found.length) return;
  for (const name of ["turn", "clear"]) { // one thing at a time
    stage.root.querySelector(`button[data-name="${name}"]`).hidden = true;
  }
  const [accept, own_] = stretch ? ["Accept the stretch", "Keep my point"]
    : [found.length > 1 ? "Accept both lines" : "Accept the line", "Keep my taps"];
  stage.assist.querySelector('[data-name="accept"]').textContent = accept;
  stage.assist.querySelector('[data-name="own"]').textContent = own_;
}
