// Pictures: what has arrived, what is on its way.

const BUDGET = 40e6; // picture pixels kept, four bytes each
const ON_THE_WAY = 2; // few, so that a new wish never waits behind old ones
const PLAYING = 4; // more, where it is known what comes next

function pictureShelf(send, arrived) {
  const shelf = new Map(), asked = new Set(); // the shelf's order is the order of use
  let wanted = [], held = 0, most = ON_THE_WAY;
  const key = (frame, width) => `${frame}/${width}`;
  function pump() {
    for (const [frame, width] of wanted) {
      if (asked.size >= most) return;
      const k = key(frame, width);
      if (shelf.has(k) || asked.has(k)) continue;
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
  return {
    get(frame, width) {
      const k = key(frame, width), image = take(k);
      if (image) store(k, image);
      return image;
    },
    has(frame, width) { return shelf.has(key(frame, width)); },
    want(list, atOnce = ON_THE_WAY) { [wanted, most] = [list, atOnce]; pump(); },
    async put(frame, width, bytes) {
      const k = key(frame, width);
      try {
        const image = await createImageBitmap(new Blob([bytes], { type: "image/jpeg" }));
        take(k)?.close();
        store(k, image);
        while (held > BUDGET && shelf.size > 1) take(shelf.keys().next().value).close();
      } finally { asked.delete(k); }
      arrived(frame);
      pump();
    },
    missed(frame, width) {
      asked.delete(key(frame, width));
      wanted = wanted.filter(([f]) => f !== frame);
      pump();
    },
    clear() { for (const image of shelf.values()) image.close(); shelf.clear(); },
  };
}
