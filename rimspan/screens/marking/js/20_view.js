/* Where the photo lies on the screen: CSS pixels = photo pixels * scale + shift. */

/* SVG and canvas put (0, 0) at a pixel's corner, the marks at its centre: half a pixel. */
const HALF = 0.5;

function newView(width, height) {
  return { width, height, scale: 1, x: 0, y: 0, boxWidth: 1, boxHeight: 1, fitted: true };
}

const toScreen = (view, [x, y]) =>
  [(x + HALF) * view.scale + view.x, (y + HALF) * view.scale + view.y];
const toPhoto = (view, [x, y]) =>
  [(x - view.x) / view.scale - HALF, (y - view.y) / view.scale - HALF];

const fitScale = (view) => Math.min(view.boxWidth / view.width, view.boxHeight / view.height);

function fit(view) {
  view.scale = fitScale(view);
  view.x = (view.boxWidth - view.width * view.scale) / 2;
  view.y = (view.boxHeight - view.height * view.scale) / 2;
  view.fitted = true;
}

function zoom(view, factor, [x, y]) {
  const least = fitScale(view), most = Math.max(16, least);
  const scale = Math.min(Math.max(view.scale * factor, least), most);
  view.x = x - ((x - view.x) * scale) / view.scale;
  view.y = y - ((y - view.y) * scale) / view.scale;
  view.scale = scale;
  view.fitted = scale <= least * 1.0001;
  if (view.fitted) fit(view);
  else hold(view);
}

function pan(view, dx, dy) {
  view.x += dx;
  view.y += dy;
  hold(view);
}

/* Some of the photo always stays in the box. */
function hold(view) {
  const margin = 60;
  const w = view.width * view.scale, h = view.height * view.scale;
  view.x = Math.min(Math.max(view.x, margin - w), view.boxWidth - margin);
  view.y = Math.min(Math.max(view.y, margin - h), view.boxHeight - margin);
}

const inside = (view, [x, y]) =>
  x >= -HALF && y >= -HALF && x <= view.width - HALF && y <= view.height - HALF;
