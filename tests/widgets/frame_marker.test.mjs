// The geometry that the frame marker exports, on its own. Run by test_frame_marker_geometry.py with `node --test`.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";

const source = await readFile(new URL("../../casebook/widgets/frame_marker.js", import.meta.url));
const {
  besideMarked, centredView, closest, edgeToEdge, endToSet, fetchOrder, nextOpen, settled, tickPath, toBox, toPicture,
  wholeView, zoomedView,
} = await import(`data:text/javascript;base64,${source.toString("base64")}`);

const SIZE = [1920, 1080], BOX = { width: 960, height: 540 }, PAGE = { left: 40, top: 25 };
const near = (a, b, tol = 1e-9) => a.forEach((v, i) => assert.ok(Math.abs(v - b[i]) <= tol, `${a} is not ${b}`));

// Hand-worked from the definition: pixel centres at integers, so the picture reaches from -0.5 to its size - 0.5.
test("the picture's outer corners are half a pixel outside the first and last centres", () => {
  const view = wholeView(SIZE, BOX);
  near(toPicture([40, 25], PAGE, view), [-0.5, -0.5]);
  near(toPicture([40 + 960, 25 + 540], PAGE, view), [1919.5, 1079.5]);
});

test("at two picture pixels per screen pixel, the first screen pixel's middle lies between four picture pixels", () => {
  near(toPicture([40.5, 25.5], PAGE, wholeView(SIZE, BOX)), [0.5, 0.5]);
});

test("a picture narrower than its box is centred", () => {
  const view = wholeView([100, 100], { width: 300, height: 200 });
  assert.deepEqual(view, { scale: 2, left: 50, top: 0 });
  near(toPicture([50, 0], { left: 0, top: 0 }, view), [-0.5, -0.5]);
});

test("fractions of a screen pixel survive", () => {
  const view = { scale: 4, left: -100, top: -60 };
  near(toPicture([10.25, 20.75], { left: 0, top: 0 }, view), [110.25 / 4 - 0.5, 80.75 / 4 - 0.5]);
});

test("to the box and back is the same place, for views of all kinds", () => {
  let seed = 7;
  const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  for (let i = 0; i < 500; i++) {
    const view = { scale: 0.1 + 30 * random(), left: 900 * (random() - 0.8), top: 900 * (random() - 0.8) };
    const xy = [1920 * random(), 1080 * random()];
    near(toPicture(toBox(xy, view), { left: 0, top: 0 }, view), xy, 1e-9);
  }
});

test("zooming keeps the place under the pointer", () => {
  const at = [610, 222], before = wholeView(SIZE, BOX), origin = { left: 0, top: 0 };
  const after = zoomedView(before, at, 5, SIZE, BOX);
  assert.equal(after.scale, 2.5);
  near(toPicture(at, origin, after), toPicture(at, origin, before));
});

test("zooming out ends at the whole picture and zooming in at single pixels", () => {
  assert.deepEqual(zoomedView({ scale: 3, left: -900, top: -20 }, [5, 5], 1e-6, SIZE, BOX), wholeView(SIZE, BOX));
  assert.equal(zoomedView(wholeView(SIZE, BOX), [5, 5], 1e6, SIZE, BOX).scale, 32);
  // A picture so small that it already fills the box at more than that does not shrink.
  assert.equal(zoomedView(wholeView([10, 10], BOX), [5, 5], 9, [10, 10], BOX).scale, 54);
});

test("no margin shows beside a picture that could fill the box", () => {
  assert.deepEqual(settled({ scale: 1, left: 30, top: -2000 }, SIZE, BOX), { scale: 1, left: 0, top: -540 });
});

test("a point is brought to the middle as far as the picture reaches", () => {
  near(toBox([800, 500], centredView({ scale: 2, left: 0, top: 0 }, [800, 500], SIZE, BOX)), [480, 270]);
  assert.equal(centredView({ scale: 2, left: -50, top: -50 }, [0, 0], SIZE, BOX).left, 0);
});

test("the closest mark within reach is taken, and none beyond", () => {
  const marks = { a: [10, 10], b: [14, 10] };
  assert.equal(closest(marks, [12.5, 10], 9), "b");
  assert.equal(closest(marks, [30, 10], 9), null);
});

test("frames ahead of the coach are fetched first, all inside the shot", () => {
  assert.deepEqual(fetchOrder(50, 1, 0, 100).slice(0, 4), [50, 51, 52, 49]);
  assert.deepEqual(fetchOrder(50, -1, 0, 100).slice(0, 4), [50, 49, 48, 51]);
  for (const n of fetchOrder(99, 1, 90, 100)) assert.ok(n >= 90 && n < 100);
});

test("the next marked frame is found in both directions, and the frame itself where there is none", () => {
  const marked = [[4, 1], [9, 4], [30, 2]];
  assert.equal(besideMarked(marked, 9, 1), 30);
  assert.equal(besideMarked(marked, 9, -1), 4);
  assert.equal(besideMarked(marked, 30, 1), 30);
  assert.equal(besideMarked([], 3, -1), 3);
});

test("single marked frames are ticks, a run of them is one outline", () => {
  assert.equal(tickPath([[10, 4], [14, 2]], 10, 4), "M0.5 1L0.5 0.00M4.5 1L4.5 0.33");
  assert.equal(tickPath([[3, 4], [4, 4]], 0, 4), "M3.5 1L3.5 0.00M4.5 1L4.5 0.00");
  assert.equal(tickPath([[3, 4], [4, 2], [5, 4]], 0, 4), "M3.5 1L3.5 0.00L4.5 0.33L5.5 0.00V1");
  assert.equal(tickPath([], 0, 4), "");
});

test("after a point is set, the choice goes to the next open one and around the end", () => {
  const done = (p) => p === "b" || p === "c";
  assert.equal(nextOpen(["a", "b", "c"], "b", done), "a");
  assert.equal(nextOpen(["a", "b", "c"], "a", (p) => p !== "c"), "c");
  assert.equal(nextOpen(["a"], "a", () => true), null);
});

test("a line runs from edge to edge of the picture", () => {
  // A rise of 1 in 10 through (50, 40), by hand, as in test_scene.py.
  const [a, b] = edgeToEdge([50, 40], [150, 50], [200, 100]);
  near(a, [-0.5, 34.95]);
  near(b, [199.5, 54.95]);
  assert.equal(edgeToEdge([0, -20], [199, -10], [200, 100]), null);
  assert.equal(edgeToEdge([20, 20], [20, 20], [200, 100]), null);
});

test("a press sets the first end, the other end, then the nearer one", () => {
  assert.equal(endToSet([], [5, 5]), 0);
  assert.equal(endToSet([[5, 5]], [90, 5]), 1);
  assert.equal(endToSet([[5, 5], [90, 5]], [30, 9]), 0);
  assert.equal(endToSet([[90, 5], [5, 5]], [30, 9]), 1);
});
