/* No mark is lost: what is edited stays in this tab until Python says that it is kept.

   A message on a broken connection vanishes without a word, and a server that was started anew
   knows nothing of it.  So every document is numbered, under the name of the hand that made it;
   Python says up to which number it has kept a hand's documents; what is above that is sent
   again, and lies in the tab's own storage meanwhile, so that a reload loses nothing either.

   What can be undone goes to Python with the document and is kept in the draft: in the browser
   it would outlive the visit on a tablet that is shared, in the server's memory it would not
   outlive the server.  Signing drops it. */

const SEND_MS = 150;
const AGAIN_AFTER_MS = [3000, 3000, 5000, 10000];
const APART_MS = 100; // what comes at once goes to one fragment
const KEPT_STEPS = 20;
const WAITING = "Not kept yet: the program doesn't answer. The marks stay in this page and are "
  + "sent again by themselves. If this line stays, reload the page.";
const WHOLE_PAGE = ".st-key-marking-anew button";

const textOf = (stage) => JSON.stringify(bareMarks(stage.model.marks));
const storeName = ({ place }) => `rimspan unsent ${place}`;
const heardOf = (data, hand) => (data.held.heard || {})[hand] || 0;

/* Called when a photo's marks come into this page. */
function beginHand(stage, data) {
  clearTimeout(stage.resending);
  const hand = [...crypto.getRandomValues(new Uint32Array(3))].map((v) => v.toString(36)).join("");
  Object.assign(stage, { hand, place: `${data.key} ${data.photo}`, lasting: Boolean(data.held),
    n: 0, sentN: 0, heardN: 0, tries: 0, waiting: false, text: textOf(stage) });
  if (stage.lasting) takeUnsent(stage, data);
  stage.told = copy(stage.model.marks);
}

/* Takes up what this tab had when it was reloaded, if Python hasn't kept it. */
function takeUnsent(stage, data) {
  const unsent = readUnsent(stage);
  if (!unsent) return;
  const heard = heardOf(data, unsent.hand);
  if (unsent.n <= heard) {
    forgetUnsent(stage);
    return;
  }
  const { model } = stage;
  const others = data.held.last && data.held.last !== unsent.hand;
  const past = others ? [...unsent.undo.past, state(model)] : unsent.undo.past;
  Object.assign(model, { marks: fullMarks(unsent.marks), chosen: null, rev: unsent.rev,
    past: opened(past), future: opened(unsent.undo.future) });
  learnLabels(model, []);
  model.step = stepToGoOn(model);
  Object.assign(stage, { hand: unsent.hand, n: unsent.n, heardN: heard, text: textOf(stage) });
  setTimeout(stage.flush); // once there is a way to send
}

/* Python's word on what it has kept. */
function hear(stage, data) {
  if (!stage.lasting || !data.held) return;
  stage.heardN = Math.max(stage.heardN, heardOf(data, stage.hand));
  if (stage.heardN < stage.n) return;
  clearTimeout(stage.resending);
  Object.assign(stage, { tries: 0, waiting: false });
  forgetUnsent(stage);
}

/* Python replaced the marks: what was edited before is no longer to be sent. */
function letGo(stage) {
  clearTimeout(stage.sending);
  clearTimeout(stage.resending);
  Object.assign(stage, { text: textOf(stage), sentN: stage.n, heardN: stage.n, waiting: false });
  forgetUnsent(stage);
}

function changed(stage, now) {
  note(stage);
  const { model } = stage;
  stage.news = { words: changeWords(stage.told, model.marks), chosen: model.chosen };
  stage.told = copy(model.marks);
  clearTimeout(stage.sending);
  if (now) sendNow(stage);
  else stage.sending = setTimeout(stage.flush, SEND_MS);
  stage.redraw();
}

/* Numbers the marks if they are others than before, and lays them by. */
function note(stage) {
  const text = textOf(stage);
  if (text === stage.text) return;
  stage.text = text;
  stage.n += 1;
  if (!stage.lasting) return;
  try {
    sessionStorage.setItem(storeName(stage), JSON.stringify(documentOf(stage)));
  } catch (error) { // full, or forbidden: the page itself still holds them
    console.warn("marking:", error.message);
  }
}

function documentOf({ model, text, hand, n }) {
  const { rev, photo, past, future } = model;
  const steps = (list) => list.slice(-KEPT_STEPS)
    .map((step) => ({ ...step, marks: bareMarks(step.marks) }));
  return { rev, photo, hand, n, marks: JSON.parse(text),
    undo: { past: steps(past), future: steps(future) } };
}

function sendNow(stage) {
  clearTimeout(stage.sending);
  note(stage);
  if (stage.n <= Math.max(stage.sentN, stage.heardN)) return;
  stage.tries = 0;
  handOver(stage);
}

function handOver(stage) {
  stage.sentN = stage.n;
  clearTimeout(stage.resending);
  if (stage.lasting) {
    const wait = AGAIN_AFTER_MS[Math.min(stage.tries, AGAIN_AFTER_MS.length - 1)];
    stage.resending = setTimeout(() => sendAgain(stage), wait);
  }
  stage.send(documentOf(stage));
}

function sendAgain(stage) {
  if (!stage.lasting || stage.n <= stage.heardN || !stage.root.isConnected) return;
  stage.tries += 1;
  stage.waiting = true;
  handOver(stage);
  if (stage.tries > 1) setTimeout(askForThePage, APART_MS);
  stage.redraw();
}

/* A server that was started anew knows no fragment of this page, only the whole. */
function askForThePage() {
  const button = document.querySelector(WHOLE_PAGE);
  if (button) button.click();
}

function readUnsent(stage) {
  try {
    return JSON.parse(sessionStorage.getItem(storeName(stage)));
  } catch (error) {
    console.warn("marking:", error.message);
    return null;
  }
}

function forgetUnsent(stage) {
  try {
    sessionStorage.removeItem(storeName(stage));
  } catch (error) {
    console.warn("marking:", error.message);
  }
}

/* Sends what is left; once the page has let go of the marking, nothing of it stays behind. */
function leave(stage) {
  try {
    stage.flush();
  } catch (error) {
    console.warn("marking:", error.message);
  }
  setTimeout(() => { if (!stage.root.isConnected) stage.end(); });
}
