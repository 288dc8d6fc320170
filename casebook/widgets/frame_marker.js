// The frame marker's picture, strip and point list. Python holds the marks; this module draws them and sends wishes.
// Coordinates are picture pixels with centres at integers; screen lengths are CSS pixels. It is one module, in five
// parts, because it goes to the browser as it stands.

// ---- geometry: pure functions, tested on their own ------------------------------------------------------------------

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

// ---- pictures: what has arrived, what is on its way ----------------------------------------------------------------

const BUDGET = 40e6; // picture pixels kept, four bytes each
const ON_THE_WAY = 2; // few, so that a new wish never waits behind old ones

function pictureShelf(send, arrived) {
  const shelf = new Map(), asked = new Set(); // the shelf's order is the order of use
  let wanted = [], held = 0;
  const key = (frame, width) => `${frame}/${width}`;
  function pump() {
    for (const [frame, width] of wanted) {
      if (asked.size >= ON_THE_WAY) return;
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
    want(list) { wanted = list; pump(); },
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

// ---- drawing: four kinds of line, the same as on the pages ----------------------------------------------------------

const WATER = "water", LENGTH = "length";
const INK = "#0b2530", WHITE = "#ffffff", WARM = "#ffb25e";

function stroke(g, line, { color, width, edge, dash = [] }) {
  if (line.length < 2) return;
  const trace = () => { g.beginPath(); line.forEach(([x, y], i) => (i ? g.lineTo(x, y) : g.moveTo(x, y))); };
  g.lineJoin = g.lineCap = "round";
  g.setLineDash([]); g.globalAlpha = dash.length ? 0.45 : 0.75;
  g.strokeStyle = INK; g.lineWidth = width + edge; trace(); g.stroke();
  g.globalAlpha = 1; g.setLineDash(dash); g.lineCap = dash.length ? "butt" : "round";
  g.strokeStyle = color; g.lineWidth = width; trace(); g.stroke();
  g.setLineDash([]);
}

function ring(g, [x, y], { r, fill, width = 1.5, color = INK }) {
  g.beginPath(); g.arc(x, y, r, 0, 2 * Math.PI);
  if (fill) { g.fillStyle = fill; g.fill(); }
  g.strokeStyle = color; g.lineWidth = width; g.stroke();
}

function drawMark(g, at, own, chosen, weight) {
  if (chosen) {
    // An open ring: the joint itself stays in sight while it is being placed.
    ring(g, at, { r: 9 * weight, color: INK, width: 4.5 * weight });
    ring(g, at, { r: 9 * weight, color: WHITE, width: 2.2 * weight });
    ring(g, at, { r: 1.6 * weight, fill: WHITE, width: 1 });
  } else if (own) ring(g, at, { r: 4 * weight, fill: WHITE });
  else {
    ring(g, at, { r: 4 * weight, color: INK, width: 4 * weight });
    ring(g, at, { r: 4 * weight, color: WHITE, width: 1.8 * weight });
  }
}

function drawLabel(g, [x, y], text, box, weight) {
  g.font = `600 ${15 * weight}px "Source Sans 3","Noto Sans",system-ui,sans-serif`;
  g.textAlign = x > box.width * 0.6 ? "end" : "start";
  g.lineJoin = "round"; g.lineWidth = 4 * weight; g.strokeStyle = INK; g.strokeText(text, x, y);
  g.fillStyle = WHITE; g.fillText(text, x, y);
}

/** The known length: a measured stroke that is closed off at both ends, its metres beside it. */
function drawLength(g, [a, b], metres, box, k) {
  const how = { color: WARM, width: 3 * k, edge: 2 }, half = (6 * k) / (Math.hypot(b[0] - a[0], b[1] - a[1]) || 1);
  const [x, y] = [(b[1] - a[1]) * half, (a[0] - b[0]) * half];
  stroke(g, [a, b], how);
  for (const [px, py] of [a, b]) stroke(g, [[px - x, py - y], [px + x, py + y]], how);
  if (metres) drawLabel(g, [(a[0] + b[0]) / 2 + 8 * k, (a[1] + b[1]) / 2 - 10 * k], `${metres} m`, box, k);
}

/** All that is drawn over one frame: reference lines first, then the body, the measure, the marks, the value. */
function drawOver(g, box, view, { marks, origins, skeleton, spans, extras, chosen, lines, end, size }) {
  const at = (xy) => toBox(xy, view);
  const pairs = (list) => list.filter(([a, b]) => marks[a] && marks[b]).map(([a, b]) => [at(marks[a]), at(marks[b])]);
  const k = Math.max(1, Math.min(1.7, box.width / 800)); // heavier on a large screen, which is seen from afar
  g.clearRect(0, 0, box.width, box.height);
  const ends = (name) => lines[name]?.ends ?? [], water = ends(WATER).length === 2 && edgeToEdge(...ends(WATER), size);
  const dashed = [...extras.reference, ...(water ? [water] : [])];
  for (const line of [...dashed.map((l) => l.map(at)), ...pairs(spans)])
    stroke(g, line, { color: WHITE, width: 1.8 * k, edge: 1.8, dash: [7 * k, 5 * k] });
  for (const line of pairs(skeleton)) stroke(g, line, { color: WHITE, width: 2.8 * k, edge: 2 });
  for (const line of extras.measure) stroke(g, line.map(at), { color: WARM, width: 3 * k, edge: 2 });
  for (const [name, xy] of Object.entries(marks))
    if (name !== chosen) drawMark(g, at(xy), ["hand", "confirmed"].includes(origins[name]), false, k);
  if (ends(LENGTH).length === 2) drawLength(g, ends(LENGTH).map(at), lines[LENGTH].metres, box, k);
  if (marks[chosen]) drawMark(g, at(marks[chosen]), true, true, k);
  ends(chosen).forEach((xy, i) => drawMark(g, at(xy), true, i === end, k));
  for (const [x, y, text] of extras.labels) drawLabel(g, at([x, y]), text, box, k);
}

// ---- the page elements ----------------------------------------------------------------------------------------------

function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [k, v] of Object.entries(attributes)) k === "text" ? (node.textContent = v) : node.setAttribute(k, v);
  node.append(...children);
  return node;
}

const KEYS = [
  ["← →", "one frame"], ["Shift ← →", "ten frames"],
  ["Page Up, Page Down", "marked frame before, after; of a line while one is chosen"],
  ["Home, End", "first, last frame"], ["↑ ↓", "choose the point or line"],
  ["Enter", "set the chosen point, or an end of the line"], ["E", "the line's other end"],
  ["Alt or Ctrl with arrows", "shift it a quarter pixel; with Shift, five pixels"], ["Delete", "erase it"],
  ["H", "cannot be seen"], ["Ctrl Z, Ctrl Shift Z", "undo, redo points; lines while one is chosen"],
  ["+ − or wheel", "closer, wider"], ["C", "centre the chosen point"], ["0", "whole picture"],
];

const ACTIONS = {
  earlier: "marked before", later: "marked after", erase: "erase point", hide: "cannot be seen",
  undo: "undo", redo: "redo", closer: "closer", wider: "wider", whole: "whole picture",
};
const GROUPS = [["earlier", "later"], ["erase", "hide"], ["undo", "redo"], ["closer", "wider", "whole"]];
const STEPS = [["-10", "10 back"], ["-1", "1 back"], ["1", "1 on"], ["10", "10 on"]];

const FIELDS = [
  ["metres", "length, m", "decimal"], ["give", "give or take, m", "decimal"], ["what", "what it is", "text"],
];

/** The lines of the shot below the points, and what has to be said of the known length. */
function buildLines(ui, lines, id) {
  const heading = make("p", { class: "cb-heading", id: `lines-${id}`, text: "Lines of this shot" });
  const group = make("div", { role: "radiogroup", "aria-labelledby": `lines-${id}` });
  for (const [name, text] of Object.entries(lines)) {
    ui.radios[name] = make("button", { type: "button", role: "radio", "data-line": name, text, tabindex: "-1" });
    group.append(ui.radios[name]);
  }
  ui.words = make("div", { class: "cb-words", role: "group", "aria-label": lines[LENGTH], hidden: "" });
  for (const [name, text, kind] of FIELDS) {
    // Typing is no command to the notebook.
    ui.fields[name] = make("input", {
      type: "text", inputmode: kind, name, autocomplete: "off", "data-lm-suppress-shortcuts": "true",
    });
    ui.words.append(make("label", {}, make("span", { text }), ui.fields[name]));
  }
  ui.where = make("p", { class: "cb-where", "aria-hidden": "true" }); // each radio's own name says it too
  ui.side.append(heading, group, ui.words, ui.where);
}

function build(el, names, points, lines, id) {
  const button = (name, text) => make("button", { type: "button", "data-do": name, text });
  const ui = {
    picture: make("canvas", { class: "cb-picture", "aria-hidden": "true" }),
    over: make("canvas", { class: "cb-over", "aria-hidden": "true" }),
    list: make("div", { class: "cb-points", role: "radiogroup", "aria-label": "Point to mark" }),
    ticks: document.createElementNS("http://www.w3.org/2000/svg", "svg"),
    tick: document.createElementNS("http://www.w3.org/2000/svg", "path"),
    here: make("span", { class: "cb-here" }),
    now: make("output", { class: "cb-now", "aria-live": "polite", "aria-atomic": "true" }),
    live: make("output", { class: "cb-live", "aria-label": "Value on this frame" }),
    trouble: make("p", { class: "cb-trouble", role: "alert", hidden: "" }),
    keys: make("dl", { id: `keys-${id}` }),
    radios: {}, fields: {},
  };
  ui.side = make("div", { class: "cb-side" }, ui.list);
  if (Object.keys(lines).length) buildLines(ui, lines, id);
  ui.stage = make("div", {
    class: "cb-stage", tabindex: "0", role: "application", "aria-label": "Picture", "aria-describedby": `keys-${id}`,
  }, ui.picture, ui.over);
  ui.ticks.setAttribute("preserveAspectRatio", "none");
  ui.ticks.setAttribute("aria-hidden", "true");
  ui.ticks.append(ui.tick);
  ui.strip = make("div", { class: "cb-strip", tabindex: "0", role: "slider", "aria-label": "Frame" },
    ui.ticks, ui.here);
  for (const p of points) {
    ui.radios[p] = make("button", { type: "button", role: "radio", "data-point": p, text: names[p], tabindex: "-1" });
    ui.list.append(ui.radios[p]);
  }
  for (const [key, meaning] of KEYS)
    ui.keys.append(make("div", {}, make("dt", { text: key }), make("dd", { text: meaning })));
  const steps = STEPS.map(([by, text]) => button(`step:${by}`, text));
  const groups = GROUPS.map((group) => make("span", { class: "cb-group" }, ...group.map((n) => button(n, ACTIONS[n]))));
  [ui.erase, ui.hide] = groups[1].children;
  el.classList.add("cb-marker");
  el.append(make("div", { class: "cb-body" },
    make("div", { class: "cb-top" }, make("div", { class: "cb-main" }, ui.stage, ui.strip), ui.side),
    ui.live,
    make("div", { class: "cb-line" },
      make("span", { class: "cb-group" }, steps[0], steps[1]), ui.now,
      make("span", { class: "cb-group" }, steps[2], steps[3])),
    ui.trouble,
    make("div", { class: "cb-line cb-actions" }, ...groups,
      make("details", {}, make("summary", { text: "keys" }), ui.keys))));
  return ui;
}

// ---- the tool at work -----------------------------------------------------------------------------------------------

const BARE = { reference: [], measure: [], labels: [] };
const UNKNOWN = { marks: {}, origins: {}, hidden: [], extras: null, live: "", age: -1, lines: {} };
const FINE = 0.25, COARSE = 5; // nudges [px]
const REACH = 11, STILL = 4; // how near a mark is grabbed, how far a press may slide and still be one [screen px]
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const ORIGIN = { left: 0, top: 0 };
const PATIENCE = 3000; // [ms]
const SILENCE = "Not saved yet: the kernel is busy or has stopped. If it has stopped, run this cell again.";

class Tool {
  constructor(model, el) {
    this.model = model;
    this.el = el;
    this.id = Math.random().toString(36).slice(2);
    for (const k of ["start", "stop", "size", "points", "names", "skeleton", "spans", "times"]) this[k] = model.get(k);
    this.width = Math.min(this.size[0], model.get("shown_width"));
    this.lineNames = model.get("line_names");
    this.ui = build(el, this.names, this.points, this.lineNames, this.id);
    this.states = new Map(); // frame -> what Python said of it, and what was drawn since
    this.lost = new Map(); // frame -> why it has no picture
    this.box = { width: 1, height: 1 };
    this.view = wholeView(this.size, this.box);
    this.isWhole = true;
    this.frame = model.get("frame");
    this.onScreen = null; // the frame whose picture is painted
    this.direction = 1;
    this.chosen = this.points[0]; // a point, or a line of which `end` is the end at hand
    this.end = 0;
    this.isNewHere = true;
    this.reference = []; // reference lines last heard of
    this.sent = this.answered = this.age = 0;
    this.asking = this.isUnanswered = false;
    this.preview = { busy: false, next: null };
    this.pointer = this.grip = null;
    this.shelf = pictureShelf((wish) => model.send(wish), (n) => this.pictureCame(n));
    this.actions = {
      earlier: () => this.go(besideMarked(this.marked, this.frame, -1)),
      later: () => this.go(besideMarked(this.marked, this.frame, 1)),
      erase: () => this.drop("erase"), hide: () => this.drop("hide"),
      undo: () => this.step("undo"), redo: () => this.step("redo"),
      closer: () => this.zoom(1.5), wider: () => this.zoom(1 / 1.5),
      whole: () => this.look(wholeView(this.size, this.box)), centre: () => this.centre(),
    };
  }

  get state() { return this.states.get(this.frame) ?? UNKNOWN; }
  get isLine() { return this.chosen in this.lineNames; }
  get line() { return this.state.lines[this.chosen] ?? { ends: [], kept: false, metres: "", give: "", what: "" }; }
  get mark() { return this.isLine ? this.line.ends[this.end] : this.state.marks[this.chosen]; }
  get marked() {
    // Of the chosen line its own frames, else those with marks.
    return this.isLine ? this.model.get("drawn")[this.chosen].map((n) => [n, 1]) : this.model.get("marked");
  }
  get isShown() { return this.onScreen === this.frame; }
  get isFine() {
    // The screen shows more than the travelling size holds.
    const k = window.devicePixelRatio || 1;
    return this.size[0] > this.width && this.view.scale * this.size[0] * k > 1.02 * this.width;
  }
  isDone(p) { return p in this.state.marks || this.state.hidden.includes(p); }

  // -- showing

  paint() {
    const usual = this.shelf.get(this.frame, this.width), sharp = this.shelf.get(this.frame, 0);
    const image = (this.isFine && sharp) || usual || sharp;
    if (image) {
      const { view, size, box, ui } = this, g = this.context(ui.picture);
      g.clearRect(0, 0, box.width, box.height);
      g.imageSmoothingEnabled = (view.scale * size[0]) / image.width < 3;
      g.imageSmoothingQuality = "high";
      g.drawImage(image, view.left, view.top, size[0] * view.scale, size[1] * view.scale);
      this.onScreen = this.frame;
      ui.picture.dataset.frame = this.frame;
      ui.picture.dataset.width = image.width;
    }
    if (this.isShown) this.overlay();
  }
  overlay() {
    const { state: s, box, view, skeleton, spans, chosen, end, size } = this, water = s.lines[WATER]?.ends ?? [];
    if (s.extras) this.reference = s.extras.reference.concat(water.length === 2 ? [edgeToEdge(...water, size)] : []);
    // Until Python has spoken of this frame the last reference lines stay, so that nothing flickers while stepping.
    const extras = s.extras ?? { ...BARE, reference: this.reference };
    drawOver(this.context(this.ui.over), box, view, { ...s, extras, skeleton, spans, chosen, end, size });
  }
  context(canvas) {
    const k = window.devicePixelRatio || 1, g = canvas.getContext("2d");
    g.setTransform(k, 0, 0, k, 0, 0);
    return g;
  }
  say() {
    const { ui, state: s, frame, start, stop, points, names, chosen } = this;
    const count = `${Object.keys(s.marks).length} of ${points.length} points`;
    const time = this.times[frame - start].toFixed(3), what = this.isLine ? this.lineWords() : count;
    const now = `frame ${frame} at ${time} s, ${what}`;
    ui.now.dataset.shown = this.isShown;
    if (ui.now.textContent !== now) ui.now.textContent = now;
    if (ui.live.textContent !== s.live) ui.live.textContent = s.live;
    const aim = this.isLine ? `Line to draw: ${this.lineNames[chosen]}` : `Point to mark: ${names[chosen]}`;
    ui.stage.setAttribute("aria-label", `Picture, frame ${frame}. ${aim}`);
    ui.erase.textContent = this.isLine ? "erase line" : ACTIONS.erase;
    ui.hide.disabled = this.isLine;
    ui.strip.setAttribute("aria-valuenow", frame);
    ui.strip.setAttribute("aria-valuetext", now);
    ui.here.style.left = `${(100 * (frame - start + 0.5)) / (stop - start)}%`;
    for (const p of points) {
      const how = s.hidden.includes(p) ? "cannot be seen" : (s.origins[p] ?? "not marked"), radio = ui.radios[p];
      radio.setAttribute("aria-checked", p === chosen);
      radio.setAttribute("aria-label", `${names[p]}, ${how}`);
      radio.tabIndex = p === chosen ? 0 : -1;
      radio.dataset.how = how;
    }
    this.sayLines();
    const radio = ui.radios[chosen], { side } = ui, room = side.clientHeight - radio.offsetHeight;
    side.scrollTop = Math.max(radio.offsetTop - room, Math.min(radio.offsetTop, side.scrollTop));
  }
  lineWords() {
    const { line, chosen } = this, name = this.lineNames[chosen], set = line.ends.length;
    if (set < 2) return `${name}: set its ${set ? "other" : "first"} end`;
    if (line.kept) return `${name} kept${chosen === LENGTH ? `, ${line.metres} m` : ""}`;
    return `${name}: ${chosen === LENGTH && !line.metres ? "give its metres" : "not kept yet"}`;
  }
  sayLines() {
    const { ui, chosen, state: s } = this, drawn = this.model.get("drawn");
    for (const [name, text] of Object.entries(this.lineNames)) {
      const radio = ui.radios[name], on = drawn[name] ?? [], how = s.lines[name]?.ends.length ? "here" : "elsewhere";
      const all = on.length > 6 ? `${on.length} frames` : `frame${on.length > 1 ? "s" : ""} ${on.join(", ")}`;
      const where = on.length ? `drawn on ${all}` : "not drawn";
      radio.setAttribute("aria-checked", name === chosen);
      radio.setAttribute("aria-label", `${text}, ${where}`);
      if (name === chosen) ui.where.textContent = where;
      radio.tabIndex = name === chosen ? 0 : -1;
      radio.dataset.how = how === "here" || on.length ? how : "not drawn";
    }
    if (!ui.words) return;
    ui.where.hidden = !this.isLine;
    ui.words.hidden = chosen !== LENGTH;
    if (chosen !== LENGTH) return;
    // What is being typed is the coach's until it is sent.
    for (const [name, field] of Object.entries(ui.fields))
      if (field !== this.el.ownerDocument.activeElement) field.value = this.line[name];
  }
  ticks() {
    const { ui, start, stop, points } = this;
    ui.ticks.setAttribute("viewBox", `0 0 ${stop - start} 1`);
    ui.tick.setAttribute("d", tickPath(this.model.get("marked"), start, points.length));
  }
  trouble() {
    const text = this.isUnanswered ? SILENCE : (this.lost.get(this.frame) ?? this.model.get("trouble"));
    if (this.ui.trouble.textContent === text) return;
    this.ui.trouble.textContent = text;
    this.ui.trouble.hidden = !text;
  }
  heardFrom(seq) {
    this.answered = Math.max(this.answered, seq);
    if (this.answered < this.sent) return;
    clearTimeout(this.silence);
    this.silence = null;
    this.isUnanswered = false;
    this.trouble();
  }
  supply() {
    const near = fetchOrder(this.frame, this.direction, this.start, this.stop).map((n) => [n, this.width]);
    this.shelf.want(near);
    clearTimeout(this.calm);
    // The source's own pixels are fetched once the coach rests on a frame.
    if (this.isFine)
      this.calm = setTimeout(() => this.shelf.want([near[0], [this.frame, 0], ...near.slice(1)]), 120);
  }
  arrive() {
    // On a new frame the choice starts over at the first open point.
    if (this.isNewHere && this.states.has(this.frame)) {
      if (!this.isLine) this.chosen = this.points.find((p) => !this.isDone(p)) ?? this.chosen;
      this.end = 0;
      this.isNewHere = false;
    }
    this.isShown ? this.overlay() : this.paint();
    this.say();
  }
  pictureCame(n) {
    if (n !== this.frame) return;
    this.paint();
    this.arrive();
  }
  look(view) {
    this.view = view;
    this.isWhole = view.scale <= wholeView(this.size, this.box).scale * 1.0001;
    this.paint();
    this.supply();
  }
  zoom(factor) {
    const at = this.mark ?? this.pointer;
    const middle = [this.box.width / 2, this.box.height / 2];
    this.look(zoomedView(this.view, at ? toBox(at, this.view) : middle, factor, this.size, this.box));
  }
  centre() { if (this.mark) this.look(centredView(this.view, this.mark, this.size, this.box)); }
  resize() {
    const r = this.ui.stage.getBoundingClientRect(), k = window.devicePixelRatio || 1;
    if (!r.width || !r.height) return;
    const middle = toPicture([this.box.width / 2, this.box.height / 2], ORIGIN, this.view);
    this.box = { width: r.width, height: r.height };
    for (const canvas of [this.ui.picture, this.ui.over])
      [canvas.width, canvas.height] = [Math.round(r.width * k), Math.round(r.height * k)];
    const { size, box } = this, close = zoomedView(this.view, [0, 0], 1, size, box);
    this.look(this.isWhole ? wholeView(size, box) : centredView(close, middle, size, box));
  }

  // -- moving and choosing

  go(n) {
    n = Math.max(this.start, Math.min(this.stop - 1, Math.round(n)));
    if (n === this.frame) return;
    this.direction = n > this.frame ? 1 : -1;
    this.frame = n;
    this.grip = null;
    this.isNewHere = true;
    this.model.set("frame", n);
    this.model.save_changes();
    this.arrive();
    this.trouble();
    this.supply();
    this.ask();
  }
  choose(p) { this.chosen = p; if (this.isShown) this.overlay(); this.say(); }
  chooseBy(step) {
    const all = [...this.points, ...Object.keys(this.lineNames)];
    this.choose(all[(all.indexOf(this.chosen) + step + all.length) % all.length]);
  }
  chooseNext() { this.choose(nextOpen(this.points, this.chosen, (p) => this.isDone(p)) ?? this.chosen); }

  // -- changing marks: drawn here at once, decided in Python

  send(wish) {
    // A mark that is drawn but not kept must not look like one that is.
    this.silence ??= setTimeout(() => { this.isUnanswered = true; this.trouble(); }, PATIENCE);
    this.model.send({ ...wish, frame: this.frame, view: this.id, seq: ++this.sent });
  }
  ask() {
    // One question at a time: a held key must not pile them up.
    if (this.asking || this.state.age >= this.age) return;
    this.asking = true;
    this.model.send({ do: "state", frame: this.frame, view: this.id, seq: this.sent });
  }
  move(point, xy) {
    const [x, y] = xy.map((v, i) => Math.max(-0.5, Math.min(this.size[i] - 0.5, v)));
    const s = this.state;
    this.states.set(this.frame, {
      ...s, marks: { ...s.marks, [point]: [x, y] }, origins: { ...s.origins, [point]: "hand" },
      hidden: s.hidden.filter((p) => p !== point),
    });
    this.overlay();
    this.say();
    return { point, x, y };
  }
  put(point, xy) { this.send({ do: "put", ...this.move(point, xy) }); }
  /** Set the chosen point, or an end of the chosen line, and go on to what is open. */
  set(xy) {
    if (this.isLine) this.putEnd(endToSet(this.line.ends, xy), xy);
    else { this.put(this.chosen, xy); this.chooseNext(); }
  }
  moveEnd(end, xy) {
    const place = xy.map((v, i) => Math.max(-0.5, Math.min(this.size[i] - 0.5, v)));
    const ends = [...this.line.ends], s = this.state;
    ends[end] = place;
    this.end = end;
    this.states.set(this.frame, { ...s, lines: { ...s.lines, [this.chosen]: { ...this.line, ends } } });
    this.overlay();
    this.say();
    return ends;
  }
  putEnd(end, xy) { this.send({ do: "line", line: this.chosen, ends: this.moveEnd(end, xy) }); }
  putWords() {
    const words = Object.fromEntries(Object.entries(this.ui.fields).map(([name, field]) => [name, field.value]));
    const s = this.state;
    this.states.set(this.frame, { ...s, lines: { ...s.lines, [LENGTH]: { ...this.line, ...words } } });
    this.overlay();
    this.send({ do: "words", line: LENGTH, ...words });
  }
  step(way) { this.send(this.isLine ? { do: `${way}_line`, line: this.chosen } : { do: way }); }
  putPreview(wish) {
    if (this.preview.busy) { this.preview.next = wish; return; }
    this.preview = { busy: true, next: null };
    this.send({ do: "preview", ...wish });
  }
  drop(what) {
    if (!this.isShown) return;
    if (this.isLine) { if (what === "erase") this.dropLine(); return; }
    const { state: s, chosen } = this, marks = { ...s.marks }, origins = { ...s.origins };
    delete marks[chosen]; delete origins[chosen];
    const hidden = s.hidden.filter((p) => p !== chosen).concat(what === "hide" ? [chosen] : []);
    this.states.set(this.frame, { ...s, marks, origins, hidden });
    this.send({ do: what, point: chosen });
    what === "hide" ? this.chooseNext() : this.choose(chosen);
  }
  dropLine() {
    const { state: s, chosen } = this, lines = { ...s.lines };
    delete lines[chosen];
    this.states.set(this.frame, { ...s, lines });
    this.send({ do: "erase_line", line: chosen });
    this.choose(chosen);
  }
  place() {
    if (!this.isShown) return;
    if (this.pointer) { this.set(this.pointer); return; }
    if (this.isLine) {
      // Without a pointer the ends stand a quarter from the sides of the view, to be nudged from there.
      const end = this.line.ends.length, at = [this.box.width * (0.25 + 0.5 * end), this.box.height / 2];
      if (end < 2) this.putEnd(end, toPicture(at, ORIGIN, this.view));
      return;
    }
    // Without a pointer: where the point was on the nearest frame, to be nudged from there; else mid-picture.
    const there = (n) => this.states.get(n)?.marks[this.chosen];
    const near = this.model.get("marked").map(([n]) => n).filter(there);
    near.sort((a, b) => Math.abs(a - this.frame) - Math.abs(b - this.frame));
    this.put(this.chosen, there(near[0]) ?? toPicture([this.box.width / 2, this.box.height / 2], ORIGIN, this.view));
  }
  nudge([dx, dy], by) {
    if (!this.mark || !this.isShown) return;
    const to = [this.mark[0] + dx * by, this.mark[1] + dy * by];
    this.isLine ? this.putEnd(this.end, to) : this.put(this.chosen, to);
    const [x, y] = toBox(this.mark, this.view), { width, height } = this.box;
    if (Math.min(x, y, width - x, height - y) < 20) this.centre();
  }

  // -- keys and pointer

  actionFor(e) {
    const arrow = ARROWS[e.key], letter = e.key.length === 1 ? e.key.toLowerCase() : e.key, { actions } = this;
    if (arrow && (e.altKey || e.ctrlKey)) return () => this.nudge(arrow, e.shiftKey ? COARSE : FINE);
    if (e.altKey) return null;
    if (e.ctrlKey || e.metaKey) return { z: actions[e.shiftKey ? "redo" : "undo"], y: actions.redo }[letter];
    if (arrow?.[0]) return () => this.go(this.frame + arrow[0] * (e.shiftKey ? 10 : 1));
    if (arrow) return () => this.chooseBy(arrow[1]);
    return {
      Enter: e.target === this.ui.stage ? () => this.place() : null,
      Home: () => this.go(this.start), End: () => this.go(this.stop - 1),
      PageUp: actions.earlier, PageDown: actions.later, Delete: actions.erase, Backspace: actions.erase,
      h: actions.hide, c: actions.centre, e: this.isLine ? () => this.otherEnd() : null,
      "+": actions.closer, "=": actions.closer, "-": actions.wider,
      0: actions.whole,
    }[letter];
  }
  otherEnd() {
    if (this.line.ends.length < 2) return;
    this.end = 1 - this.end;
    this.choose(this.chosen);
  }
  onKey(e) {
    if (e.target.matches("input")) { this.onTyped(e); return; }
    const act = this.actionFor(e);
    if (act) { e.preventDefault(); act(); }
    // JupyterLab would take the arrows for its cells, and Enter on a focused button for editing.
    if (act || e.key === "Enter" || e.key === " ") e.stopPropagation();
  }
  onTyped(e) {
    // Leaving the field sends what was typed.
    e.stopPropagation();
    if (e.key === "Enter" || e.key === "Escape") { e.preventDefault(); this.ui.stage.focus({ preventScroll: true }); }
  }
  onClick(e) {
    const [name, by] = (e.target.dataset?.do ?? "").split(":");
    if (name === "step") this.go(this.frame + Number(by));
    else if (name in this.actions) this.actions[name]();
    const { point, line } = e.target.dataset ?? {};
    if (point ?? line) { this.choose(point ?? line); this.ui.stage.focus({ preventScroll: true }); }
  }
  at(e) { return toPicture([e.clientX, e.clientY], this.ui.stage.getBoundingClientRect(), this.view); }
  onPress(e) {
    // A press on a mark grabs it; beside the marks it sets the chosen point, or moves the view if it slides.
    if (e.button !== 0 || !this.isShown) return;
    e.stopPropagation();
    this.ui.stage.focus({ preventScroll: true });
    this.ui.stage.setPointerCapture(e.pointerId);
    // Of points and lines only what is chosen is at hand: a rope's end may lie behind a wrist.
    const { isLine } = this, within = isLine ? { ...this.line.ends } : this.state.marks;
    const xy = this.at(e), name = e.shiftKey ? null : closest(within, xy, REACH / this.view.scale), mark = within[name];
    this.preview.next = null;
    this.grip = {
      name, moved: false, from: [e.clientX, e.clientY], view: this.view, before: this.state,
      hold: mark && [mark[0] - xy[0], mark[1] - xy[1]],
    };
    if (name && isLine) { this.end = Number(name); this.choose(this.chosen); } else if (name) this.choose(name);
  }
  onMove(e) {
    const { grip } = this;
    this.pointer = this.at(e);
    if (!grip) return;
    const [dx, dy] = [e.clientX - grip.from[0], e.clientY - grip.from[1]];
    grip.moved ||= Math.hypot(dx, dy) > (grip.name ? 1 : STILL);
    if (!grip.moved) return;
    if (grip.name && this.isLine) this.moveEnd(this.end, this.held(grip));
    else if (grip.name) this.putPreview(this.move(grip.name, this.held(grip)));
    else this.look(settled({ ...this.view, left: grip.view.left + dx, top: grip.view.top + dy }, this.size, this.box));
  }
  held({ hold }) { return [this.pointer[0] + hold[0], this.pointer[1] + hold[1]]; }
  onRelease(e) {
    const { grip } = this;
    if (!grip) return;
    this.pointer = this.at(e);
    this.grip = null;
    if (grip.name && grip.moved)
      this.isLine ? this.putEnd(this.end, this.held(grip)) : this.put(grip.name, this.held(grip));
    else if (!grip.name && !grip.moved) this.set(this.pointer);
  }
  onCancel() {
    if (this.grip?.name) this.states.set(this.frame, this.grip.before);
    this.grip = null;
    this.arrive();
  }
  onWheel(e) {
    // An untouched picture lets the notebook scroll past.
    if (this.el.ownerDocument.activeElement !== this.ui.stage) return;
    e.preventDefault();
    e.stopPropagation();
    const r = this.ui.stage.getBoundingClientRect(), at = [e.clientX - r.left, e.clientY - r.top];
    this.look(zoomedView(this.view, at, Math.exp(-e.deltaY / 400), this.size, this.box));
  }
  onSlide(e) {
    const r = this.ui.strip.getBoundingClientRect();
    this.go(this.start + Math.floor(((e.clientX - r.left) / r.width) * (this.stop - this.start)));
  }

  // -- from Python

  heard(message, buffers) {
    const { kind, wish } = message;
    if (kind === "picture") this.heardPicture(message, buffers[0]);
    else if (kind === "state") (message.preview ? this.heardPreview(message) : this.heardState(message));
    else if (kind === "refused" && wish.do === "picture") {
      this.lost.set(wish.frame, message.why);
      this.shelf.missed(wish.frame, wish.width);
      this.trouble();
    } else if (kind === "refused" && wish.view === this.id) this.preview = { busy: false, next: null };
  }
  heardPicture({ frame, width, state }, bytes) {
    // What was changed here and not yet answered is newer than what came along with the picture.
    if (!this.states.has(frame) || (this.states.get(frame).age < 0 && this.answered === this.sent))
      this.states.set(frame, state);
    this.shelf.put(frame, width, bytes);
  }
  heardPreview({ frame, state, view, seq }) {
    if (view !== this.id) return;
    this.heardFrom(seq);
    this.preview.busy = false;
    if (!this.grip || frame !== this.frame) return;
    this.states.set(frame, { ...this.state, extras: state.extras, live: state.live });
    this.arrive();
    if (this.preview.next) this.putPreview(this.preview.next);
  }
  heardState({ frame, state, view, seq, chosen }) {
    this.age = Math.max(this.age, state.age);
    if (view === this.id) {
      this.asking = false;
      this.chosen = chosen ?? this.chosen; // what was undone: the next key acts on it
      this.heardFrom(seq);
    }
    // What was drawn here since, and not yet answered, stands: its own answer is on the way.
    if (this.answered === this.sent) this.states.set(frame, state);
    if (frame === this.frame) this.arrive();
    this.ask();
  }

  // -- life

  open() {
    const { el, ui, model } = this, { stage, strip } = ui;
    const on = (node, events) => {
      for (const [name, act] of Object.entries(events)) node.addEventListener(name, act, { passive: false });
    };
    on(el, { keydown: (e) => this.onKey(e), click: (e) => this.onClick(e) });
    on(stage, {
      pointerdown: (e) => this.onPress(e), pointermove: (e) => this.onMove(e), pointerup: (e) => this.onRelease(e),
      pointercancel: () => this.onCancel(), pointerleave: () => { if (!this.grip) this.pointer = null; },
      wheel: (e) => this.onWheel(e),
    });
    for (const field of Object.values(ui.fields)) on(field, { change: () => this.putWords() });
    on(strip, {
      pointerdown: (e) => {
        e.stopPropagation();
        strip.focus({ preventScroll: true });
        strip.setPointerCapture(e.pointerId);
        this.onSlide(e);
      },
      pointermove: (e) => { if (strip.hasPointerCapture(e.pointerId)) this.onSlide(e); },
    });
    strip.setAttribute("aria-valuemin", this.start);
    strip.setAttribute("aria-valuemax", this.stop - 1);
    el.style.setProperty("--aspect", this.size[0] / this.size[1]);
    ui.live.hidden = !model.get("valued");
    const told = {
      "msg:custom": (message, buffers) => this.heard(message, buffers),
      "change:frame": () => this.go(model.get("frame")),
      "change:marked": () => this.ticks(),
      "change:drawn": () => this.say(),
      "change:trouble": () => this.trouble(),
    };
    for (const [event, act] of Object.entries(told)) model.on(event, act);
    const sizing = new ResizeObserver(() => this.resize());
    sizing.observe(stage);
    this.ticks();
    this.trouble();
    this.say();
    this.supply();
    this.ask();
    return () => {
      sizing.disconnect();
      clearTimeout(this.calm);
      clearTimeout(this.silence);
      for (const [event, act] of Object.entries(told)) model.off(event, act);
      this.shelf.clear();
    };
  }
}

function render({ model, el }) {
  return new Tool(model, el).open();
}

export default { render };
