/* A later visit: the earlier outline over a photo whose view isn't the earlier one. */

/* The earlier outline tells where the rim would be seen from there; it is drawn only where the
   view is refused: beside one's own marks it would draw the hand. */
function drawEarlier({ model, view }) {
  const earlier = (model.recheck || {}).earlier || {};
  return Object.values(earlier).flatMap((line, i) => {
    const places = line.map((point) => toScreen(view, point));
    const top = places.reduce((a, b) => (b[1] < a[1] ? b : a));
    const said = i ? [] : words("the earlier outline", top, [0, -14]);
    return [...cased(pathOf(places), 1.6, { dash: "3 7" }), ...said];
  });
}

/* Whether the view is refused may change once the other photo is marked. */
function learnRecheck(stage, data) {
  const { model } = stage, offers = (data.several || {}).offers || MAIN;
  model.recheck = data.recheck || null;
  if (!model.recheck || String(offers) === String(model.offers)) return;
  model.offers = offers;
  model.step = nextStep(model);
  buildTools(stage);
}
