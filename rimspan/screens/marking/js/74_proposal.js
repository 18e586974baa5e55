/* Draws a proposal: thin, with its doubt; dotted along the taps where no edge is seen. */

const GAP_DASH = "1 6";

function drawProposal(stage) {
  const { view, layers } = stage;
  const found = proposed(stage);
  if (!found) {
    layers.proposal.replaceChildren();
    return;
  }
  const places = found.line.map((point) => toScreen(view, point));
  const parts = seenStretches(places.length, found.gaps).flatMap(([a, b]) => [
    ...doubt(places.slice(a, b + 1), found.u_px.slice(a, b + 1), view.scale),
    ...cased(pathOf(places.slice(a, b + 1)), 1.2, { dash: DASHES[found.kind] })]);
  for (const [a, b] of found.gaps) {
    parts.push(...cased(pathOf(places.slice(a, b + 1)), 1.6, { dash: GAP_DASH }));
    const middle = places[(a + b) >> 1];
    if (apart(places[a], places[b]) > 60) parts.push(...words("no edge seen", middle, [0, -12]));
  }
  layers.proposal.replaceChildren(...parts);
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
