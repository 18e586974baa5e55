/* Dots that other photos show: each lies on a line in this one; what is found along it is proposed.

   A name is the same dot in every photo.  A proposal is drawn thin and counts once it is accepted,
   or tapped. */

const TIE_NEAR_MM = 2;
const CLEARLY_MM = 1.5;
const HALF_LETTER_PX = 3.8;

const otherId = ({ kind, name, label }) => (kind === "tie" ? `tie/${name}` : `${kind}/${label}`);
const unseenIn = (marks) => marks.x_unseen || [];

/* Those that this photo is asked for, that aren't marked, nor said not to be seen here. */
const openOthers = ({ marks, others, offers }) => others.dots
  .filter((each) => offers.includes(each.kind) && !pointById(marks, otherId(each))
    && !unseenIn(marks).includes(otherId(each)));

/* The one that the active step is for. */
function activeOther(model) {
  return openOthers(model).find(({ kind, label }) => kind === model.step
    && (kind === "tie" || label === model.label));
}

/* A tap near the line of a spare dot of other photos is that dot; elsewhere it is a new one. */
function tieName(model, at) {
  const { marks, others } = model;
  const near = openOthers(model).filter(({ kind }) => kind === "tie")
    .map((each) => [offLine(at, each.line) * others.mm_per_px, each.name])
    .filter(([off]) => off < TIE_NEAR_MM).sort(([a], [b]) => a - b);
  return near.length ? near[0][1] : freeTie(marks, others.ties);
}

const offLine = (at, line) =>
  Math.min(...line.slice(1).map((end, i) => offSegment(at, line[i], end)));

/* Asks along one line at a time, the active step's first. */
function considerOthers(stage) {
  const { model, along } = stage;
  if (!helps(stage) || stage.act || along.busy) return;
  const waiting = openOthers(model).filter((each) => !along.answers.has(otherId(each)));
  const active = activeOther(model);
  const next = waiting.includes(active) ? active : waiting[0];
  if (next) askAlong(stage, next);
}

async function askAlong(stage, other) {
  const { along } = stage, id = otherId(other);
  along.busy = true;
  const answer = await ask(stage, `along ${id}`,
    { kind: "along", points: other.line, first: other.first });
  along.busy = false;
  along.answers.set(id, answer || {});
  stage.redraw();
}

/* {other, id, answer} of each dot that was found, once all lines have been looked along. */
function proposedDots(stage) {
  const { model, along } = stage;
  if (!helps(stage) || lookedFor(stage)) return [];
  const found = openOthers(model)
    .map((other) => ({ other, id: otherId(other), answer: along.answers.get(otherId(other)) }))
    .filter(({ id, answer }) => answer && answer.point && !along.left.has(id)
      && !takenBy(model.marks, { id }, answer));
  return found.filter((one) => found.every((other) => isClearer(one, other)));
}

/* How many lines are still to be looked along. */
const lookedFor = ({ model, along }) =>
  openOthers(model).filter((each) => !along.answers.has(otherId(each))).length;

/* Of two names of one dot that counts which clearly lies nearer to where it is expected. */
function isClearer(one, other) {
  const { mm_per_px: mm, point } = one.answer;
  if (one === other || apart(point, other.answer.point) * mm > SAME_DOT_MM) return true;
  const away = ({ line, first }) => apart(line[first], point) * mm;
  return away(one.other) < away(other.other) - CLEARLY_MM;
}

function acceptDots(stage) {
  const { model } = stage;
  const found = proposedDots(stage);
  if (!found.length) return;
  remember(model);
  for (const { other, answer } of found) {
    if (other.kind !== "tie") openPlacement(model.marks, other.label);
    setSnapped(model.marks, { ...other, at: answer.point }, answer.point, answer.u_px);
  }
  model.chosen = null;
  model.step = nextStep(model);
  stage.box.focus({ preventScroll: true });
}

/* The proposal for the active step is another dot, or none. */
function leaveDot(stage) {
  const active = activeOther(stage.model);
  if (active) stage.along.left.add(otherId(active));
}

/* The active step's dot can't be seen in this photo. */
function notSeen({ model }) {
  const { step, label } = model;
  const other = activeOther(model);
  const id = other ? otherId(other) : `${step}/${label}`;
  remember(model);
  model.marks.x_unseen = [...unseenIn(model.marks), id];
  model.step = nextStep(model);
}

const canBeUnseen = ({ model }) => model.several && !inPass(model) && (SPOTS.includes(model.step)
  ? !pointById(model.marks, `${model.step}/${model.label}`)
    && !unseenIn(model.marks).includes(`${model.step}/${model.label}`)
  : model.step === "tie" && Boolean(activeOther(model)));

/* The line of the active step's dot, and the proposals, thin. */
function drawOthers(stage) {
  const { model, view } = stage;
  if (!helps(stage)) return [];
  const active = activeOther(model);
  const line = active ? thin(pathOf(active.line.map((at) => toScreen(view, at))), "") : [];
  return [...line, ...proposedDots(stage).flatMap((each, i) => drawnDot(stage, each, i))];
}

/* Dots of a placement lie close above one another: their names stand to either side in turn. */
function drawnDot({ view, model }, { other, answer }, index) {
  const at = toScreen(view, answer.point), size = signScale(view);
  const place = svg("g", { transform: `translate(${at}) scale(${size})` });
  const path = (d) => [svg("path", { d, fill: "none", stroke: CASING, "stroke-width": 3 }),
    svg("path", { d, fill: "none", stroke: INK, "stroke-width": 1.2 })];
  place.append(...path(SIGNS[other.kind]), ...path(RING));
  const several = model.labels.length > 1 && other.label ? ` ${other.label}` : "";
  const name = other.kind === "tie" ? other.name : `${NAMES[other.kind].toLowerCase()}${several}`;
  const beside = 16 * size + 4 + name.length * HALF_LETTER_PX;
  return [place, ...words(name, at, [index % 2 ? -beside : beside, 5])];
}

/* What is said of them, in the place of the next step. */
function otherWords(stage) {
  const { model, along } = stage;
  if (!helps(stage)) return null;
  const found = proposedDots(stage), active = activeOther(model);
  if (found.length) {
    const dots = found.length === 1 ? `The ${pointWords(found[0].other)} is proposed`
      : `${found.length} dots are proposed`;
    return [`${dots}: accept, or tap your own.`, "Found along the lines of sight of other photos."];
  }
  const left = lookedFor(stage);
  if (left) {
    return [hintOf(model)[0], `Looking for ${left === 1 ? "1 dot" : `${left} dots`} of the other photos.`];
  }
  if (!active) return null;
  const answer = along.answers.get(otherId(active));
  const [what] = hintOf(model);
  const seen = answer && answer.none ? "No dot was found along it. " : "";
  return [active.kind === "tie" ? `Tap the ${pointWords(active)}.` : what,
    `It lies on the thin line, as ${active.files[0]} sees it. ${seen}`];
}
