/* What a hand does: drag a post along the rim, tap what was pierced before, move the photo. */

const SEND_MS = 160;
const TAPS = { hole: 1, bar: 2 };

function moved(stage, label, arc, lean) {
  const { arcs } = stage.data.track;
  const old = stage.places[label];
  stage.places[label] = { arc: clampTo(arc, arcs[0], arcs[arcs.length - 1]),
    lean: clampTo(lean === undefined ? old.lean : lean, -60, 60) };
  placePosts(stage);
  later(stage);
}

function later(stage) {
  clearTimeout(stage.sending);
  stage.sending = setTimeout(() => sendNow(stage), SEND_MS);
}

/* The whole plan each time: a run that is skipped loses nothing. */
function sendNow(stage) {
  clearTimeout(stage.sending);
  stage.sending = 0;
  stage.n += 1;
  stage.send({ hand: stage.hand, n: stage.n,
    posts: stage.data.posts.map(({ label }) => ({ label, ...stage.places[label] })),
    earlier: stage.earlier.map(({ name, places }) => ({ name, places })) });
}

function choose(stage, label) {
  stage.chosen = label;
  placePosts(stage);
  refreshRail(stage);
}

function pressed(stage, event) {
  if (event.button) return;
  stage.fingers.set(event.pointerId, [event.clientX, event.clientY]);
  stage.parts.box.setPointerCapture(event.pointerId);
  const group = event.target.closest && event.target.closest(".post");
  if (stage.marking) stage.act = { kind: "tap" };
  else if (group && stage.fingers.size === 1) {
    const { label } = group.dataset;
    const at = nearestArc(stage.data.track, toPhoto(stage, event));
    stage.act = { kind: "post", label, by: stage.places[label].arc - at };
    choose(stage, label);
    group.focus({ preventScroll: true });
  } else stage.act = { kind: "pan" };
  if (stage.fingers.size === 2) stage.act = { kind: "pinch", far: spread(stage) };
}

function spread(stage) {
  const [[ax, ay], [bx, by]] = [...stage.fingers.values()];
  return Math.max(Math.hypot(ax - bx, ay - by), 1);
}

function dragged(stage, event) {
  const before = stage.fingers.get(event.pointerId);
  if (!before || !stage.act) return;
  stage.fingers.set(event.pointerId, [event.clientX, event.clientY]);
  if (stage.act.kind === "pinch" && stage.fingers.size === 2) {
    const far = spread(stage);
    zoomBy(stage, far / stage.act.far);
    stage.act.far = far;
  } else if (stage.act.kind === "post") {
    const at = nearestArc(stage.data.track, toPhoto(stage, event));
    moved(stage, stage.act.label, at + stage.act.by);
  } else if (stage.act.kind === "pan") {
    panBy(stage, (event.clientX - before[0]) * stage.px, (event.clientY - before[1]) * stage.px);
  }
}

function released(stage, event) {
  const { act } = stage;
  stage.fingers.delete(event.pointerId);
  if (stage.fingers.size) return;
  stage.act = null;
  if (!act) return;
  if (act.kind === "post" && stage.sending) sendNow(stage);
  if (act.kind === "tap" && event.type === "pointerup") tapped(stage, toPhoto(stage, event));
  if (stage.waiting) receive(stage, stage.waiting);
}

function tapped(stage, [x, y]) {
  stage.tapped.push([Math.round(x * 100) / 100, Math.round(y * 100) / 100]);
  if (stage.tapped.length >= TAPS[stage.marking]) {
    const names = stage.earlier.map(({ name }) => name);
    let number = 1;
    while (names.includes(`${stage.marking} ${number}`)) number += 1;
    stage.earlier.push({ name: `${stage.marking} ${number}`, places: stage.tapped, r: 0 });
    stage.tapped = [];
    stage.marking = "";
    sendNow(stage);
  }
  redraw(stage);
}

const STEP_MM = 0.25;

function keyed(stage, event) {
  const group = event.target.closest(".post");
  if (!group) return;
  const { label } = group.dataset, { arc, lean } = stage.places[label];
  const step = event.shiftKey ? 4 * STEP_MM : STEP_MM;
  if (event.key.startsWith("Arrow")) {
    moved(stage, label, arc + step * wayOfKey(stage.data.track, arc, event.key));
  } else if (event.key === "PageUp" || event.key === "PageDown") {
    moved(stage, label, arc, lean + (event.key === "PageUp" ? -1 : 1));
  } else return;
  event.preventDefault();
  event.stopPropagation();
}
