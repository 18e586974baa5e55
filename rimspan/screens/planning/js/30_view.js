/* What part of the photo is seen: the stage's viewBox, in pixels of the photo. */

const HALF = 0.5;

function showArea(stage, [left, top, right, bottom]) {
  const { width, height } = stage.parts.box.getBoundingClientRect();
  if (!width || !height) return;
  const scale = Math.min(width / (right - left), height / (bottom - top));
  const [wide, high] = [width / scale, height / scale];
  stage.view = [(left + right - wide) / 2, (top + bottom - high) / 2, wide, high];
  applyView(stage);
}

function applyView(stage) {
  const { width } = stage.parts.box.getBoundingClientRect();
  stage.parts.stage.setAttribute("viewBox", stage.view.join(" "));
  stage.px = stage.view[2] / Math.max(width, 1);
  redraw(stage);
}

function toPhoto(stage, event) {
  const { left, top, width } = stage.parts.box.getBoundingClientRect();
  const px = stage.view[2] / Math.max(width, 1);
  return [stage.view[0] + (event.clientX - left) * px, stage.view[1] + (event.clientY - top) * px];
}

function zoomBy(stage, factor, about) {
  const [x, y, wide, high] = stage.view;
  const [ax, ay] = about || [x + wide / 2, y + high / 2];
  const least = 40, most = 3 * stage.data.width;
  const to = clampTo(wide / factor, least, most);
  const part = to / wide;
  stage.view = [ax - (ax - x) * part, ay - (ay - y) * part, to, high * part];
  applyView(stage);
}

function panBy(stage, dx, dy) {
  const [x, y, wide, high] = stage.view;
  stage.view = [clampTo(x - dx, -wide / 2, stage.data.width - wide / 2),
    clampTo(y - dy, -high / 2, stage.data.height - high / 2), wide, high];
  applyView(stage);
}

const whole = (stage) => showArea(stage, [-HALF, -HALF, stage.data.width - HALF, stage.data.height - HALF]);
const ear = (stage) => (stage.data.area ? showArea(stage, stage.data.area) : whole(stage));
