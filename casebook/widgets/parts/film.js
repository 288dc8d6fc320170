// Film: short runs of small coded pictures, decoded here picture by picture. clip/reel.py says what a reel holds.

const REEL_BYTES = 48e6; // kept
const AROUND = [0, 1, 2, -1], PLAYED = [0, 1, 2, 3]; // reels worth having, counted in the direction of moving
const TICK = 1e4; // a picture carries its frame as its time, in steps that no decoder rounds [us]
const TRIES = 3; // a browser may take its decoder back; if it fails time after time there is none
const OVERDUE = 4000; // a reel that was asked for so long ago is asked for again [ms]
const CODEC = "avc1.64001f"; // High profile, level 3.1 (RFC 6381): what 960 px ask for

/** The reels worth having at `frame`, the most wanted first; reels of `length` frames count from the clip's start. */
export function reelsAround(frame, direction, isPlaying, { length, start, stop }) {
  const here = Math.floor(frame / length), last = Math.floor((stop - 1) / length);
  return (isPlaying ? PLAYED : AROUND)
    .map((s) => here + s * direction)
    .filter((n) => n >= Math.floor(start / length) && n <= last);
}

/** Where in a reel decoding starts and ends for its picture `i`: from a key to before the next. */
export function groupOf(keys, i) {
  const next = keys.indexOf(true, i + 1);
  return [keys.lastIndexOf(true, i), next < 0 ? keys.length : next];
}

/** `send` asks for reels; `has(n)` is whether frame n need not be decoded; `decoded(n, image)` takes a picture;
 *  `changed()` hears that more can be decoded than before, or that nothing can. */
function filmRoll({ span, send, has, decoded, changed }) {
  const reels = new Map(); // the order is the order of use
  const asked = new Set();
  let isOn = false, isClosed = false, decoder = null, made = null, failures = 0, askedAt = 0;
  const numberOf = (frame) => Math.floor(frame / span.length);
  const placeIn = (reel, frame) => reel?.frames.get(frame);

  async function tryOut() {
    try {
      const { supported } = await VideoDecoder.isConfigSupported(settings(CODEC));
      isOn = supported && !isClosed;
    } catch { /* A page that is not served securely, or an old browser, has no such thing. */ }
    if (isOn) changed();
  }
  const settings = (codec) => ({ codec, optimizeForLatency: true });

  function opened(codec) {
    if (decoder?.state === "configured" && decoder.codec === codec) return decoder;
    if (decoder && decoder.state !== "closed") decoder.close();
    decoder = new VideoDecoder({ output: (picture) => made ? made.push(keep(picture)) : picture.close(), error: () => {} });
    decoder.configure(settings(codec));
    decoder.codec = codec;
    return decoder;
  }
  async function keep(picture) {
    const frame = Math.round(picture.timestamp / TICK);
    try {
      if (!has(frame) && !isClosed) decoded(frame, await createImageBitmap(picture));
    } finally { picture.close(); }
    return frame;
  }
  async function decode(frame) {
    const reel = reels.get(numberOf(frame)), [from, to] = groupOf(reel.keys, placeIn(reel, frame));
    made = [];
    try {
      const running = opened(reel.codec);
      for (let i = from; i < to; i++) {
        const data = reel.data.subarray(i ? reel.ends[i - 1] : 0, reel.ends[i]);
        const type = reel.keys[i] ? "key" : "delta";
        running.decode(new EncodedVideoChunk({ type, timestamp: reel.numbers[i] * TICK, data }));
      }
      await running.flush();
      const came = new Set(await Promise.all(made));
      // What does not come out of it is fetched as a single picture instead.
      for (const n of reel.numbers.slice(from, to)) if (!came.has(n)) reel.frames.delete(n);
      failures = 0;
    } catch {
      failures += 1;
      isOn &&= failures < TRIES;
    }
    made = null;
    if (!isClosed) changed();
  }
  function forget() {
    let held = 0;
    for (const reel of reels.values()) held += reel.data.length;
    for (const [number, reel] of reels) {
      if (held <= REEL_BYTES || reels.size < 2) return;
      held -= reel.data.length;
      reels.delete(number);
    }
  }
  tryOut();
  return {
    get isOn() { return isOn; },
    holds(frame) { return isOn && placeIn(reels.get(numberOf(frame)), frame) !== undefined; },
    isComing(frame) { return isOn && asked.has(numberOf(frame)); },
    /** Decodes the frame and its neighbours, unless decoding is under way. */
    fetch(frame) { if (!made) decode(frame); },
    want(frame, direction, isPlaying) {
      if (!isOn) return;
      const wanted = reelsAround(frame, direction, isPlaying, span);
      for (const number of [...wanted].reverse()) {
        const reel = reels.get(number);
        if (reel) { reels.delete(number); reels.set(number, reel); }
      }
      const missing = wanted.filter((number) => !reels.has(number)), now = performance.now();
      if (missing.every((number) => asked.has(number)) && (now - askedAt < OVERDUE || !missing.length)) return;
      asked.clear();
      for (const number of missing) asked.add(number);
      askedAt = now;
      send({ do: "film", want: missing });
    },
    take({ number, frames, ends, keys, codec }, data) {
      asked.delete(number);
      reels.set(number, {
        numbers: frames, ends, keys, codec, frames: new Map(frames.map((frame, i) => [frame, i])),
        data: new Uint8Array(data.buffer, data.byteOffset, data.byteLength),
      });
      forget();
      changed();
    },
    close() {
      isOn = false;
      isClosed = true;
      if (decoder && decoder.state !== "closed") decoder.close();
      reels.clear();
    },
  };
}
