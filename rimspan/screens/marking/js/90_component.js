/* Mounts the marking and keeps it over reruns. */

const BELOW_PX = 84;

function buildStage(parent, data) {
  const root = parent.querySelector(".marking");
  const find = (part) => root.querySelector(`[data-part="${part}"]`);
  const stage = {
    root, side: data.side, area: data.area, frame: find("frame"), box: find("box"),
    canvas: find("photo"), loupe: find("loupe"),
    layers: { lines: find("lines"), points: find("points"), ghost: find("ghost") },
    levels: [], fingers: new Map(), act: null, hover: null, keyboard: false, space: false,
    top: 0, view: newView(data.width, data.height), model: newModel(data), send: () => {},
  };
  learnWho(stage, data.who);
  stage.align = () => align(stage);
  stage.redraw = () => requestPaint(stage);
  stage.flush = () => sendNow(stage);
  stage.changed = (now = false) => changed(stage, now);
  beginHand(stage, data);
  buildTools(stage);
  buildAssist(stage, data);
  listen(stage);
  load(stage, data);
  return stage;
}

function listen(stage) {
  const ending = new AbortController();
  const on = (target, name, act, options = {}) =>
    target.addEventListener(name, act, { ...options, signal: ending.signal });
  listenToPointers(stage, on);
  listenToKeys(stage, on);
  on(window, "pagehide", stage.flush);
  on(window, "blur", stage.flush);
  on(window, "online", () => sendAgain(stage));
  on(window, "resize", () => { measureTop(stage); settle(stage); });
  on(document, "scroll", stage.align, { capture: true, passive: true });
  const watcher = new ResizeObserver(() => settle(stage));
  watcher.observe(stage.frame);
  stage.end = () => {
    ending.abort();
    watcher.disconnect();
    cancelAnimationFrame(stage.painting);
    clearTimeout(stage.resending);
    clearTimeout(stage.goingOn);
    dropLevels(stage);
  };
}

/* Another photo, or a newer revision from Python, replaces what is here; nothing else does. */
function receive(stage, data) {
  learnHelp(stage, data);
  stage.side = data.side;
  stage.area = data.area;
  learnWho(stage, data.who);
  if (stage.model.photo !== data.photo) {
    stage.flush();
    stage.view = newView(data.width, data.height);
    stage.model = newModel(data);
    beginHand(stage, data);
    load(stage, data);
  } else if (data.revision > stage.model.rev) {
    remember(stage.model);
    Object.assign(stage.model,
      { marks: fullMarks(data.marks), rev: data.revision, chosen: null });
    letGo(stage);
    stage.told = copy(stage.model.marks);
  }
  stage.model.others = othersOf(data);
  learnRecheck(stage, data);
  hear(stage, data);
  learnLabels(stage.model, data.labels);
  if (data.url !== stage.url || stage.fault) load(stage, data);
  stage.redraw();
}

async function load(stage, data) {
  stage.url = data.url;
  stage.tiles = newTiles(data);
  stage.fault = "";
  delete stage.root.dataset.painted;
  dropLevels(stage);
  const image = new Image();
  image.src = data.url;
  try {
    await image.decode();
    if (stage.url !== data.url) return;
    const [width, height] = data.tiles ? data.tiles.preview_size : [data.width, data.height];
    if (image.naturalWidth !== width || image.naturalHeight !== height) {
      throw new Error(`${image.naturalWidth} x ${image.naturalHeight}`);
    }
    stage.levels = halved(image);
  } catch (error) {
    stage.fault = "The photo could not be shown. Reload the page; no mark is lost.";
    console.warn("marking:", error.message);
  }
  stage.view.boxWidth = 0;
  measureTop(stage);
  settle(stage);
  if (stage.view.fitted && earOf(stage)) showArea(stage.view, earOf(stage));
  stage.redraw();
}

/* The size of the box: as wide as there is room, and with the line below it in the window. */
function settle(stage) {
  const { frame, box, view } = stage;
  const width = Math.floor(frame.clientWidth - 1);
  if (width < 40) return;
  const high = window.innerHeight;
  const most = Math.max(300, Math.round(high - BELOW_PX - stage.top));
  const least = Math.min(Math.round(high * 0.46), Math.round(width * 1.3));
  const wanted = Math.round((width * view.height) / view.width);
  const height = Math.max(Math.min(wanted, most), least);
  if (width !== view.boxWidth || height !== view.boxHeight) {
    Object.assign(view, { boxWidth: width, boxHeight: height });
    box.style.width = `${width}px`;
    box.style.height = `${height}px`;
    if (view.fitted) fit(view);
    else hold(view);
  }
  align(stage);
  stage.redraw();
}

/* How far down the window the photo begins; on a page that is scrolled, as it was before. */
function measureTop(stage) {
  const top = stage.frame.getBoundingClientRect().top;
  stage.top = Math.min(Math.max(top, 0), 0.42 * window.innerHeight);
}

/* The box on whole CSS pixels, or the browser paints it up to half a pixel off. */
function align({ box, frame }) {
  const { left, top } = frame.getBoundingClientRect();
  box.style.left = `${Math.ceil(left - 0.001) - left}px`;
  box.style.top = `${Math.ceil(top - 0.001) - top}px`;
}

function requestPaint(stage) {
  if (stage.painting) return;
  stage.painting = requestAnimationFrame(() => {
    stage.painting = 0;
    considerLines(stage);
    considerOthers(stage);
    refreshTools(stage);
    refreshAssist(stage);
    if (!stage.levels.length) return;
    paintPhoto(stage);
    paintLoupe(stage);
    drawMarks(stage);
    Object.assign(stage.root.dataset, { painted: stage.model.photo, step: stage.model.step || "" });
  });
}

export default function mount({ data, parentElement, setStateValue }) {
  let stage = parentElement.rimspanMarking;
  if (stage && !stage.root.isConnected) {
    stage.end();
    stage = null;
  }
  const known = Boolean(stage);
  if (!known) stage = parentElement.rimspanMarking = buildStage(parentElement, data);
  stage.send = (value) => setStateValue("document", value);
  if (known) receive(stage, data);
  return () => leave(stage);
}
