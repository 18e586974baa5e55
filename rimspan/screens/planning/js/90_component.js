/* Mounts the plan on its photo and keeps it over reruns. */

function buildStage(parent, data) {
  const root = parent.querySelector(".planning");
  const of = (part) => root.querySelector(`[data-part="${part}"]`);
  const names = ["hint", "box", "stage", "photo", "rim", "earlier", "posts", "look", "choose",
    "move", "mark", "zoom"];
  const stage = { root, data, parts: Object.fromEntries(names.map((name) => [name, of(name)])),
    look: "now", chosen: "", places: {}, earlier: [], tapped: [], marking: "", fingers: new Map(),
    act: null, waiting: null, sending: 0, n: 0, view: [0, 0, 1, 1], px: 1, fault: "", url: "",
    hand: Math.random().toString(36).slice(2), send: () => {} };
  for (const [name, value] of Object.entries(data.colours)) root.style.setProperty(`--${name}`, value);
  listen(stage);
  adopt(stage, data);
  return stage;
}

function listen(stage) {
  const ending = new AbortController();
  const { box } = stage.parts;
  const on = (name, act, options = {}) =>
    box.addEventListener(name, (event) => act(stage, event), { ...options, signal: ending.signal });
  on("pointerdown", pressed);
  on("pointermove", dragged);
  on("pointerup", released);
  on("pointercancel", released);
  on("keydown", keyed);
  on("wheel", (_, event) => {
    event.preventDefault();
    zoomBy(stage, event.deltaY < 0 ? 1.15 : 1 / 1.15, toPhoto(stage, event));
  }, { passive: false });
  box.addEventListener("focusin", (event) => {
    const group = event.target.closest(".post");
    if (group && group.dataset.label !== stage.chosen) choose(stage, group.dataset.label);
  }, { signal: ending.signal });
  const watcher = new ResizeObserver(() => {
    if (!stage.sized) ear(stage);
    else showArea(stage, [stage.view[0], stage.view[1], stage.view[0] + stage.view[2],
      stage.view[1] + stage.view[3]]);
    stage.sized = stage.view[2] > 1;
  });
  watcher.observe(box);
  stage.end = () => { ending.abort(); watcher.disconnect(); clearTimeout(stage.sending); };
}

/* What Python has is shown, unless the hand here is ahead of it. */
function receive(stage, data) {
  const ours = data.heard && data.heard.hand === stage.hand;
  if (stage.act || stage.sending || (stage.n > 0 && !(ours && data.heard.n >= stage.n))) {
    stage.waiting = data;
    return;
  }
  stage.waiting = null;
  adopt(stage, data);
}

function adopt(stage, data) {
  const other = stage.url !== data.url;
  stage.data = data;
  stage.places = Object.fromEntries(data.posts.map(({ label, arc, lean }) => [label, { arc, lean }]));
  stage.earlier = data.earlier.map((each) => ({ ...each }));
  if (other) load(stage);
  redraw(stage);
  stage.root.dataset.plan = data.plan;
}

function load(stage) {
  const { photo } = stage.parts, { url, width, height } = stage.data;
  stage.url = url;
  delete stage.root.dataset.painted;
  const asked = new Image();
  asked.src = url;
  asked.decode().then(() => {
    photo.setAttribute("href", url);
    stage.root.dataset.painted = stage.data.photo;
  }, () => {
    stage.fault = "The photo could not be shown. Reload the page; nothing of the plan is lost.";
    refreshHint(stage);
  });
  for (const [name, value] of Object.entries({ x: -HALF, y: -HALF, width, height })) {
    photo.setAttribute(name, value);
  }
  stage.sized = false;
  ear(stage);
}

function redraw(stage) {
  drawRim(stage);
  drawEarlier(stage);
  drawPosts(stage);
  refreshRail(stage);
  refreshHint(stage);
}

export default function mount({ data, parentElement, setStateValue }) {
  let stage = parentElement.rimspanPlanning;
  if (stage && !stage.root.isConnected) {
    stage.end();
    stage = null;
  }
  const known = Boolean(stage);
  if (!known) stage = parentElement.rimspanPlanning = buildStage(parentElement, data);
  stage.send = (value) => setStateValue("document", value);
  if (known) receive(stage, data);
  return () => {
    if (stage.sending) sendNow(stage);
  };
}
