/* The photo itself: its preview, or the whole of it, and over that the tiles of what is near. */

const SMALLEST = 600;

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
  const blocky = view.scale * ratio >= 6;
  pen.imageSmoothingEnabled = !blocky || isTiled(stage);
  pen.imageSmoothingQuality = "medium";
  pen.drawImage(level, view.x, view.y, view.width * view.scale, view.height * view.scale);
  pen.imageSmoothingEnabled = !blocky;
  const sharp = !isSoft(stage, view.scale * ratio)
    || drawTiles(stage, pen, inSight(view), view.scale, [view.x, view.y]);
  stage.root.dataset.sharp = sharp ? "yes" : "no";
}
