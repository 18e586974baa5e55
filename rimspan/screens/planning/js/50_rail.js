/* The few things one can do now, as buttons for a thumb. */

function button(text, act, label) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  if (label) made.setAttribute("aria-label", label);
  made.addEventListener("click", act);
  return made;
}

const pressable = (made, on) => { made.setAttribute("aria-pressed", String(on)); return made; };

function refreshRail(stage) {
  const { parts, data, chosen } = stage;
  const known = data.posts.some(({ label }) => label === chosen);
  if (!known) stage.chosen = data.posts.length ? data.posts[0].label : "";
  const label = stage.chosen;
  const signature = JSON.stringify([stage.look, label, stage.marking, data.posts.map((p) => p.label)]);
  if (stage.railed === signature) return;
  stage.railed = signature;
  const held = stage.root.getRootNode().activeElement;
  const name = held && held.tagName === "BUTTON" ? held.getAttribute("aria-label") || held.textContent : "";
  const by = (mm, lean) => () => {
    const { arc, lean: old } = stage.places[stage.chosen];
    moved(stage, stage.chosen, arc + mm, old + lean);
  };
  parts.look.replaceChildren(...Object.entries(LOOKS).map(([look, words]) => pressable(
    button(words, () => { stage.look = look; redraw(stage); }), stage.look === look)));
  parts.choose.replaceChildren(...data.posts.map((post) => pressable(
    button(post.label, () => choose(stage, post.label), `Choose post ${post.label}`),
    post.label === label)));
  parts.move.replaceChildren(...(label ? [
    button("½ mm forward", by(-0.5, 0), `Move ${label} half a millimetre forward`),
    button("½ mm back", by(0.5, 0), `Move ${label} half a millimetre back`),
    button("Lean forward", by(0, -2), `Lean ${label} two degrees forward`),
    button("Lean back", by(0, 2), `Lean ${label} two degrees back`)] : []));
  const marking = (kind, words) => pressable(button(words, () => {
    stage.marking = stage.marking === kind ? "" : kind;
    stage.tapped = [];
    redraw(stage);
  }), stage.marking === kind);
  parts.mark.replaceChildren(marking("hole", "Mark a piercing"), marking("bar", "Mark a bar"));
  parts.zoom.replaceChildren(
    button("−", () => zoomBy(stage, 1 / 1.5), "Zoom out"), button("+", () => zoomBy(stage, 1.5), "Zoom in"),
    button("Ear", () => ear(stage), "Show the ear"), button("Whole", () => whole(stage), "Show the whole photo"));
  if (name) {
    const again = [...stage.root.querySelectorAll("button")].find(
      (made) => (made.getAttribute("aria-label") || made.textContent) === name);
    if (again) again.focus({ preventScroll: true });
  }
}

function refreshHint(stage) {
  const words = stage.fault || (stage.marking === "hole" ? "Tap the middle of the piercing."
    : stage.marking === "bar" ? (stage.tapped.length ? "Tap the bar's other end." : "Tap one end of the bar.")
      : stage.look === "before" ? "Before: nothing is drawn. Choose First posts to see the plan."
        : stage.data.hint);
  if (stage.parts.hint.textContent !== words) stage.parts.hint.textContent = words;
  stage.root.classList.toggle("marking-earlier", Boolean(stage.marking));
}
