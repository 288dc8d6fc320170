// The geometry that the frame marker exports, on its own. Run by test_frame_marker_geometry.py with `node --test`.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { test } from "node:test";

// The parts in one module, as the browser gets them.
const folder = new URL("../../casebook/widgets/parts/", import.meta.url);
const names = (await readdir(folder)).filter((name) => name.endsWith(".js")).sort();
const parts = await Promise.all(names.map((name) => readFile(new URL(name, folder), "utf-8")));
const source = Buffer.from(parts.join("\n"));
const {
  FILMED, PLAIN, besideMarked, centredView, closest, edgeToEdge, endToSet, fading, fetchOrder, insetPlace, insetSide,
  insetView, lightMatrix, nextDue, nextOpen, paceKept, playOrder, player, putInLight, settled, tickPath, toBox,
  toPicture, waterOf, wholeView, zoomedView,
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

// ---- play

test("a frame is due one pool interval after the one before, times the divisor", () => {
  near([nextDue(100, 100, 0.04, 1)], [140]);
  near([nextDue(100, 100, 0.04, 8)], [420]);
});

test("a small delay is made good, a long one makes it slower instead of hurried", () => {
  near([nextDue(100, 112, 0.04, 1)], [140]);
  near([nextDue(100, 600, 0.04, 1)], [640]);
});

test("pictures are fetched in the order of playing, up to the shot's end", () => {
  assert.deepEqual(playOrder(96, 100), [96, 97, 98, 99]);
  assert.deepEqual(playOrder(7, 1000).slice(0, 3), [7, 8, 9]);
});

test("pool time over wall time is the pace that was kept", () => {
  assert.equal(paceKept([0, 100, 200], [0.05, 0.05], 2), 1);
  assert.equal(paceKept([0, 200, 400], [0.05, 0.05], 2), 0.5);
});

/** Plays a shot of 200 frames for `seconds` on a screen of 60 turns a second; pictures come `arriving` a second. */
function watch({ gap, divisor = 1, seconds, arriving = Infinity }) {
  const seen = [], turns = [];
  let now = 0, wasSlow = false, endings = 0;
  const play = player({
    gap: typeof gap === "function" ? gap : () => gap, stop: 200, show: (n) => seen.push([n, now]),
    ready: (n) => n <= (now / 1000) * arriving, ended: () => endings++, tick: (turn) => turns.push(turn),
  });
  play.pace(divisor);
  play.start(0);
  for (; now <= 1000 * seconds; now += 1000 / 60) {
    for (const turn of turns.splice(0)) turn(now);
    wasSlow ||= play.isSlow;
  }
  return { play, seen, wasSlow, endings, turns };
}

test("at each speed as many frames pass as the pool's times say, all in order", () => {
  for (const [divisor, count] of [[1, 60], [2, 30], [4, 15], [8, 7]]) {
    const { seen, wasSlow } = watch({ gap: 1 / 30, divisor, seconds: 2.05 });
    assert.deepEqual(seen.map(([n]) => n), seen.map((_, i) => i + 1));
    assert.ok(Math.abs(seen.length - count) <= 1, `${seen.length} frames, not ${count}`);
    assert.equal(wasSlow, false);
  }
});

test("uneven times are kept: after a gap of half a second the frame stands for so long", () => {
  const { seen } = watch({ gap: (n) => (n === 3 ? 0.5 : 0.05), seconds: 2 });
  assert.ok(Math.abs(seen[3][1] - seen[2][1] - 500) < 20);
  assert.ok(Math.abs(seen[2][1] - seen[1][1] - 50) < 20);
});

test("where pictures come too slowly it plays slower, skips none and says so", () => {
  const { seen, wasSlow } = watch({ gap: 1 / 30, seconds: 4, arriving: 12 });
  assert.deepEqual(seen.map(([n]) => n), seen.map((_, i) => i + 1));
  assert.ok(Math.abs(seen.length - 48) <= 1);
  assert.equal(wasSlow, true);
});

test("more frames than the screen can show are shown one a turn, which is slower too", () => {
  const { seen, wasSlow } = watch({ gap: 1 / 240, seconds: 2 });
  assert.deepEqual(seen.map(([n]) => n), seen.map((_, i) => i + 1));
  assert.equal(wasSlow, true);
});

test("it ends at the last frame and stands still once stopped", () => {
  const { play, seen, endings } = watch({ gap: 1 / 60, seconds: 5 });
  assert.equal(seen.at(-1)[0], 199);
  assert.equal(endings, 1);
  assert.equal(play.isOn, false);
  const other = watch({ gap: 1 / 30, seconds: 1 }), count = other.seen.length;
  assert.equal(other.play.halt(), true);
  for (const turn of other.turns.splice(0)) turn(5000);
  assert.equal(other.seen.length, count);
  assert.equal(other.play.halt(), false);
});

// ---- inset

test("the inset lies inside the box and never over its place", () => {
  for (const box of [{ width: 730, height: 411 }, { width: 1190, height: 670 }, { width: 340, height: 600 }]) {
    const side = insetSide(box);
    for (let x = 0; x <= box.width; x += 7)
      for (let y = 0; y <= box.height; y += 7) {
        const [left, top] = insetPlace([x, y], side, box);
        assert.ok(left >= 0 && top >= 0 && left + side <= box.width && top + side <= box.height);
        assert.ok(x < left - 10 || x > left + side + 10 || y < top - 10 || y > top + side + 10);
      }
  }
});

test("where the inset would have to cover its place there is none", () => {
  assert.equal(insetPlace([50, 50], 90, { width: 100, height: 100 }), null);
});

test("the inset has its place in the middle, at eight screen pixels per picture pixel", () => {
  const view = insetView([612.25, 300.5], 168);
  near(toBox([612.25, 300.5], view), [84, 84]);
  near(toBox([613.25, 300.5], view), [92, 84]);
});

// ---- light

test("as filmed, every byte stays", () => {
  const bytes = Uint8ClampedArray.from({ length: 400 }, (_, i) => (i * 37) % 256);
  assert.deepEqual(lightMatrix(FILMED, null), [...PLAIN]);
  assert.deepEqual(putInLight(bytes.slice(), lightMatrix(FILMED, null)), bytes);
});

test("brightness shifts all alike, contrast spreads about the middle, both held at the ends", () => {
  const lit = (light, bytes) => [...putInLight(Uint8ClampedArray.from(bytes), lightMatrix({ ...FILMED, ...light }))];
  // By hand: two steps of 0.06 x 255 are 30.6; one step of contrast is 1.18 about 127.5.
  assert.deepEqual(lit({ brightness: 2 }, [10, 100, 250, 255]), [41, 131, 255, 255]);
  assert.deepEqual(lit({ contrast: 1 }, [178, 78, 0, 9]), [187, 69, 0, 9]);
});

test("clear water lifts red, spreads each channel, and keeps the order of tones", () => {
  // A ramp as water leaves it: hardly any red, little range.
  const ramp = Uint8ClampedArray.from({ length: 4 * 64 }, (_, i) => [20 + i / 16, 80 + i / 4, 110 + i / 4, 255][i % 4]);
  const found = waterOf(ramp), lit = putInLight(ramp.slice(), lightMatrix({ ...FILMED, water: true }, found));
  const of = (bytes, c) => [...bytes].filter((_, i) => i % 4 === c);
  const mean = (list) => list.reduce((a, b) => a + b, 0) / list.length;
  const range = (list) => Math.max(...list) - Math.min(...list);
  assert.ok(found.lent > 0 && found.lent <= 0.6);
  assert.ok(mean(of(lit, 0)) / mean(of(lit, 1)) > 1.5 * (mean(of(ramp, 0)) / mean(of(ramp, 1))));
  for (const c of [0, 1, 2]) {
    assert.ok(range(of(lit, c)) > 1.5 * range(of(ramp, c)));
    assert.deepEqual(of(lit, c), of(lit, c).sort((a, b) => a - b));
  }
  assert.deepEqual(of(lit, 3), of(ramp, 3));
});

test("a picture that lacks no red is lent none", () => {
  assert.equal(waterOf(Uint8ClampedArray.from([200, 100, 90, 255, 180, 90, 60, 255])).lent, 0);
});

// ---- trail

test("the trail fades with the order of nearness on each side, five a side", () => {
  const trail = [3, 5, 8, 9, 10, 11, 14, 20].map((n) => [n, n, 0]);
  const dots = fading(trail, 12);
  assert.deepEqual(dots.filter((d) => !d.isAfter).map((d) => d.xy[0]), [11, 10, 9, 8, 5]);
  assert.deepEqual(dots.filter((d) => d.isAfter).map((d) => [d.xy[0], d.strength]), [[14, 1], [20, 0.8]]);
});
