/* Where the photo lies in its box: CSS pixels = (photo pixels + 1/2) * scale + shift. */

/* A screen counts from a pixel's corner, the marks from its centre: half a pixel. */
const HALF = 0.5;
const MOST_SCALE = 24;

function newView(width, height) {
  return { width, height, scale: 1, x: 0, y: 0, boxWidth: 1, boxHeight: 1, fitted: true };
}

const toScreen = (view, [x, y]) =>
  [(x + HALF) * view.scale + view.x, (y + HALF) * view.scale + view.y];
const toPhoto = (view, [x, y]) =>
  [(x - view.x) / view.scale - HALF, (y - view.y) / view.scale - HALF];

const fitScale = (view) => Math.min(view.boxWidth / view.width, view.boxHeight / view.height);
const centre = (view) => [view.boxWidth / 2, view.boxHeight / 2];
const apart = ([ax, ay], [bx, by]) => Math.hypot(ax - bx, ay - by);

const inside = (view, [x, y]) =>
  x >= -HALF && y >= -HALF && x <= view.width - HALF && y <= view.height - HALF;
const clamped = (view, [x, y]) =>
  [Math.min(Math.max(x, 0), view.width - 1), Math.min(Math.max(y, 0), view.height - 1)];

function fit(view) {
  view.scale = fitScale(view);
  view.fitted = true;
  hold(view);
}

/* Shows an area of the photo, [left, top, right, bottom] in its pixels, as large as fits. */
function showArea(view, [left, top, right, bottom]) {
  const scale = Math.min(view.boxWidth / (right - left), view.boxHeight / (bottom - top));
  zoom(view, scale / view.scale, centre(view));
  const [x, y] = toScreen(view, [(left + right) / 2, (top + bottom) / 2]);
  pan(view, view.boxWidth / 2 - x, view.boxHeight / 2 - y);
}

/* How large the signs are: small on a far view, so that they don't hide the ear. */
const signScale = (view) => Math.min(Math.max((view.width * view.scale) / 1800, 0.5), 1);

/* Zooms about a place in the box; what the photo has there comes to `to`. */
function zoom(view, factor, [x, y], to = [x, y]) {
  const least = fitScale(view);
  const scale = Math.min(Math.max(view.scale * factor, least), Math.max(MOST_SCALE, least));
  view.x = to[0] - ((x - view.x) * scale) / view.scale;
  view.y = to[1] - ((y - view.y) * scale) / view.scale;
  view.scale = scale;
  view.fitted = scale <= least * 1.0001;
  hold(view);
}

function pan(view, dx, dy) {
  view.x += dx;
  view.y += dy;
  hold(view);
}

/* Brings a place of the photo into the box, if it isn't there. */
function reveal(view, point) {
  const margin = 40;
  const [x, y] = toScreen(view, point);
  const dx = Math.max(margin - x, 0) + Math.min(view.boxWidth - margin - x, 0);
  const dy = Math.max(margin - y, 0) + Math.min(view.boxHeight - margin - y, 0);
  if (dx || dy) pan(view, dx, dy);
}

/* A photo smaller than its box is centred; a larger one may leave a quarter of it empty. */
function hold(view) {
  const held = (at, size, box) => {
    if (size <= box + 0.01) return (box - size) / 2;
    return Math.min(Math.max(at, 0.75 * box - size), 0.25 * box);
  };
  view.x = held(view.x, view.width * view.scale, view.boxWidth);
  view.y = held(view.y, view.height * view.scale, view.boxHeight);
}
