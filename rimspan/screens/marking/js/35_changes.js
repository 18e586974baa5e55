/* What a change did, in words, for whoever doesn't see it. */

const LISTS = [...LINES, "head_up", WORN];

/* Returns the sentence for the change from some marks to others, or "". */
function changeWords(before, after) {
  const said = LISTS.map((kind) => lineWords(kind, before[kind], after[kind]));
  const [old, now] = [before, after].map((marks) =>
    new Map(allPoints(marks).filter((point) => !LISTS.includes(point.kind))
      .map((point) => [point.id, point])));
  for (const [id, point] of now) {
    const was = old.get(id);
    if (!was) said.push(`Added: ${spoken(point)}.`);
    else if (apart(was.at, point.at)) said.push(`Moved: ${spoken(point)}.`);
    else if (was.outline !== point.outline) {
      said.push(`${pointWords(point)}: ${point.outline ? "" : "not "}on the visible edge.`);
    }
  }
  for (const [id, point] of old) if (!now.has(id)) said.push(`Removed: ${pointWords(point)}.`);
  return said.filter(Boolean).join(" ");
}

/* A line's points have no names but their numbers, which shift when one comes or goes. */
function lineWords(kind, before, after) {
  const differs = (index) => !before[index] || !after[index]
    || apart(before[index], after[index]) > 0;
  const most = Math.max(before.length, after.length);
  const changed = [...Array(most).keys()].filter(differs);
  if (!changed.length) return "";
  const [index] = changed;
  const gained = after.length - before.length;
  const there = () => spoken({ kind, index, at: after[index] });
  if (gained === 1) return `Added: ${there()}.`;
  if (gained === -1) return `Removed: ${pointWords({ kind, index })}.`;
  if (!gained && changed.length === 1) return `Moved: ${there()}.`;
  const count = after.length === 1 ? "1 point" : `${after.length} points`;
  return `Changed: ${NAMES[kind].toLowerCase()}, now ${after.length ? count : "empty"}.`;
}
