// Inset: the source's own pixels around the place at hand, beside it.

const CLOSE = 8; // screen px per picture px
const INSET = 168, APART = 30; // its side, and its distance from the place in both directions [screen px]

/** Side of the inset in a box of this size, larger where it is seen from afar. */
export function insetSide(box) {
  const room = 0.36 * Math.min(box.width, box.height);
  return Math.round(Math.min(INSET * Math.max(1, Math.min(1.5, box.width / 800)), room));
}

/** Upper left corner [left, top] of an inset beside the place `at` in the box: below and to the right of it where there
 *  is room, else on the other side. It never covers the place; null where it would have to. */
export function insetPlace(at, side, box) {
  const room = [box.width, box.height];
  const corner = at.map((v, i) => (v + APART + side <= room[i] ? v + APART : v - APART - side));
  const held = corner.map((v, i) => Math.max(0, Math.min(room[i] - side, v)));
  const covers = held.every((v, i) => at[i] > v - APART / 2 && at[i] < v + side + APART / 2);
  return covers ? null : held;
}

/** View of the picture through an inset: the picture point `xy` in the middle of it. */
export function insetView(xy, side) {
  return { scale: CLOSE, left: side / 2 - (xy[0] + 0.5) * CLOSE, top: side / 2 - (xy[1] + 0.5) * CLOSE };
}

/** Draw what the inset sees of an image that stands for a picture of this size. */
function drawInset(g, image, size, xy, side) {
  const { scale, left, top } = insetView(xy, side);
  g.clearRect(0, 0, side, side);
  g.imageSmoothingEnabled = image.width < size[0]; // the source's pixels stay squares
  g.drawImage(image, left, top, size[0] * scale, size[1] * scale);
}
