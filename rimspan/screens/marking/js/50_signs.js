/* The shapes of the marks. Paths about (0, 0), the mark's place; the post goes down, to +y. */

const INK = "#10264a", LIGHT = "#cfe3fb", CASING = "rgba(255, 255, 255, 0.9)";

const SIGNS = {
  entry: "M0 0L-7 -16L7 -16Z",
  exit: "M-7 2L7 2L0 18Z",
  below: "M-9 -7L-9 0L9 0L9 -7",
  crest: "M-10 0L10 0",
  floor: "M-9 -9A9 9 0 0 0 9 -9",
  tie: "M-7 -7L7 7M7 -7L-7 7",
  entry_end: "M0 -6A6 6 0 1 1 0 6A6 6 0 1 1 0 -6M0 -6V-13",
  exit_end: "M0 -6A6 6 0 1 1 0 6A6 6 0 1 1 0 -6M0 6V13",
  axis_to: "M0 -9V9M-5 -4H5",
  axis_from: "M0 -9V9M-5 4H5",
  outer_rim: "M0 -3.5A3.5 3.5 0 1 1 0 3.5A3.5 3.5 0 1 1 0 -3.5",
  inner_rim: "M-3.2 -3.2L3.2 -3.2L3.2 3.2L-3.2 3.2Z",
  [WORN]: "M0 -4.5L4.5 0L0 4.5L-4.5 0Z",
  head_up: "M0 -4A4 4 0 1 1 0 4A4 4 0 1 1 0 -4",
};
const CORNERS = "M-16 -9V-16H-9M9 -16H16V-9M16 9V16H9M-9 16H-16V9";
const RING = "M0 -12A12 12 0 1 1 0 12A12 12 0 1 1 0 -12";
const DASHES = { outer_rim: "", inner_rim: "9 6", head_up: "1 6", [WORN]: "14 5 3 5", axis: "" };

function svg(name, attributes = {}) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

/* A line over its light casing. */
function cased(d, width, { dash = "", fill = "none", ...rest } = {}) {
  const line = { d, "stroke-linejoin": "round", "stroke-linecap": "round", ...rest };
  return [
    svg("path", { ...line, fill: "none", stroke: CASING, "stroke-width": width + 3.4 }),
    svg("path", { ...line, fill, stroke: INK, "stroke-width": width, "stroke-dasharray": dash }),
  ];
}

/* The sign of one kind. A hollow end lies on the visible edge. */
function sign(kind, { hollow = false, snapped = false } = {}) {
  const solid = ENDS.includes(kind);
  const vertex = isLine(kind) || kind === "head_up";
  const fill = (solid && hollow) || vertex ? LIGHT : solid ? INK : "none";
  const parts = cased(SIGNS[kind], vertex ? 1.6 : solid ? 2 : 2.6, { fill });
  if (kind === "exit") parts.push(svg("circle", { r: 2, fill: INK, stroke: CASING }));
  if (snapped) parts.push(...cased(RING, 1.6));
  return parts;
}

/* The post's way across the screen, degrees from straight down. */
function wayOf(marks, label) {
  const p = meanPlacement(marks, placementOf(marks, label) || {});
  const ends = p.entry_end && p.exit_end;
  const from = ends ? p.entry_end : p.entry || p.exit;
  const to = ends ? p.exit_end : p.exit && p.entry ? p.exit : p.below;
  if (!from || !to || apart(from, to) < 1e-6) return 0;
  return (Math.atan2(to[1] - from[1], to[0] - from[0]) * 180) / Math.PI - 90;
}

/* A small ear that shows where the active mark belongs. */
function smallEar(step, side) {
  const made = svg("svg", { viewBox: "0 0 64 64", class: "ear", "aria-hidden": "true" });
  const ear = svg("g", side === "right" ? { transform: "matrix(-1 0 0 1 64 0)" } : {});
  const soft = (d) => svg("path", { d, class: "soft" });
  const outer = "M20 38C12 26 15 6 35 5C54 4 60 20 56 33C53 43 46 46 44 53",
    inner = "M27 36C22 25 25 15 36 14C47 13 50 23 47 32C45 38 41 41 39 46";
  ear.append(soft(outer), soft(inner), soft("M44 53C42 62 30 62 27 53L24 46"),
    soft("M30 33C32 24 40 22 41 30C41 37 37 42 33 45"));
  const place = { entry: [34, 5], exit: [34, 14], below: [36, 25], crest: [50, 12],
    floor: [49, 38], tie: [34, 56], entry_end: [34, 8], exit_end: [34, 18], axis_to: [34, 9],
    axis_from: [34, 16] }[step];
  if (step === "outer_rim" || step === "inner_rim") {
    ear.append(svg("path", { d: step === "outer_rim" ? outer : inner, class: "strong",
      "stroke-dasharray": step === "inner_rim" ? "5 3" : "" }));
    const [x, y] = step === "outer_rim" ? [20, 38] : [27, 36];
    ear.append(svg("circle", { cx: x, cy: y, r: 3.4, class: "dot" }));
  }
  if (step === "head_up") ear.append(svg("path", { d: "M8 58V8M4 15L8 7L12 15", class: "strong" }));
  if (place) {
    const at = svg("g", { transform: `translate(${place}) scale(0.8)` });
    at.append(svg("path", { d: SIGNS[step], class: ENDS.includes(step) ? "full" : "strong" }));
    ear.append(at);
  }
  made.append(ear);
  return made;
}
