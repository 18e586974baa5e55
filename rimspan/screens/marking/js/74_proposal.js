/* Draws a proposal: thin, with its doubt; dotted along the taps where no edge is seen. */

const GAP_DASH = "1 6";

/* Thinner than a mark, casing and all: what it lies on must stay in sight. */
function thin(d, dash) {
  const line = { d, fill: "none", "stroke-linejoin": "round" };
  return [svg("path", { ...line, stroke: CASING, "stroke-width": 2.8 }),
    svg("path", { ...line, stroke: INK, "stroke-width": 1.2, "stroke-dasharray": dash })];
}

/* Each dot with its own casing: a line would look as if something was seen. */
function dots(d) {
  const line = { d, fill: "none", "stroke-linecap": "round", "stroke-dasharray": GAP_DASH };
  return [svg("path", { ...line, stroke: CASING, "stroke-width": 4.4 }),
    svg("path", { ...line, stroke: INK, "stroke-width": 2.4 })];
}

function drawProposal(stage) {
  const { view, layers } = stage;
  layers.proposal.replaceChildren(...drawOthers(stage),
    ...proposals(stage).flatMap((found) => drawnLine(view, found)));
}

function drawnLine(view, found) {
  const places = found.line.map((point) => toScreen(view, point));
  const parts = seenStretches(places.length, found.gaps).flatMap(([a, b]) => [
    ...doubt(places.slice(a, b + 1), found.u_px.slice(a, b + 1), view.scale),
    ...thin(pathOf(places.slice(a, b + 1)), DASHES[found.kind])]);
  for (const [a, b] of found.gaps) {
    parts.push(...dots(pathOf(places.slice(a, b + 1))));
    const middle = places[(a + b) >> 1];
    if (apart(places[a], places[b]) > 60) parts.push(...words("no edge seen", middle, [0, -24]));
  }
  return parts;
}

/* The stretches [i, j] of a line that are no gap, each with the place where a gap begins. */
function seenStretches(count, gaps) {
  const stretches = [];
  let from = 0;
  for (const [a, b] of [...gaps, [count, count]]) {
    if (a - from > 1) stretches.push([from, a - 1]);
    from = b + 1;
  }
  return stretches;
}

/* A pale band two standard uncertainties to either side, once it is wider than the line. */
function doubt(places, us, scale) {
  if (Math.max(...us) * scale < 1.5) return [];
  const last = places.length - 1;
  const side = (sign) => places.map(([x, y], i) => {
    const [ax, ay] = places[Math.max(i - 1, 0)], [bx, by] = places[Math.min(i + 1, last)];
    const long = Math.hypot(bx - ax, by - ay) || 1, off = (2 * sign * us[i] * scale) / long;
    return [x - (by - ay) * off, y + (bx - ax) * off];
  });
  const around = [...side(1), ...side(-1).reverse()];
  return [svg("path", { d: `${pathOf(around)}Z`, fill: LIGHT, "fill-opacity": 0.4 })];
}
