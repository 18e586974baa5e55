/* What is said of proposed lines, in the place of the next step; null where there is nothing. */

const THREE_TAPS = {
  outer_rim: "Tap the outer edge of the rim three times: in front, on top, at the back.",
  inner_rim: "Tap the edge of the fold three times: in front, on top, at the back.",
};

function proposalWords(stage) {
  const { lanes, model } = stage;
  const found = proposals(stage);
  if (found.length > 1) return bothWords(found);
  const lane = stage.stretch ? lanes[stage.stretch.kind] : lanes[model.step];
  return lane && lane.wanted ? laneWords(stage, lane) : threeTapWords(stage);
}

/* Before a line is asked for; what became of the other stands beside it. */
function threeTapWords(stage) {
  const { model } = stage;
  const { step, marks } = model;
  if (!helps(stage) || !LINES.includes(step) || lineOrigin(marks, step)) return null;
  const left = FEWEST_TAPS - marks[step].length;
  if (left <= 0) return null;
  const other = LINES.find((kind) => kind !== step);
  const name = NAMES[other].toLowerCase();
  const why = isNotFound(stage, other) ? `No line was found for the ${name}: go on there by hand.`
    : isAsking(model, other) ? "Then both lines can be accepted at once."
      : "A line along the edge is proposed then.";
  const more = left === 1 ? "one more tap" : `${left} more taps`;
  return [left === FEWEST_TAPS ? THREE_TAPS[step] : `${NAMES[step]}: ${more}.`, why];
}

function bothWords(found) {
  const us = found.map((each) => medianDoubt(each)).join(" and ");
  const gaps = found.some((each) => each.gaps.length) ? NO_EDGE_SEEN : "";
  return ["Two proposed lines: accept both, or choose one and mend it.",
    `Standard uncertainty about ${us} mm.${gaps}`];
}

const NO_EDGE_SEEN = " Dotted: no edge seen, only your own taps count.";

function medianDoubt({ u_px: us, mm_per_px: mm }) {
  const sorted = [...us].sort((a, b) => a - b);
  return (sorted[sorted.length >> 1] * mm).toFixed(2);
}

function laneWords(stage, { wanted, answer, slow }) {
  const name = NAMES[wanted.kind].toLowerCase();
  if (!answer) return slow ? ["Looking for the edge …", "Your own points stand meanwhile."] : null;
  if (answer.none) return [`No proposal for the ${name}.`, answer.none];
  if (!answer.line) {
    return ["No help with the line just now.", `Your own points stand. ${answer.fault}`];
  }
  const gaps = answer.gaps.length ? NO_EDGE_SEEN : "";
  const next = !wanted.between && nextLine(stage, wanted.kind);
  if (next) {
    return [`A proposed ${name}; the ${NAMES[next].toLowerCase()} is next.`,
      `Tap on along the ${name} to mend it, or rest a moment.${gaps}`];
  }
  return [`A proposed ${wanted.between ? "stretch" : name}: accept it, or go on by hand.`,
    `Standard uncertainty about ${medianDoubt(answer)} mm.${gaps}`];
}
