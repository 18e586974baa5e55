/* The photo itself, and the loupe with the photo's own pixels. */

const SMALLEST = 600;
const LOUPE_PX = 148;

/* Halves the photo again and again, so that a far view is quick to paint and doesn't flicker.
   Canvases do it alike in every browser, and averaging two by two pixels shifts nothing. */
function halved(image) {
  const levels = [image];
  let width = image.naturalWidth, height = image.naturalHeight;
  while (Math.max(width, height) > 2 * SMALLEST) {
    width = Math.ceil(width / 2);
    height = Math.ceil(height / 2);
    const level = document.createElement("canvas");
    [level.width, level.height] = [width, height];
    const pen = level.getContext("2d");
    pen.imageSmoothingQuality = "high";
    pen.drawImage(levels[levels.length - 1], 0, 0, width, height);
    levels.push(level);
  }
  return levels;
}

/* A canvas of no size gives its memory back at once. */
function dropLevels(stage) {
  for (const level of stage.levels.slice(1)) level.width = level.height = 0;
  stage.levels = [];
}

/* Pixels of the screen for one CSS pixel; the canvas is a whole number of them wide. */
function sharpen(canvas, width, height) {
  const ratio = window.devicePixelRatio || 1;
  const wide = Math.round(width * ratio), high = Math.round(height * ratio);
  if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
  const pen = canvas.getContext("2d");
  pen.setTransform(wide / width, 0, 0, high / height, 0, 0);
  return [pen, wide / width];
}

function paintPhoto(stage) {
  const { canvas, view, levels } = stage;
  const [pen, ratio] = sharpen(canvas, view.boxWidth, view.boxHeight);
  pen.clearRect(0, 0, view.boxWidth, view.boxHeight);
  const wanted = view.width * view.scale * ratio;
  const level = [...levels].reverse().find((picture) => picture.width >= wanted) || levels[0];
  pen.imageSmoothingEnabled = view.scale * ratio < 6;
  pen.imageSmoothingQuality = "medium";
  pen.drawImage(level, view.x, view.y, view.width * view.scale, view.height * view.scale);
}

function showLoupe(stage, at, finger) {
  const { loupe, view, levels } = stage;
  if (!levels.length) return;
  const scale = Math.min(Math.max(4, 2 * view.scale), 2 * MOST_SCALE);
  loupe.hidden = false;
  placeLoupe(stage, toScreen(view, at), finger);
  const [pen] = sharpen(loupe, LOUPE_PX, LOUPE_PX);
  pen.clearRect(0, 0, LOUPE_PX, LOUPE_PX);
  pen.imageSmoothingEnabled = false;
  pen.drawImage(levels[0], LOUPE_PX / 2 - (at[0] + HALF) * scale,
    LOUPE_PX / 2 - (at[1] + HALF) * scale, view.width * scale, view.height * scale);
  drawCross(pen);
}

/* Beside the finger, and above it where there is room. */
function placeLoupe({ loupe, view }, [x, y], finger) {
  const gap = finger ? 56 : 30;
  const left = x - gap - LOUPE_PX > 4 ? x - gap - LOUPE_PX : x + gap;
  const top = Math.min(Math.max(y - LOUPE_PX - gap / 2, 4), view.boxHeight - LOUPE_PX - 4);
  loupe.style.left = `${Math.round(Math.min(left, view.boxWidth - LOUPE_PX - 4))}px`;
  loupe.style.top = `${Math.round(top)}px`;
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
