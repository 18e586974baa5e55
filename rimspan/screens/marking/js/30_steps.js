/* What is marked in which order, and the words for it. */

const MAIN = ["outer_rim", "inner_rim", "entry", "exit", "below"];
const MORE = ["crest", "floor", "tie", "head_up"];

const NAMES = {
  outer_rim: "Outer rim", inner_rim: "Inner rim", entry: "Entry", exit: "Exit",
  below: "Next below", crest: "Crest", floor: "Floor", tie: "Spare dot", head_up: "Head up",
  [WORN]: "Touch line", entry_end: "Upper end", exit_end: "Lower end",
  axis_to: "Axis, upper", axis_from: "Axis, lower",
};

/* What to do, what for; a third where it differs once a first point is there. */
const WORDS = {
  outer_rim: ["Tap along the outer edge of the rim, from front to back.",
    "With the inner edge it shows how wide the band is.",
    "Go on along the outer edge, to the back; then choose Inner rim."],
  inner_rim: ["Tap along the edge of the fold, from front to back.",
    "With the outer edge it shows how wide the band is.",
    "Go on along the fold, to the back; then choose Entry."],
  entry: ["Tap where the post goes in, on top of the rim.", "It is the upper end of the channel."],
  exit: ["Tap where the post comes out, under the fold.", "It is the lower end of the channel."],
  below: ["Tap the next structure in the post's way, past the exit.",
    "It shows how much room the lower end has."],
  crest: ["Tap the dot on the crest, where the rim stands out most.",
    "With the floor it shows the relief."],
  floor: ["Tap the dot in the hollow beside the rim.", "With the crest it shows the relief."],
  tie: ["Tap a spare dot on the ear, away from the placement.",
    "The same dots in other photos tie the views together."],
  [WORN]: ["Tap along the line where the worn thing touches the ear or the skin beside it.",
    "With the dots it shows how near it comes to either end.",
    "Go on along it; then mark entry and exit of each post."],
  head_up: ["Tap two places on a line that points up along the head, the lower one first.",
    "The post's angle counts from it.", "Tap the upper place of the line."],
};

const DONE = ["Everything is marked here.", "Drag any point to mend it, or choose what to add."];

const VIEW_DONE = ["Everything is marked that this photo is asked for.",
  "Go on to the next photo, or mend any point. Spare dots tie the photos together."];

/* What each mark is for where a post is in. */
const RECHECK_WORDS = {
  outer_rim: ["Tap along the outer edge of the rim, from front to back, as far as it is seen.",
    "It tells where the ear is; beside the post it doesn't count.",
    "Go on to the back and toward the lobe; then choose Inner rim."],
  inner_rim: ["Tap along the edge of the fold, from front to back.", "With the outer edge it tells "
    + "where the ear is.", "Go on along the fold, to the back; then choose Upper end."],
  entry_end: ["Tap the middle of the post's upper end, its ball or disc.",
    "A round end moves onto its own middle."],
  exit_end: ["Tap the middle of the post's lower end.", "A round end moves onto its own middle."],
  entry: ["Tap where the post meets the skin above.", "It is the upper end of the channel as seen."],
  exit: ["Tap where the post meets the skin below.", "It is the lower end of the channel as seen."],
  axis_to: ["Tap a place on the post's middle line, far up.", "An end is hidden: the line tells the "
    + "tilt."],
  axis_from: ["Tap a place on the post's middle line, far down.", "Far from the other place the "
    + "tilt is surer."],
};
const RECHECK_DONE = ["Everything is marked here.", "Drag any point to mend it."];
const RECHECK_REFUSED = ["The view isn't the earlier one.",
  "Match the rim with the earlier outline, drawn here, and take the photo again."];

function doneHint({ recheck, several }) {
  if (recheck) return recheck.refused ? RECHECK_REFUSED : RECHECK_DONE;
  return several ? VIEW_DONE : DONE;
}

function firstLacking(marks, label) {
  const p = placementOf(marks, label) || {};
  return ["entry", "exit", "below"].find((kind) => !p[kind]);
}

/* The first thing of the usual order that isn't there yet, or null. */
function nextStep(model) {
  if (inPass(model)) return nextAgain(model);
  if (model.several) return nextInView(model);
  const { marks, label } = model;
  const began = firstLacking(marks, label);
  if (began && began !== "entry") return began;
  return LINES.find((kind) => marks[kind].length < 2) || began || null;
}

/* Of several photos each is asked for what it can show, of one placement after the other. */
function nextInView(model) {
  const labels = [model.label, ...model.labels.filter((label) => label !== model.label)];
  for (const label of labels) {
    const kind = nextOfPlacement(model, label);
    if (kind) {
      model.label = label;
      return kind;
    }
  }
  return null;
}

/* A placement that was begun comes before the lines. */
function nextOfPlacement(model, label) {
  const { marks, offers } = model;
  const p = placementOf(marks, label) || {}, unseen = unseenIn(marks);
  const hidden = POST_ENDS.some((kind) => unseen.includes(`${kind}/${label}`));
  const lacks = (kind) => (AXIS.includes(kind) && !hidden ? false : kind === "tie" ? openOthers(model).some((each) => each.kind === kind)
    : isLine(kind) ? marks[kind].length < 2
      : !p[kind] && !unseen.includes(`${kind}/${label}`));
  const spots = offers.filter((kind) => !isLine(kind));
  const lines = offers.filter(isLine);
  const order = SPOTS.some((spot) => p[spot]) ? [...spots, ...lines] : offers;
  return order.find(lacks) || null;
}

function hintOf(model) {
  const { step, marks } = model;
  if (inPass(model)) return passHint(model);
  if (!step) return doneHint(model);
  const [first, why, then] = (model.recheck && RECHECK_WORDS[step]) || WORDS[step];
  const words = then && (marks[step] || []).length ? then : first;
  const many = SPOTS.includes(step) && model.labels.length > 1;
  return [many ? `Placement ${model.label}: ${words[0].toLowerCase()}${words.slice(1)}` : words, why];
}

function pointWords(point) {
  if (point.kind === "tie") return `spare dot ${point.name}`;
  const name = NAMES[point.kind].toLowerCase();
  if (point.label === undefined) return `${name}, point ${point.index + 1}`;
  return `${name} of placement ${point.label}`;
}

function spoken(point) {
  const [x, y] = point.at;
  const extra = (point.outline ? ", on the visible edge" : "") + (point.snapped ? ", snapped" : "")
    + (point.times > 1 ? `, mean of ${point.times} marks` : "");
  return `${pointWords(point)}${extra}, x ${x.toFixed(1)}, y ${y.toFixed(1)}`;
}

/* How many points a step has: for the placements' steps, in the open placement. */
function countOf(model, step) {
  if (step === "tie") return Object.keys(model.marks.ties).length;
  if (SPOTS.includes(step)) return (placementOf(model.marks, model.label) || {})[step] ? 1 : 0;
  return model.marks[step].length;
}
