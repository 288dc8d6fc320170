// Pictures: what has arrived, what is on its way. A frame comes out of the film where that is here, else by itself.

const BUDGET = 40e6; // picture pixels kept, four bytes each; but always
const KEPT = 56, FULL = 3; // so many of the usual size, which is more than are wanted at a time, and of the source's
const ON_THE_WAY = 2; // few, so that a new wish never waits behind old ones
const PLAYING = 4; // more, where it is known what comes next
const BEFORE_FILM = 3; // of the frames wanted, so many are fetched singly though their film is on its way

/** `send` asks Python; `arrived(n)` hears that frame n has a picture; `size` is the source's and `width` the usual one
 *  [px]; `span` says how long the film's reels are and which frames there are. */
function pictureShelf({ send, arrived, size, width: usual, span }) {
  const full = size[0] * size[1], budget = Math.max(BUDGET, full * (KEPT * (usual / size[0]) ** 2 + FULL));
  const shelf = new Map(), asked = new Set(); // the shelf's order is the order of use
  let wanted = [], held = 0, most = ON_THE_WAY, single = BEFORE_FILM, around = null;
  const key = (frame, width) => `${frame}/${width}`;
  const film = filmRoll({
    span, send,
    has: (frame) => shelf.has(key(frame, usual)),
    decoded(frame, image) { put(key(frame, usual), image); arrived(frame); },
    changed: () => pump(),
  });
  function pump() {
    if (around) film.want(...around);
    for (const [i, [frame, width]] of wanted.entries()) {
      const k = key(frame, width);
      if (shelf.has(k) || asked.has(k)) continue;
      if (width === usual && film.holds(frame)) { film.fetch(frame); continue; }
      if (asked.size >= most || (width === usual && i >= single && film.isComing(frame))) continue;
      asked.add(k);
      send({ do: "picture", frame, width });
    }
  }
  function take(k) {
    const image = shelf.get(k);
    if (image) { shelf.delete(k); held -= image.width * image.height; }
    return image;
  }
  function store(k, image) {
    shelf.set(k, image);
    held += image.width * image.height;
  }
  function put(k, image) {
    take(k)?.close();
    store(k, image);
    while (held > budget && shelf.size > 1) take(shelf.keys().next().value).close();
  }
  return {
    film,
    get(frame, width) {
      const k = key(frame, width), image = take(k);
      if (image) store(k, image);
      return image;
    },
    has(frame, width) { return shelf.has(key(frame, width)); },
    /** The pictures wanted, as [frame, width] with the most wanted first, and which way it goes on from there. */
    want(list, direction, isPlaying = false) {
      wanted = list;
      [most, single] = isPlaying ? [PLAYING, 0] : [ON_THE_WAY, BEFORE_FILM];
      around = [list[0][0], direction, isPlaying];
      pump();
    },
    async put(frame, width, bytes) {
      const k = key(frame, width);
      try {
        put(k, await createImageBitmap(new Blob([bytes], { type: "image/jpeg" })));
      } finally { asked.delete(k); }
      arrived(frame);
      pump();
    },
    missed(frame, width) {
      asked.delete(key(frame, width));
      wanted = wanted.filter(([f]) => f !== frame);
      pump();
    },
    clear() {
      film.close();
      for (const image of shelf.values()) image.close();
      shelf.clear();
    },
  };
}
