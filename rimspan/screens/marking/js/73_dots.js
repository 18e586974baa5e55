/* Help with a dot: a tap near a pen dot moves onto it, and can be taken back in one step. */

const SAME_DOT_MM = 0.4;

/* What is looked for near a tap: a post's round end, a pen dot, or nothing. */
function lookedAt({ recheck }, { kind }) {
  if (POST_ENDS.includes(kind)) return "end";
  return DOTS.includes(kind) && !recheck ? "dot" : null;
}

async function askForDot(stage, { id }) {
  const before = pointById(stage.model.marks, id);
  const kind = before && lookedAt(stage.model, before);
  if (!kind || before.outline) return;
  const tap = before.at;
  const answer = await ask(stage, `dot ${id}`, { kind, points: [rounded(tap)] });
  const { model } = stage;
  const point = pointById(model.marks, id);
  if (!answer || !point || point.outline || point.snapped || apart(point.at, tap) > 1e-9) return;
  const taken = answer.point && takenBy(model.marks, point, answer);
  if (answer.point && !taken) {
    remember(model);
    setSnapped(model.marks, point, answer.point, answer.u_px);
    stage.changed(true);
  }
  stage.spoken = { id, words: dotWords(answer, taken, tap, kind) };
  stage.redraw();
}

/* Another point that was snapped to that very dot. */
function takenBy(marks, point, answer) {
  return allPoints(marks).find((other) => other.snapped && other.id !== point.id
    && apart(other.at, answer.point) * answer.mm_per_px < SAME_DOT_MM);
}

function dotWords(answer, taken, tap, kind) {
  const [sought, found] = kind === "end" ? ["round end", "end's middle"] : ["pen dot", "pen dot"];
  const mm = (px) => (px * answer.mm_per_px).toFixed(2);
  if (taken) return `The ${sought} here is the ${pointWords(taken)}: your own mark stands.`;
  if (answer.point) {
    return `Snapped to the ${found}, ${mm(apart(answer.point, tap))} mm from your tap; `
      + `u ${mm(Math.max(answer.u_px, 0.01 / answer.mm_per_px))} mm.`;
  }
  if (answer.none) return `No ${sought} here: your own mark stands.`;
  return `No help with it just now: your own mark stands. ${answer.fault}`;
}

function unsnapChosen(stage) {
  const { model } = stage;
  const point = chosenPoint(model);
  if (!point || !point.snapped) return;
  remember(model);
  unsnap(model.marks, point);
  stage.spoken = { id: point.id, words: "Your own mark stands, where you tapped." };
}

/* What became of the last tap, in the place of the next step's reason. */
function afterTap({ spoken, model }, [what, why]) {
  return [what, spoken && spoken.id === model.chosen ? spoken.words : why];
}
