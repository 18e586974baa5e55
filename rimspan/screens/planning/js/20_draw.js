/* Draws the rim, what was pierced before, and the posts at true size. */

const LOOKS = { before: "Before", now: "First posts", downsized: "After downsizing" };

function make(name, attributes = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

const pathOf = (points, closed = false) =>
  points.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y}`).join("") + (closed ? "Z" : "");

const cased = (d, width, rest = {}) => [
  make("path", { d, class: "casing", "stroke-width": width + 3 }),
  make("path", { d, class: "ink", "stroke-width": width, ...rest })];

function drawRim(stage) {
  const { data, parts, look } = stage;
  const lines = [];
  if (look !== "before") {
    for (const stretch of data.usable) {
      lines.push(make("path", { d: pathOf(stretch), class: "casing", "stroke-width": 13 }),
        make("path", { d: pathOf(stretch), class: "band" }));
    }
    lines.push(...cased(pathOf(data.outer), 2));
    lines.push(...cased(pathOf(data.inner), 2, { "stroke-dasharray": "9 6" }));
  }
  parts.rim.replaceChildren(...lines);
}

function drawEarlier(stage) {
  const { parts, look, px } = stage;
  const every = look === "before" ? [] : [...stage.earlier];
  if (stage.tapped.length) every.push({ name: "", places: stage.tapped, r: 8 * px });
  parts.earlier.replaceChildren(...every.map(({ name, places, r }) => {
    const arm = 5 * px, radius = Math.max(r, 7 * px);
    const group = make("g", { class: "earlier" });
    if (places.length === 2) group.append(...cased(pathOf(places), 2.4));
    for (const [x, y] of places) {
      const ring = `M${x - radius} ${y}A${radius} ${radius} 0 1 0 ${x + radius} ${y}A${radius} ${radius} 0 1 0 ${x - radius} ${y}`;
      group.append(...cased(ring, 2),
        ...cased(`M${x - arm} ${y - arm}L${x + arm} ${y + arm}M${x - arm} ${y + arm}L${x + arm} ${y - arm}`, 2));
    }
    if (name) group.append(badge(name, [places[0][0], places[0][1] - radius - 16 * px], px));
    return group;
  }));
}

function badge(words, [x, y], px) {
  const wide = (words.length * 8.4 + 12) * px, high = 22 * px;
  const text = make("text", { x, y: y + 5.4 * px, "font-size": 14 * px });
  text.textContent = words;
  return make("g", { class: "badge" },
    make("rect", { x: x - wide / 2, y: y - high / 2, width: wide, height: high, rx: 3 * px }), text);
}

function drawPosts(stage) {
  const { data, parts, look, px } = stage;
  const focused = stage.root.getRootNode().activeElement;
  const label = focused && focused.dataset ? focused.dataset.label : undefined;
  parts.posts.replaceChildren(...(look === "before" ? [] : data.posts).map((post) => {
    const group = make("g", { class: "post", tabindex: "0", role: "slider" });
    group.dataset.label = post.label;
    const mid = post.middle;
    group.append(make("circle", { class: "ring", cx: mid[0], cy: mid[1],
      r: Math.max(post.reach, 22 * px) }));
    for (const { name, points } of post.parts[look]) {
      const kind = name === "in the rim" ? "inside" : name.endsWith("end") ? "end" : "out";
      const d = pathOf(points, true);
      group.append(make("path", { d, class: "casing", "stroke-width": 4.4 }),
        make("path", { d, class: kind }));
    }
    group.append(badge(post.broken ? `${post.label} !` : post.label, post.tag, px));
    if (post.broken) group.classList.add("broken");
    return group;
  }));
  placePosts(stage);
  const again = label && [...parts.posts.children].find((made) => made.dataset.label === label);
  if (again) again.focus({ preventScroll: true });
}

/* Moves what the server drew to where the hand has it now. */
function placePosts(stage) {
  const { data, parts } = stage;
  const { arcs } = data.track;
  for (const group of parts.posts.children) {
    const post = data.posts.find((each) => each.label === group.dataset.label);
    const now = stage.places[post.label];
    const from = onTrack(data.track, post.arc), to = onTrack(data.track, now.arc);
    const turn = to.turn - from.turn + data.leanSign * (now.lean - post.lean);
    const moved = Math.abs(now.arc - post.arc) > 1e-6 || Math.abs(turn) > 1e-6;
    group.setAttribute("transform", moved
      ? `translate(${to.at}) rotate(${turn}) translate(${-from.at[0]} ${-from.at[1]})` : "");
    group.classList.toggle("chosen", stage.chosen === post.label);
    group.setAttribute("aria-label", `Post ${post.label}`);
    group.setAttribute("aria-valuemin", "0");
    group.setAttribute("aria-valuemax", arcs[arcs.length - 1].toFixed(1));
    group.setAttribute("aria-valuenow", now.arc.toFixed(2));
    group.setAttribute("aria-valuetext", `${now.arc.toFixed(1)} mm along the rim from the front, `
      + `leaning ${Math.round(now.lean)} degrees${post.broken ? ", breaks a limit" : ""}`);
  }
}
