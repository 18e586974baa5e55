/* Asks the server for help.  Nothing waits for an answer; one that comes too late is dropped. */

const ASK_MS = 80, SLOW_MS = 500, LIMIT_MS = 10000;

/* Whether there is help here: not without a server that offers it, and not in a pass that marks
   the same points again, while the first marks are held back. */
const helps = (stage) => Boolean(stage.help) && !stage.model.marks.held;

/* Returns the answer, {fault} where there is none, or null once a newer question was asked. */
async function ask(stage, lane, question) {
  const { help } = stage;
  const turn = stage.turns[lane] = (stage.turns[lane] || 0) + 1;
  const answer = await fetched(help.url, { photo: help.photo, ...question });
  const holds = stage.turns[lane] === turn && stage.help && stage.help.photo === help.photo;
  return holds && helps(stage) ? answer : null;
}

async function fetched(url, question) {
  try {
    const got = await fetch(url, { method: "POST", body: JSON.stringify(question),
      headers: { "Content-Type": "application/json" }, signal: AbortSignal.timeout(LIMIT_MS) });
    if (got.ok) return await got.json();
    console.warn("marking help:", got.status);
    return { fault: got.status === 403 ? "Reload the page for help; no mark is lost." : "" };
  } catch (error) {
    console.warn("marking help:", error.message);
    return { fault: "" };
  }
}
