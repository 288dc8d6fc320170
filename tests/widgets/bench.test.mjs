// What the frame marker's bench works out in the browser, on its own. Run by test_frame_marker_geometry.py.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { test } from "node:test";

// The parts in one module, as the browser gets them.
const folder = new URL("../../casebook/widgets/parts/", import.meta.url);
const names = (await readdir(folder)).filter((name) => name.endsWith(".js")).sort();
const parts = await Promise.all(names.map((name) => readFile(new URL(name, folder), "utf-8")));
const source = Buffer.from(parts.join("\n"));
const { named, nextOffer, spanOf } = await import(`data:text/javascript;base64,${source.toString("base64")}`);

const moment = (x, text) => ({ x, text });

test("moments that stand apart all get their names", () => {
  const all = [moment(0, "entry"), moment(100, "catch"), moment(200, "exit")];
  assert.deepEqual([...named(all, 6)], all);
});

test("a name may run up to the next stem and not over it", () => {
  const a = moment(0, "catch"); // five letters of six, and six before them
  const far = [a, moment(36, "exit")], near = [a, moment(35, "exit")];
  assert.deepEqual([...named(far, 6)], far);
  assert.deepEqual([...named(near, 6)], [near[1]]);
});

test("a stretch holds from either end, and of one end reaches to the frame shown", () => {
  assert.equal(spanOf(null, null, 7), null);
  assert.deepEqual(spanOf(3, 9, 7), [3, 9]);
  assert.deepEqual(spanOf(9, 3, 7), [3, 9]);
  assert.deepEqual(spanOf(9, null, 7), [7, 9]);
  assert.deepEqual(spanOf(null, 5, 7), [5, 7]);
});

test("proposed frames are gone through in time order around the end, those still open first", () => {
  const offers = [[10, "", "", true], [20, "", "", false], [30, "", "", false], [40, "", "", true]];
  assert.equal(nextOffer(offers, 0, 1), 20);
  assert.equal(nextOffer(offers, 20, 1), 30);
  assert.equal(nextOffer(offers, 30, 1), 20);
  assert.equal(nextOffer(offers, 20, -1), 30);
  assert.equal(nextOffer(offers, 25, -1), 20);
});

test("once none is open all are gone through, and without any the frame stays", () => {
  const offers = [[10, "", "", true], [20, "", "", true]];
  assert.equal(nextOffer(offers, 10, 1), 20);
  assert.equal(nextOffer(offers, 20, 1), 10);
  assert.equal(nextOffer([], 5, 1), 5);
});
