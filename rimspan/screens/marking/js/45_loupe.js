/* The loupe: the photo's own pixels round a place, beside the finger that hides it. */

const LOUPE_PX = 148;
const EDGE_PX = 4;
const CLEAR_PX = { true: 56, false: 30 }; // from a finger, from a pointer

const loupeScale = (view) => Math.min(Math.max(4, 2 * view.scale), 2 * MOST_SCALE);

function loupeArea({ view }, [x, y]) {
  const half = LOUPE_PX / 2 / loupeScale(view);
  return [x + HALF - half, y + HALF - half, x + HALF + half, y + HALF + half];
}

/* Shows a place of the photo; `finger` is whether a finger hides it. */
function showLoupe(stage, at, finger) {
  stage.looking = { at, finger };
  if (!stage.levels.length) return;
  stage.loupe.hidden = false;
  const place = toScreen(stage.view, at);
  const [left, top] = loupePlace(placeInWindow(stage), place, CLEAR_PX[finger]);
  stage.loupe.style.left = `${left}px`;
  stage.loupe.style.top = `${top}px`;
  stage.redraw();
}

function paintLoupe(stage) {
  const { loupe, view, levels, looking } = stage;
  if (loupe.hidden || !looking) return;
  const scale = loupeScale(view);
  const shift = looking.at.map((v) => LOUPE_PX / 2 - (v + HALF) * scale);
  const [pen] = sharpen(loupe, LOUPE_PX, LOUPE_PX);
  pen.clearRect(0, 0, LOUPE_PX, LOUPE_PX);
  pen.imageSmoothingEnabled = isTiled(stage);
  pen.drawImage(levels[0], ...shift, view.width * scale, view.height * scale);
  pen.imageSmoothingEnabled = false;
  const sharp = !isTiled(stage)
    || drawTiles(stage, pen, loupeArea(stage, looking.at), scale, shift);
  stage.root.dataset.loupeSharp = sharp ? "yes" : "no";
  drawCross(pen);
}

/* The part of the box that the window shows, [left, top, right, bottom] in the box's pixels. */
function placeInWindow({ box, view }) {
  const { left, top } = box.getBoundingClientRect();
  return [Math.max(-left, 0), Math.max(-top, 0),
    Math.min(window.innerWidth - left, view.boxWidth),
    Math.min(window.innerHeight - top, view.boxHeight)];
}

/* Above and to the left, where a right hand hides least; near an edge on another side. */
function loupePlace([left, top, right, bottom], [x, y], clear) {
  const held = (at, from, to) => Math.max(Math.min(at, to - LOUPE_PX - EDGE_PX), from + EDGE_PX);
  const before = (at) => at - clear - LOUPE_PX, after = (at) => at + clear;
  const level = (at) => at - LOUPE_PX / 2;
  const wanted = [
    [before(x), before(y) + clear / 2], [after(x), before(y) + clear / 2],
    [before(x), level(y)], [after(x), level(y)], [level(x), before(y)], [level(x), after(y)]];
  let best = null, most = -1;
  for (const [wantedX, wantedY] of wanted) {
    const at = [Math.round(held(wantedX, left, right)), Math.round(held(wantedY, top, bottom))];
    const free = Math.min(clearance(at, [x, y]), clear - 1); // rounding takes half a pixel
    if (free > most) [best, most] = [at, free];
  }
  return best;
}

/* From a place to the nearest point of the loupe's square, 0 within it. */
function clearance([left, top], [x, y]) {
  const beside = (at, from) => Math.max(from - at, at - from - LOUPE_PX, 0);
  return Math.hypot(beside(x, left), beside(y, top));
}

/* Open in the middle: the mark's own pixel stays in sight. */
function drawCross(pen) {
  const m = LOUPE_PX / 2;
  for (const [width, colour] of [[3.5, CASING], [1.4, INK]]) {
    pen.lineWidth = width;
    pen.strokeStyle = colour;
    pen.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      pen.moveTo(m + 6 * dx, m + 6 * dy);
      pen.lineTo(m + (m - 10) * dx, m + (m - 10) * dy);
    }
    pen.stroke();
  }
}
