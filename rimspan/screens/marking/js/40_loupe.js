/* The photo's own pixels beside the finger, with a cross at the mark. */

const LOUPE_PX = 150, LOUPE_TIMES = 4;

function showLoupe(stage, at) {
  const { loupe, view, image } = stage;
  const ratio = window.devicePixelRatio || 1;
  const [x, y] = toScreen(view, at);
  const side = x > LOUPE_PX + 60 ? x - LOUPE_PX - 40 : x + 40;
  const top = Math.min(Math.max(y - LOUPE_PX - 30, 0), Math.max(view.boxHeight - LOUPE_PX, 0));
  loupe.hidden = false;
  loupe.style.left = `${Math.round(side)}px`;
  loupe.style.top = `${Math.round(top)}px`;
  if (loupe.width !== LOUPE_PX * ratio) loupe.width = loupe.height = LOUPE_PX * ratio;
  const pen = loupe.getContext("2d");
  const scale = Math.max(LOUPE_TIMES, 2.5 * view.scale);
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, LOUPE_PX, LOUPE_PX);
  pen.imageSmoothingEnabled = false;
  const half = LOUPE_PX / 2;
  pen.drawImage(image, half - (at[0] + HALF) * scale, half - (at[1] + HALF) * scale,
    view.width * scale, view.height * scale);
  for (const [width, colour] of [[3.5, CASING], [1.2, DEEP]]) {
    pen.beginPath();
    for (const [a, b] of [[0, half - 6], [half + 6, LOUPE_PX]]) {
      pen.moveTo(a, half); pen.lineTo(b, half);
      pen.moveTo(half, a); pen.lineTo(half, b);
    }
    pen.lineWidth = width;
    pen.strokeStyle = colour;
    pen.stroke();
  }
}

function hideLoupe(stage) {
  stage.loupe.hidden = true;
}
