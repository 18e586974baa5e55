/* How marks came about: points that were snapped to a pen dot, lines that were proposed.

   Names that begin with x_ are ours: x_snap and x_ties_snap hold where the piercer tapped and
   the dot's uncertainty, x_help says of a line whether a proposal was accepted ("traced") or
   the piercer's own taps were kept ("own"). */

const DOTS = ["entry", "exit", "crest", "floor", "tie"];

const isSingle = (point) => point.kind === "tie" || SPOTS.includes(point.kind);
const snapsOf = (marks, point) => (point.kind === "tie" ? marks.x_ties_snap
  : (placementOf(marks, point.label) || {}).x_snap) || {};
const nameOf = (point) => (point.kind === "tie" ? point.name : point.kind);
const snapOf = (marks, point) => snapsOf(marks, point)[nameOf(point)];

/* Puts a point on the pen dot that was found near its tap. */
function setSnapped(marks, point, at, u) {
  const tap = rounded(point.at);
  writePoint(marks, point, at);
  const held = point.kind === "tie" ? marks : placementOf(marks, point.label);
  const list = point.kind === "tie" ? "x_ties_snap" : "x_snap";
  held[list] = { ...held[list], [nameOf(point)]: { tap, u_px: u } };
  if (point.kind !== "tie") held.snapped = [...(held.snapped || []), point.kind];
  tellUncertainty(marks, point);
}

/* A point that a hand moved, or that is gone, is no longer snapped. */
function forgetSnap(marks, point) {
  delete snapsOf(marks, point)[nameOf(point)];
  const p = point.kind === "tie" ? null : placementOf(marks, point.label);
  if (p && p.snapped) p.snapped = p.snapped.filter((spot) => spot !== point.kind);
  tellUncertainty(marks, point);
}

/* The largest of those that count alike; ties have one only if all of them were snapped. */
function tellUncertainty(marks, point) {
  const tie = point.kind === "tie";
  const held = tie ? marks : placementOf(marks, point.label);
  if (!held) return;
  const snaps = snapsOf(marks, point);
  const names = tie ? Object.keys(marks.ties) : held.snapped || [];
  const known = names.length && names.every((name) => snaps[name]);
  const most = known ? Math.max(...names.map((name) => snaps[name].u_px)) : null;
  if (tie && known) marks.u_ties_px = most;
  else if (tie) delete marks.u_ties_px;
  else if (known) held.u_px = most;
  else if (!names.length) delete held.u_px;
}

/* Back to the tap, where it is known; else the point stays and counts as a hand's. */
function unsnap(marks, point) {
  const snap = snapOf(marks, point);
  if (snap) writePoint(marks, point, snap.tap);
  else forgetSnap(marks, point);
}

const lineOrigin = (marks, kind) => (marks.x_help || {})[kind];

function setLineOrigin(marks, kind, how) {
  marks.x_help = { ...marks.x_help, [kind]: how };
  if (!how) delete marks.x_help[kind];
}

const isEmpty = (value) => value !== null && typeof value === "object"
  && !Object.keys(value).length;
