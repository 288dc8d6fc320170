// Reels, groups and ticks on the browser's side. Run by test_frame_marker_pictures.py with `node --test`.
import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { test } from "node:test";

const folder = new URL("../../casebook/widgets/parts/", import.meta.url);
const names = (await readdir(folder)).filter((name) => name.endsWith(".js")).sort();
const parts = await Promise.all(names.map((name) => readFile(new URL(name, folder), "utf-8")));
const source = Buffer.from(parts.join("\n"));
const { columns, groupOf, reelsAround, tickBook } =
  await import(`data:text/javascript;base64,${source.toString("base64")}`);

const SPAN = { length: 48, start: 0, stop: 480 };
const packed = (...numbers) => new DataView(Int32Array.from(numbers).buffer);

test("reels are wanted where the coach is and is going, inside the frames marked here", () => {
  assert.deepEqual(reelsAround(100, 1, false, SPAN), [2, 3, 4, 1]);
  assert.deepEqual(reelsAround(100, -1, false, SPAN), [2, 1, 0, 3]);
  assert.deepEqual(reelsAround(479, 1, false, SPAN), [9, 8]);
  assert.deepEqual(reelsAround(100, 1, true, SPAN), [2, 3, 4, 5]);
  assert.deepEqual(reelsAround(100, 1, false, { length: 48, start: 97, stop: 150 }), [2, 3]);
});

test("decoding goes from a key to before the next", () => {
  const keys = [true, false, false, true, false, true, false, false];
  assert.deepEqual([0, 2, 3, 4, 5, 7].map((i) => groupOf(keys, i)), [[0, 3], [0, 3], [3, 5], [3, 5], [5, 8], [5, 8]]);
});

test("the ticks follow single changes and many at once", () => {
  const book = tickBook();
  book.reset(packed(3, 1, 9, 2));
  book.change([[5, 1], [9, 1], [3, 0], [1, 4], [20, 1], [7, 0]]);
  assert.deepEqual(book.list, [[1, 4], [5, 1], [9, 1], [20, 1]]);
  book.change(Array.from({ length: 300 }, (_, i) => [i + 2, i % 2]));
  assert.equal(book.list.length, 151);
  assert.deepEqual(book.list.slice(0, 3), [[1, 4], [3, 1], [5, 1]]);
  book.reset(packed());
  assert.deepEqual(book.list, []);
});

test("numbers that lie anywhere in a message are read", () => {
  const bytes = new ArrayBuffer(20);
  new Int32Array(bytes, 4).set([7, 1, 8, 2]);
  const book = tickBook();
  book.reset(new DataView(bytes, 4, 16));
  assert.deepEqual(book.list, [[7, 1], [8, 2]]);
});

test("a strip of more frames than columns shows the fullest frame of each column", () => {
  assert.deepEqual(columns([[12, 1], [14, 3]], 10, 20), { span: 10, list: [[2, 1], [4, 3]] });
  const long = Array.from({ length: 36000 }, (_, n) => [n, n === 100 ? 9 : 1]);
  const { span, list } = columns(long, 0, 36000);
  assert.equal(span, list.length);
  assert.ok(span <= 2000);
  assert.deepEqual(list[Math.floor((100 * span) / 36000)][1], 9);
});
