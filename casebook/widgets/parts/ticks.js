// Ticks: which frames are marked, kept up to date by what changed.

const COLUMNS = 1200; // the strip has no more pixels than about this
const MANY = 200; // changes of more frames than this are sorted in at once

/** The marked frames in order, each with its number of marks. */
export function tickBook() {
  let list = [];
  function place(frame) {
    let low = 0, high = list.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (list[middle][0] < frame) low = middle + 1; else high = middle;
    }
    return low;
  }
  return {
    get list() { return list; },
    /** All anew: 32-bit numbers, frame and count in turn. */
    reset(data) {
      const numbers = new Int32Array(data.buffer.slice(data.byteOffset, data.byteOffset + data.byteLength));
      list = Array.from({ length: numbers.length / 2 }, (_, i) => [numbers[2 * i], numbers[2 * i + 1]]);
    },
    /** Pairs of a frame and its new count; 0 takes it out. */
    change(pairs) {
      if (pairs.length > MANY) {
        list = [...new Map([...list, ...pairs])].filter(([, count]) => count).sort((a, b) => a[0] - b[0]);
        return;
      }
      for (const [frame, count] of pairs) {
        const at = place(frame), isThere = list[at]?.[0] === frame;
        list.splice(at, isThere ? 1 : 0, ...(count ? [[frame, count]] : []));
      }
    },
  };
}

/** The ticks on a strip of `span` columns, counted from 0: of frames that share a column the fullest. */
export function columns(list, start, stop, most = COLUMNS) {
  const span = Math.min(most, stop - start), per = span / (stop - start), found = [];
  for (const [frame, count] of list) {
    const column = Math.floor((frame - start) * per), last = found.at(-1);
    if (last?.[0] === column) last[1] = Math.max(last[1], count);
    else found.push([column, count]);
  }
  return { span, list: found };
}

/** Numbers that came as the bytes of 64-bit floats. */
function floats({ buffer, byteOffset, byteLength }) {
  return new Float64Array(buffer.slice(byteOffset, byteOffset + byteLength));
}

/** Asks how frames around the coach stand, a reel's length at a time and each only once, so that their marks are here
 *  before they are. */
function statesAround({ send, span: { start, stop, length } }) {
  const asked = new Set(), block = (frame) => Math.floor(frame / length);
  return {
    want(frame, direction) {
      for (const n of [frame, frame + direction * (length >> 1)]) {
        if (n < start || n >= stop || asked.has(block(n))) continue;
        asked.add(block(n));
        const from = Math.max(start, block(n) * length), to = Math.min(stop, (block(n) + 1) * length);
        send({ do: "states", start: from, stop: to });
      }
    },
    forget(frame) { asked.delete(block(frame)); },
  };
}
