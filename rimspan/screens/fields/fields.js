/* Fields of the page: none is left behind unsent, and Enter goes on to the next. */

const LINK = '[data-testid="stPageLink-NavLink"]';
const FIELD = ".stNumberInput input, .stTextInput input";
const APP = "[data-test-script-state]";
const LEAST_MS = 60, MOST_MS = 700, LEFT_MS = 300;

let edited = null;

function typed(event) {
  if (event.target.matches(FIELD)) edited = event.target;
}

/* A field that was left some time ago has sent its text, as has one in which Enter was pressed. */
function left(event) {
  const field = event.target;
  if (field !== edited) return;
  if (event.type === "keydown" && event.key !== "Enter") return;
  setTimeout(() => { if (edited === field) edited = null; }, event.type === "keydown" ? 0 : LEFT_MS);
}

/* A link that is pressed while a field's text is unsent waits for that text to go first. */
function pressed(event) {
  const link = event.target.closest && event.target.closest(LINK);
  if (!link || !edited || !edited.isConnected) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  edited.blur();
  edited = null;
  follow(link.getAttribute("href"), performance.now());
}

/* The text is on its way once the page is run for it; a field that was left as it was sends none. */
function follow(address, began) {
  const waited = performance.now() - began;
  const app = document.querySelector(APP);
  const sent = app && app.dataset.testScriptState !== "notRunning";
  if ((sent && waited > LEAST_MS) || waited > MOST_MS) {
    const links = [...document.querySelectorAll(LINK)];
    const link = links.find((each) => each.getAttribute("href") === address);
    if (link) link.click();
    return;
  }
  setTimeout(() => follow(address, began), 20);
}

/* Where fields stand side by side, Enter goes to the one beside. */
function entered(event) {
  if (event.key !== "Enter" || !event.target.matches(FIELD)) return;
  const column = event.target.closest('[data-testid="stColumn"]');
  if (!column) return;
  const place = [...column.querySelectorAll(FIELD)].indexOf(event.target);
  const beside = column.nextElementSibling;
  const next = beside && beside.querySelectorAll(FIELD)[place];
  if (!next) return;
  next.focus();
  next.select();
}

export default function mount() {
  if (window.rimspanFields) window.rimspanFields.abort();
  const ending = window.rimspanFields = new AbortController();
  const on = (name, act, capture) =>
    document.addEventListener(name, act, { capture, signal: ending.signal });
  on("input", typed, true);
  on("click", pressed, true);
  on("keydown", left, true);
  on("focusout", left, true);
  on("keydown", entered, false);
  return () => ending.abort();
}
