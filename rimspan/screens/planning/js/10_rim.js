/* The rim as a track: a place for each arc position; posts are moved along it. */

const clampTo = (value, low, high) => Math.min(Math.max(value, low), high);

/* Where an arc position lies, and which way the inward normal points there, degrees. */
function onTrack(track, arc) {
  const { arcs } = track, last = arcs.length - 1;
  const held = clampTo(arc, arcs[0], arcs[last]);
  let i = 1;
  while (i < last && arcs[i] < held) i += 1;
  const part = (held - arcs[i - 1]) / Math.max(arcs[i] - arcs[i - 1], 1e-9);
  const mix = (list) => list[i - 1] + part * (list[i] - list[i - 1]);
  return { at: [mix(track.x), mix(track.y)], turn: mix(track.turn) };
}

/* The arc position nearest to a place of the photo. */
function nearestArc(track, [x, y]) {
  let best = 0, least = Infinity;
  for (let i = 1; i < track.arcs.length; i += 1) {
    const [ax, ay] = [track.x[i - 1], track.y[i - 1]];
    const [dx, dy] = [track.x[i] - ax, track.y[i] - ay];
    const square = dx * dx + dy * dy || 1e-9;
    const part = clampTo(((x - ax) * dx + (y - ay) * dy) / square, 0, 1);
    const off = Math.hypot(x - ax - part * dx, y - ay - part * dy);
    if (off < least) {
      least = off;
      best = track.arcs[i - 1] + part * (track.arcs[i] - track.arcs[i - 1]);
    }
  }
  return best;
}

/* Which way along the rim an arrow key goes: the way it points on the screen. */
function wayOfKey(track, arc, key) {
  const [before, after] = [onTrack(track, arc - 0.5).at, onTrack(track, arc + 0.5).at];
  const [dx, dy] = [after[0] - before[0], after[1] - before[1]];
  const [wx, wy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[key];
  return dx * wx + dy * wy >= 0 ? 1 : -1;
}
