/* Tiles with the photo's own pixels, fetched where the preview is too coarse, and nowhere else. */

/* A preview that is drawn less than this much larger still looks sharp. */
const SOFT = 1.5;
const MOST_TILES = 24; // of four megabytes each; a view of more is far enough for the preview
const AT_ONCE = 6;
const AGAIN_MS = 1500;

const isTiled = ({ tiles }) => Boolean(tiles) && tiles.preview_size[0] < tiles.width;
const isSoft = (stage, scale) => isTiled(stage)
  && scale > (SOFT * stage.tiles.preview_size[0]) / stage.tiles.width;

function newTiles(data) {
  return data.tiles
    && { ...data.tiles, width: data.width, height: data.height, held: new Map(), coming: 0 };
}

/* The part of the photo in the box, [left, top, right, bottom], counted from a pixel's corner. */
const inSight = ({ scale, x, y, boxWidth, boxHeight }) =>
  [-x / scale, -y / scale, (boxWidth - x) / scale, (boxHeight - y) / scale];

/* The tiles of an area, those in its middle first. */
function tilesOf({ tiles }, [left, top, right, bottom]) {
  const { tile_px: side, width, height } = tiles;
  const first = (at) => Math.max(Math.floor(at / side), 0);
  const beyond = (at, most) => Math.ceil(Math.min(at, most) / side);
  const found = [];
  for (let row = first(top); row < beyond(bottom, height); row += 1) {
    for (let column = first(left); column < beyond(right, width); column += 1) {
      found.push({ name: `${column}_${row}`, left: column * side, top: row * side,
        width: Math.min(side, width - column * side),
        height: Math.min(side, height - row * side) });
    }
  }
  const middle = [(left + right) / 2, (top + bottom) / 2];
  const off = (tile) => apart([tile.left + tile.width / 2, tile.top + tile.height / 2], middle);
  return found.sort((a, b) => off(a) - off(b));
}

/* Draws what is there of an area, where the photo's corner (x, y) is at (x, y) * scale + shift,
   and asks for the rest; returns whether all is there. */
function drawTiles(stage, pen, area, scale, [dx, dy]) {
  const wanted = tilesOf(stage, area);
  if (wanted.length > MOST_TILES) return true;
  let whole = true;
  for (const tile of wanted) {
    const { image } = askFor(stage, tile);
    whole = whole && Boolean(image);
    if (image) pen.drawImage(image, tile.left * scale + dx, tile.top * scale + dy,
      tile.width * scale, tile.height * scale);
  }
  return whole;
}

/* Fetches beforehand what the loupe will show at a place of the photo. */
function expectLoupe(stage, at) {
  if (isTiled(stage)) tilesOf(stage, loupeArea(stage, at)).forEach((tile) => askFor(stage, tile));
}

/* Returns what is held of a tile; begins to fetch it where nothing is. */
function askFor(stage, tile) {
  const { tiles } = stage;
  const held = tiles.held.get(tile.name) || { tries: 0 };
  tiles.held.delete(tile.name); // the last asked for stay longest
  tiles.held.set(tile.name, held);
  for (const [name, old] of tiles.held) {
    if (tiles.held.size <= MOST_TILES + AT_ONCE) break;
    if (!old.coming) tiles.held.delete(name);
  }
  const rests = held.failed && performance.now() - held.failed < AGAIN_MS * held.tries;
  if (!held.image && !held.coming && !rests && tiles.coming < AT_ONCE) {
    fetchTile(stage, tiles, tile, held);
  }
  return held;
}

async function fetchTile(stage, tiles, tile, held) {
  held.coming = true;
  tiles.coming += 1;
  const image = new Image();
  image.src = `${tiles.tiles}${tile.name}.jpg`;
  try {
    await image.decode();
    if (image.naturalWidth !== tile.width || image.naturalHeight !== tile.height) {
      throw new Error(`tile ${tile.name} is ${image.naturalWidth} x ${image.naturalHeight}`);
    }
    held.image = image;
  } catch (error) { // the preview stands in meanwhile
    held.tries += 1;
    held.failed = performance.now();
    console.warn("marking:", error.message);
    setTimeout(() => { if (stage.tiles === tiles) stage.redraw(); }, AGAIN_MS * held.tries + 20);
  }
  held.coming = false;
  tiles.coming -= 1;
  if (stage.tiles === tiles) stage.redraw();
}
