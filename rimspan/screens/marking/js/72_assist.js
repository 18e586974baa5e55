/* Help with a contour: a few taps bring a proposal, which counts only once it is accepted. */

const FEWEST_TAPS = 3;
const AROUND = 3;

function buildAssist(stage, data) {
  Object.assign(stage, { turns: {}, stretch: null, spoken: null, streaming: 0,
    streamedAt: -Infinity, line: { key: "", answer: null, slow: false } });
  learnHelp(stage, data);
  const group = document.createElement("div");
  group.className = "chips";
  group.dataset.part = "assist";
  group.setAttribute("role", "group");
  group.setAttribute("aria-label", "Proposal");
  const act = (what) => () => { what(stage); stage.changed(true); };
  group.append(button("accept", "Accept the line", act(acceptLine)),
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
}

/* What a proposal is wanted for: {kind, points, between, index}, or null. */
function wantedLine(stage) {
  const { model, stretch, act } = stage;
  if (!helps(stage) || (act && act.kind === "drag")) return null;
  if (stretch) {
    const points = model.marks[stretch.kind];
    if (JSON.stringify(points) === stretch.of) return wantedStretch(stretch, points);
    stage.stretch = null;
  }
  const kind = model.step;
  if (!LINES.includes(kind) || lineOrigin(model.marks, kind)) return null;
  const points = model.marks[kind];
  return points.length < FEWEST_TAPS ? null : { kind, points, between: null };
}

/* The stretch between a point's neighbours; some points beyond say how the line goes on. */
function wantedStretch({ kind, index }, points) {
  const first = Math.max(index - 1, 0), last = Math.min(index + 1, points.length - 1);
  const from = Math.max(index - AROUND, 0), to = Math.min(index + AROUND, points.length - 1);
  return { kind, index, first, last, points: points.slice(from, to + 1),
    between: [first - from, last - from] };
}

/* Looks at every frame whether another proposal is wanted than is there, and asks for it. */
function considerLine(stage) {
  const wanted = wantedLine(stage);
  const key = wanted ? JSON.stringify([stage.model.photo, wanted]) : "";
  if (key === stage.line.key) return;
  clearTimeout(stage.asking);
  stage.line = { key, wanted, answer: null, slow: false };
  stage.turns.line = (stage.turns.line || 0) + 1;
  if (wanted) stage.asking = setTimeout(() => askForLine(stage, stage.line), ASK_MS);
}

async function askForLine(stage, line) {
  const { kind, points, between } = line.wanted;
  const slow = setTimeout(() => { line.slow = true; stage.redraw(); }, SLOW_MS);
  const answer = await ask(stage, "line",
    { kind: kind === "outer_rim" ? "outer" : "inner", points: points.map(rounded), between });
  clearTimeout(slow);
  if (!answer || stage.line !== line) return;
  line.answer = answer;
  stage.redraw();
}

/* The proposal on the screen, {kind, line, u_px, gaps, keep, ...}, or null. */
function proposed(stage) {
  const { wanted, answer } = stage.line;
  return answer && answer.line ? { ...wanted, ...answer } : null;
}

/* Whether a whole line is proposed: then it is drawn instead of the taps' own. */
function isProposed(stage, kind) {
  const found = proposed(stage);
  return Boolean(found && found.kind === kind && !found.between);
}

function acceptLine(stage) {
  const { model } = stage;
  const found = proposed(stage);
  if (!found) return;
  remember(model);
  const before = model.marks[found.kind];
  model.marks[found.kind] = found.between ? withStretch(before, found) : found.keep;
  setLineOrigin(model.marks, found.kind, "traced");
  Object.assign(stage, { stretch: null, spoken: null });
  model.chosen = null;
  if (!found.between && found.kind === model.step) model.step = nextStep(model);
  stage.box.focus({ preventScroll: true });
}

/* The point's neighbours stay; what lay between them is replaced. */
function withStretch(points, { index, first, last, keep }) {
  const inner = keep.slice(first < index ? 1 : 0, last > index ? -1 : undefined);
  return [...points.slice(0, first < index ? first + 1 : first), ...inner,
    ...points.slice(last > index ? last : last + 1)];
}

function keepTaps(stage) {
  const { model, stretch, line } = stage;
  if (stretch) {
    stage.stretch = null;
    return;
  }
  if (!line.wanted) return;
  remember(model);
  setLineOrigin(model.marks, line.wanted.kind, "own");
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
  const found = proposed(stage), point = chosenPoint(model);
  const own = LINES.includes(model.step) && lineOrigin(model.marks, model.step) === "own"
    && model.marks[model.step].length >= FEWEST_TAPS;
  const shown = { accept: found, own: found, propose: helps(stage) && own,
    stretch: helps(stage) && !stage.stretch && onTracedLine(model, point),
    unsnap: point && point.snapped };
  for (const made of stage.assist.children) made.hidden = !shown[made.dataset.name];
  stage.assist.hidden = ![...stage.assist.children].some((made) => !made.hidden);
  if (!found) return;
  for (const name of ["turn", "clear"]) { // one thing at a time
    stage.root.querySelector(`button[data-name="${name}"]`).hidden = true;
  }
  const [accept, own_] = found.between ? ["Accept the stretch", "Keep my point"]
    : ["Accept the line", "Keep my taps"];
  stage.assist.querySelector('[data-name="accept"]').textContent = accept;
  stage.assist.querySelector('[data-name="own"]').textContent = own_;
}

/* What to say about the proposal, in the place of the next step; null where there is none. */
function proposalWords(stage) {
  const { wanted, answer, slow } = stage.line;
  if (!wanted) return null;
  const name = NAMES[wanted.kind].toLowerCase();
  if (!answer) return slow ? ["Looking for the edge …", "Your own points stand meanwhile."] : null;
  if (answer.none) return [`No proposal for the ${name}.`, answer.none];
  if (!answer.line) {
    return ["No help with the line just now.", `Your own points stand. ${answer.fault}`];
  }
  const sorted = [...answer.u_px].sort((a, b) => a - b);
  const u = sorted[sorted.length >> 1] * answer.mm_per_px;
  const what = wanted.between ? "stretch" : name;
  const gaps = answer.gaps.length ? " Dotted: no edge seen, only your own taps count." : "";
  return [`A proposed ${what}: accept it, or go on by hand.`,
    `Standard uncertainty about ${u.toFixed(2)} mm.${gaps}`];
}
