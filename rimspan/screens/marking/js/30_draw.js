/* Draws photo and marks. Words and shapes tell marks apart; a light casing carries every line. */

const DEEP = "#0b3d91", BRIGHT = "#2a7de1", CASING = "rgba(255,255,255,0.85)";

function drawAll(stage) {
  const { canvas, view, image, model } = stage;
  const ratio = window.devicePixelRatio || 1;
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, view.boxWidth, view.boxHeight);
  pen.imageSmoothingEnabled = view.scale * ratio < 3;
  pen.imageSmoothingQuality = "high";
  pen.drawImage(image, view.x, view.y, view.width * view.scale, view.height * view.scale);
  drawLine(pen, view, model.marks.outer_rim, []);
  drawLine(pen, view, model.marks.inner_rim, [9, 6]);
  drawLine(pen, view, model.marks.head_up, [2, 5]);
  for (const p of model.marks.placements) drawPlacement(pen, view, p);
  for (const point of allPoints(model)) drawPoint(pen, view, point, point.id === model.chosen);
}

function stroke(pen, width, colour) {
  pen.lineJoin = pen.lineCap = "round";
  const dash = pen.getLineDash();
  pen.setLineDash([]);
  pen.lineWidth = width + 3;
  pen.strokeStyle = CASING;
  pen.stroke();
  pen.setLineDash(dash);
  pen.lineWidth = width;
  pen.strokeStyle = colour;
  pen.stroke();
  pen.setLineDash([]);
}

function drawLine(pen, view, line, dash) {
  if (line.length < 2) return;
  pen.beginPath();
  line.forEach((point, i) => {
    const at = toScreen(view, point);
    if (i) pen.lineTo(...at);
    else pen.moveTo(...at);
  });
  pen.setLineDash(dash);
  stroke(pen, 2.5, DEEP);
}

function drawPlacement(pen, view, p) {
  if (!p.entry || !p.exit) return;
  const a = toScreen(view, p.entry), b = toScreen(view, p.exit);
  pen.beginPath();
  pen.moveTo(...a);
  pen.lineTo(...b);
  stroke(pen, 1.2, BRIGHT);
  pen.font = "600 15px system-ui, sans-serif";
  pen.lineWidth = 4;
  pen.strokeStyle = CASING;
  pen.strokeText(p.label, a[0] + 14, a[1] - 8);
  pen.fillStyle = DEEP;
  pen.fillText(p.label, a[0] + 14, a[1] - 8);
}

/* Paths about (0, 0), the mark's place, y down. */
const SHAPES = {
  entry: (pen) => { pen.moveTo(0, 0); pen.lineTo(-7, -12); pen.lineTo(7, -12); pen.closePath(); },
  exit: (pen) => { pen.moveTo(0, 12); pen.lineTo(-7, 0); pen.lineTo(7, 0); pen.closePath(); },
  below: (pen) => { pen.moveTo(-9, -6); pen.lineTo(-9, 0); pen.lineTo(9, 0); pen.lineTo(9, -6); },
  crest: (pen) => { pen.moveTo(-9, 0); pen.lineTo(9, 0); },
  floor: (pen) => { pen.arc(0, -7, 7, 0, Math.PI); },
  tie: (pen) => { pen.moveTo(-7, 0); pen.lineTo(7, 0); pen.moveTo(0, -7); pen.lineTo(0, 7); },
};

function drawPoint(pen, view, point, chosen) {
  const [x, y] = toScreen(view, point.at);
  pen.save();
  pen.translate(x, y);
  pen.beginPath();
  const shape = SHAPES[point.kind];
  if (shape) shape(pen);
  else pen.arc(0, 0, chosen ? 6 : 4, 0, 2 * Math.PI);
  if (point.outline) pen.setLineDash([3, 3]);
  stroke(pen, 2, shape ? BRIGHT : DEEP);
  if (chosen) {
    pen.beginPath();
    pen.arc(0, 0, 17, 0, 2 * Math.PI);
    stroke(pen, 2, BRIGHT);
  }
  pen.restore();
}
