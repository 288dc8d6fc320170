// Geometry: pure functions, tested on their own.

const DEEPEST = 32; // screen px per picture px when zoomed in all the way

/** View that shows the whole picture, centred. A view is the scale [screen px per picture px] and the place of the
 *  picture's outer top left edge in the box [screen px]. */
export function wholeView(size, box) {
  const scale = Math.min(box.width / size[0], box.height / size[1]);
  return { scale, left: (box.width - size[0] * scale) / 2, top: (box.height - size[1] * scale) / 2 };
}

/** Place on the page -> picture pixels. The picture's outer edge is at -0.5, since centres are at integers. */
export function toPicture(client, rect, view) {
  return [
    (client[0] - rect.left - view.left) / view.scale - 0.5,
    (client[1] - rect.top - view.top) / view.scale - 0.5,
  ];
}

/** Picture pixels -> place in the box; the inverse of toPicture for a box at the page's origin. */
export function toBox(xy, view) {
  return [(xy[0] + 0.5) * view.scale + view.left, (xy[1] + 0.5) * view.scale + view.top];
}

/** The same view pushed so far that no empty margin shows where the picture could fill the box. */
export function settled(view, size, box) {
  const axis = (at, extent, room) =>
    extent <= room ? (room - extent) / 2 : Math.min(0, Math.max(room - extent, at));
  return {
    scale: view.scale,
    left: axis(view.left, size[0] * view.scale, box.width),
    top: axis(view.top, size[1] * view.scale, box.height),
  };
}

/** Zoom by a factor so that the picture stays put under the place `at` in the box. */
export function zoomedView(view, at, factor, size, box) {
  const least = wholeView(size, box).scale;
  const scale = Math.min(Math.max(DEEPEST, least), Math.max(least, view.scale * factor));
  const k = scale / view.scale;
  return settled({ scale, left: at[0] - (at[0] - view.left) * k, top: at[1] - (at[1] - view.top) * k }, size, box);
}

/** View at the same scale with a picture point in the middle of the box, as far as the picture reaches. */
export function centredView(view, xy, size, box) {
  const [x, y] = toBox(xy, view);
  return settled(
    { scale: view.scale, left: view.left + box.width / 2 - x, top: view.top + box.height / 2 - y }, size, box);
}

/** Name of the mark closest to a picture point within `reach` [px], or null. */
export function closest(marks, xy, reach) {
  let best = null;
  for (const [name, [x, y]] of Object.entries(marks)) {
    const d = Math.hypot(x - xy[0], y - xy[1]);
    if (d <= reach) [best, reach] = [name, d];
  }
  return best;
}

/** The straight line through two picture points from edge to edge of the picture, or null if it misses it. */
export function edgeToEdge(a, b, size) {
  let low = -Infinity, high = Infinity;
  for (const i of [0, 1]) {
    const step = b[i] - a[i], near = -0.5, far = size[i] - 0.5;
    if (step === 0 && (a[i] < near || a[i] > far)) return null;
    if (step === 0) continue;
    const t = [(near - a[i]) / step, (far - a[i]) / step].sort((p, q) => p - q);
    [low, high] = [Math.max(low, t[0]), Math.min(high, t[1])];
  }
  if (!(low < high) || low === -Infinity) return null;
  return [low, high].map((t) => [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
}

/** Which end of a line a press at `xy` sets: the first, the other, and once both stand the one that is nearer. */
export function endToSet(ends, xy) {
  if (ends.length < 2) return ends.length;
  const [first, other] = ends.map(([x, y]) => Math.hypot(x - xy[0], y - xy[1]));
  return other < first ? 1 : 0;
}

/** Frames worth having around `frame`, the most wanted first, for a coach who moves in `direction` (1 or -1). */
export function fetchOrder(frame, direction, start, stop) {
  const steps = [0, 1, 2, -1, 3, 10, 4, -2, -10, 5, 6, 20];
  return steps.map((s) => frame + s * direction).filter((n) => n >= start && n < stop);
}

/** The marked frame next to `frame` in `direction`, or `frame` itself where there is none. */
export function besideMarked(marked, frame, direction) {
  const there = marked.map(([n]) => n).filter((n) => (n - frame) * direction > 0);
  return there.length ? Math[direction > 0 ? "min" : "max"](...there) : frame;
}

/** A point's trail for drawing: of its places [frame, x, y] on other frames, how near in order each one is to `frame`,
 *  from 1 for the nearest on its side down to 0, and whether it lies after. */
export function fading(trail, frame, most = 5) {
  const side = (places, isAfter) =>
    places.slice(0, most).map(([, x, y], i) => ({ xy: [x, y], strength: 1 - i / most, isAfter }));
  const before = trail.filter(([n]) => n < frame).sort((p, q) => q[0] - p[0]);
  const after = trail.filter(([n]) => n > frame).sort((p, q) => p[0] - q[0]);
  return [...side(before, false), ...side(after, true)];
}

/** Path of the strip's marks, x in frames from `start`, y from 1 at the foot to 0: a tick for a marked frame, an
 *  outline for a run of them, higher the more of the `full` points are set. */
export function tickPath(marked, start, full) {
  const at = ([n, count]) => `${n - start + 0.5} ${(0.65 * (1 - count / full)).toFixed(2)}`;
  const runs = [];
  for (const one of marked) {
    const last = runs.at(-1);
    if (last && one[0] === last.at(-1)[0] + 1) last.push(one);
    else runs.push([one]);
  }
  return runs
    .map((run) => (run.length < 3 ? run.map((one) => [one]) : [run]))
    .flat()
    .map((run) => `M${run[0][0] - start + 0.5} 1L${run.map(at).join("L")}${run.length > 1 ? "V1" : ""}`)
    .join("");
}

/** The first point after `from` in list order that is not yet dealt with, or null. */
export function nextOpen(points, from, done) {
  const i = points.indexOf(from);
  return [...points.slice(i + 1), ...points.slice(0, i + 1)].find((p) => !done(p)) ?? null;
}
