/* The number follows the finger: while a point is dragged its marks are sent, too.

   At once, then every STREAM_MS at most, and only when the run before has ended: a document cuts
   short what the one before it began, and its number would never be seen.  The end of that run
   sends what waits. */

const STREAM_MS = 40, WAIT_MS = 30, PATIENCE_MS = 1000;

function streamed(stage) {
  if (stage.streaming) return;
  const due = STREAM_MS - (performance.now() - stage.streamedAt);
  stage.streaming = setTimeout(() => sendInTurn(stage), Math.max(due, 0));
}

function sendInTurn(stage) {
  clearTimeout(stage.streaming);
  const now = performance.now();
  const busy = stage.running && now - stage.streamedAt < PATIENCE_MS;
  stage.streaming = busy ? setTimeout(() => sendInTurn(stage), WAIT_MS) : 0;
  if (busy || !stage.root.isConnected) return;
  Object.assign(stage, { streamedAt: now, running: true });
  stage.flush();
}
