/* Mounts the marking, keeps it over reruns, sends whole documents to Python. */

const SEND_MS = 150;

function buildStage(parent, data) {
  const root = parent.querySelector(".marking");
  const find = (name) => root.querySelector(`.${name}`);
  const stage = {
    root, box: find("box"), canvas: find("photo"), loupe: find("loupe"), spots: find("spots"),
    rail: find("rail"), hint: find("hint"), image: new Image(), fingers: new Map(), act: null,
    view: newView(data.width, data.height), model: newModel(data.photo, data.marks, data.label),
    send: () => {}, ready: false,
  };
  stage.settle = () => settle(stage);
  stage.redraw = () => requestPaint(stage);
  stage.changed = (now = false) => { stage.redraw(); sendSoon(stage, now ? 0 : SEND_MS); };
  buildRail(stage);
  listen(stage);
  stage.watcher = new ResizeObserver(() => { settle(stage); stage.redraw(); });
  stage.watcher.observe(root);
  stage.leaving = () => sendSoon(stage, 0);
  window.addEventListener("pagehide", stage.leaving);
  load(stage, data);
  return stage;
}

function load(stage, data) {
  stage.ready = false;
  stage.url = data.url;
  stage.image.onload = () => {
    stage.ready = true;
    settle(stage);
    fit(stage.view);
    stage.redraw();
  };
  stage.image.onerror = () => {
    stage.hint.textContent = "The photo could not be loaded. Reload the page; no mark is lost.";
  };
  stage.image.src = data.url;
}

/* The box on whole CSS pixels, or the browser paints it up to half a pixel off. */
function settle(stage) {
  const { root, box, canvas, view } = stage;
  const width = Math.floor(root.clientWidth);
  if (!width) return;
  const most = Math.max(280, Math.round(window.innerHeight * 0.74));
  const height = Math.min(Math.round((width * view.height) / view.width), most);
  box.style.left = box.style.top = "0px";
  const frame = box.getBoundingClientRect();
  box.style.left = `${Math.round(frame.left) - frame.left}px`;
  box.style.top = `${Math.round(frame.top) - frame.top}px`;
  if (width === view.boxWidth && height === view.boxHeight) return;
  const ratio = window.devicePixelRatio || 1;
  box.style.height = `${height}px`;
  box.style.width = `${width}px`;
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  canvas.style.width = `${width}px`;
  canvas.style.height = `${height}px`;
  Object.assign(view, { boxWidth: width, boxHeight: height });
  if (view.fitted) fit(view);
  else hold(view);
}

function requestPaint(stage) {
  if (stage.painting || !stage.ready) return;
  stage.painting = requestAnimationFrame(() => {
    stage.painting = 0;
    drawAll(stage);
    refreshRail(stage);
    refreshSpots(stage);
    const { scale, x, y } = stage.view;
    Object.assign(stage.root.dataset, { painted: "yes", scale, x, y, step: stage.model.step });
  });
}

function sendSoon(stage, wait) {
  clearTimeout(stage.sending);
  const send = () => {
    const text = JSON.stringify(bareMarks(stage.model));
    if (text === stage.sent) return;
    stage.sent = text;
    stage.send({ rev: stage.model.rev, photo: stage.model.photo, marks: JSON.parse(text) });
  };
  if (wait) stage.sending = setTimeout(send, wait);
  else send();
}

export default function mount({ data, parentElement, setStateValue }) {
  let stage = parentElement.rimspanMarking;
  if (!stage || !stage.root.isConnected) {
    stage = buildStage(parentElement, data);
    stage.sent = JSON.stringify(bareMarks(stage.model));
    parentElement.rimspanMarking = stage;
  } else if (stage.model.photo !== data.photo) {
    stage.view = newView(data.width, data.height);
    stage.model = newModel(data.photo, data.marks, data.label);
    stage.sent = JSON.stringify(bareMarks(stage.model));
    load(stage, data);
  } else if (stage.url !== data.url && !stage.ready) {
    load(stage, data);
  }
  stage.send = (value) => setStateValue("document", value);
  stage.root.dataset.echo = String(data.rev);
  return () => {};
}
