// The tool at work.

const BARE = { reference: [], measure: [], labels: [] };
const UNKNOWN = { marks: {}, origins: {}, hidden: [], extras: null, live: "", age: -1, lines: {}, trail: {} };
const FINE = 0.25, COARSE = 5; // nudges [px]
const REACH = 11, STILL = 4; // how near a mark is grabbed, how far a press may slide and still be one [screen px]
const CHANGES = new Set(["enter", "delete", "backspace", "h", "s", "a"]); // keys that change marks
const ONCE = new Set([" ", "m", "w", "s", "o", "p", "g", "d", "a", "q", "?"]); // held down they do it once
const STOPS = new Set(["erase", "hide", "swap", "accept", "accept_over", "swap_over", "take_off"]);
const OWN = new Set(["hand", "confirmed"]); // marks that the coach set or has accepted
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const LARGE = 1.2e6; // picture px
const ORIGIN = { left: 0, top: 0 };
const PATIENCE = 1000; // [ms]
const SILENCE = "Not saved yet: the kernel is busy or has stopped. If it has stopped, run this cell again.";

class Tool {
  constructor(model, el) {
    this.model = model;
    this.el = el;
    this.id = Math.random().toString(36).slice(2);
    for (const k of ["start", "stop", "size", "points", "names", "skeleton", "spans"]) this[k] = model.get(k);
    for (const k of ["times", "gaps"]) this[k] = floats(model.get(k));
    this.width = model.get("shown_width");
    this.book = tickBook();
    this.lineNames = model.get("line_names");
    const isPaired = this.points.some((p) => p.endsWith("_l") && this.points.includes(p.replace(/_l$/, "_r")));
    this.ui = build(el, this.names, this.points, this.lineNames, this.id, isPaired);
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
    this.isMagnified = true;
    this.isNudging = false; // the magnifier looks at the mark, not at the pointer
    this.light = rememberedLight();
    this.lamp = lamp();
    this.rows = null; // the light as numbers, once a picture is there to tell
    this.water = null; // what clear water found when it was last switched on
    this.play = player({
      gap: (n) => this.gaps[n - this.start], stop: this.stop,
      ready: (n) => this.shelf.has(n, this.width) || this.lost.has(n),
      show: (n) => this.enter(n), ended: () => this.settle(),
    });
    const send = (wish) => model.send(wish), span = { start: this.start, stop: this.stop, length: model.get("reel") };
    const { size, width } = this;
    this.shelf = pictureShelf({ send, arrived: (n) => this.pictureCame(n), size, width, span });
    this.around = statesAround({ send, span });
    this.actions = {
      earlier: () => this.go(besideMarked(this.marked, this.frame, -1)),
      later: () => this.go(besideMarked(this.marked, this.frame, 1)),
      erase: () => this.drop("erase"), hide: () => this.drop("hide"),
      undo: () => this.step("undo"), redo: () => this.step("redo"),
      closer: () => this.zoom(1.5), wider: () => this.zoom(1 / 1.5),
      whole: () => this.look(wholeView(this.size, this.box)), centre: () => this.centre(),
      magnify: () => { this.isMagnified = !this.isMagnified; this.arrive(); },
      water: () => this.relight({ ...this.light, water: !this.light.water }),
      filmed: () => this.relight({ ...FILMED }),
      play: () => this.playOrStop(),
    };
    if (isPaired) this.actions.swap = () => this.swap();
    this.bench = new Workbench(this);
    Object.assign(this.actions, this.bench.acts);
    unfold(this.ui, "lines" in this.ui.parts ? "lines" : "rulers");
  }

  get state() { return this.states.get(this.frame) ?? UNKNOWN; }
  get isLine() { return this.chosen in this.lineNames; }
  get isMoment() { return this.bench.moments.has(this.chosen); }
  get isPoint() { return !this.isLine && !this.isMoment; }
  get line() { return this.state.lines[this.chosen] ?? { ends: [], kept: false, metres: "", give: "", what: "" }; }
  get mark() { return this.isLine ? this.line.ends[this.end] : this.state.marks[this.chosen]; }
  get marked() {
    // Of the chosen line its own frames, the moments' while one is chosen, else those with marks.
    if (this.isMoment) return this.bench.moments.marked;
    return this.isLine ? this.model.get("drawn")[this.chosen].map((n) => [n, 1]) : this.book.list;
  }
  get isShown() { return this.onScreen === this.frame; }
  get isFine() {
    // The screen shows more than the travelling size holds.
    const k = window.devicePixelRatio || 1;
    return !this.isWholly && this.view.scale * this.size[0] * k > 1.02 * this.width;
  }
  /** Whether the pictures that travel hold all that the source does. */
  get isWholly() { return this.size[0] <= this.width && !this.shelf.film.isOn; }
  /** Where the magnifier looks, if it is wanted: at the mark while it is dragged or nudged, else under the pointer. */
  get spot() {
    const { grip, ui } = this;
    if (!this.isMagnified || this.play.isOn || !this.isShown || this.view.scale > 0.6 * CLOSE) return null;
    if (this.el.ownerDocument.activeElement !== ui.stage || (grip?.moved && !grip.name)) return null;
    return grip?.name || this.isNudging ? (this.mark ?? null) : this.pointer;
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
      // A picture that is larger than what is shown of it is put in its light once it is drawn.
      const rows = this.lightOn(image), isLarge = image.width * image.height > LARGE;
      const lit = rows && !isLarge ? this.lamp(image, rows) : image;
      g.drawImage(lit, view.left, view.top, size[0] * view.scale, size[1] * view.scale);
      if (rows && isLarge) lightCanvas(g, rows);
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
    const trail = this.play.isOn ? [] : fading(s.trail[chosen] ?? [], this.frame);
    drawOver(this.context(this.ui.over), box, view, { ...s, extras, skeleton, spans, chosen, end, size, trail });
    this.magnify();
  }
  magnify() {
    const { ui, box, size, spot } = this, side = insetSide(box);
    const place = spot && insetPlace(toBox(spot, this.view), side, box);
    const sharp = this.shelf.get(this.frame, 0), image = sharp ?? this.shelf.get(this.frame, this.width);
    ui.inset.hidden = !place || !image;
    if (ui.inset.hidden) return;
    this.sharpen();
    const k = window.devicePixelRatio || 1, full = Math.round(side * k);
    if (ui.close.width !== full) ui.close.width = ui.close.height = full;
    ui.inset.style.cssText = `left:${place[0]}px;top:${place[1]}px;width:${side}px;height:${side}px`;
    ui.inset.dataset.width = image.width;
    const g = this.context(ui.close), rows = this.lightOn(image);
    drawInset(g, image, size, spot, side);
    if (rows) lightCanvas(g, rows);
  }
  relight(light) {
    if (light.water !== this.light.water) this.water = null;
    this.light = light;
    this.rows = null;
    rememberLight(light);
    this.sayLight();
    this.paint();
  }
  /** The light as it is laid on this picture. What clear water does is found once, or it would flicker. */
  lightOn(image) {
    if (isFilmed(this.light)) return null;
    if (this.light.water) this.water ??= waterOfImage(image);
    return (this.rows ??= lightMatrix(this.light, this.water));
  }
  sayLight() {
    const { ui, light } = this;
    for (const name of ["brightness", "contrast"]) ui.lights[name].value = light[name];
    ui.lights.water.checked = light.water;
    ui.lightName.textContent = isFilmed(light) ? "light" : "light, changed";
  }
  context(canvas) {
    const k = window.devicePixelRatio || 1, g = canvas.getContext("2d");
    g.setTransform(k, 0, 0, k, 0, 0);
    return g;
  }
  say() {
    const { ui, state: s, frame, start, stop, points, names, chosen } = this;
    const count = `${Object.keys(s.marks).length} of ${points.length} points`;
    const { isOn, isSlow, divisor } = this.play, speed = `${SPEEDS[divisor]} speed`;
    const played = isOn && (isSlow ? `slower than ${speed}` : `playing at ${speed}`);
    const time = this.times[frame - start].toFixed(3), what = played || this.chosenWords() || count;
    const now = `frame ${frame} at ${time} s, ${what}`;
    // While playing, frame by frame is too much to hear: only how it plays is said.
    ui.now.setAttribute("aria-live", isOn ? "off" : "polite");
    const status = played ? `${played}${isSlow ? ", because the pictures are still coming" : ""}` : "";
    if (ui.status.textContent !== status) ui.status.textContent = status;
    ui.now.title = isSlow && isOn ? "The pictures are still coming: every frame is shown, later." : "";
    ui.play.textContent = isOn ? "stop" : ACTIONS.play;
    for (const one of ui.speeds) one.setAttribute("aria-pressed", one.dataset.do === `speed:${divisor}`);
    ui.magnify.setAttribute("aria-pressed", this.isMagnified);
    ui.now.dataset.shown = this.isShown;
    if (ui.now.textContent !== now) ui.now.textContent = now;
    if (ui.live.textContent !== s.live) ui.live.textContent = s.live;
    const aim = this.isPoint ? `Point to mark: ${names[chosen]}`
      : this.isLine ? `Line to draw: ${this.lineNames[chosen]}` : `Moment to set: ${this.bench.moments.names[chosen]}`;
    ui.stage.setAttribute("aria-label", `Picture, frame ${frame}. ${aim}`);
    ui.erase.textContent = this.isLine ? "erase line" : this.isMoment ? "erase moment" : ACTIONS.erase;
    ui.hide.disabled = !this.isPoint;
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
    this.bench.say();
    const radio = ui.radios[chosen], { side } = ui, room = side.clientHeight - radio.offsetHeight;
    side.scrollTop = Math.max(radio.offsetTop - room, Math.min(radio.offsetTop, side.scrollTop));
  }
  chosenWords() { return this.isLine ? this.lineWords() : this.isMoment ? this.bench.moments.words() : ""; }
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
    const { ui, start, stop, points } = this, { span, list } = columns(this.book.list, start, stop);
    ui.ticks.setAttribute("viewBox", `0 0 ${span} 1`);
    ui.tick.setAttribute("d", tickPath(list, 0, points.length));
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
    clearTimeout(this.calm);
    this.calm = null;
    this.around.want(this.frame, this.direction);
    if (this.play.isOn) {
      this.shelf.want(playOrder(this.frame, this.stop).map((n) => [n, this.width]), 1, true);
      return;
    }
    const near = fetchOrder(this.frame, this.direction, this.start, this.stop).map((n) => [n, this.width]);
    this.shelf.want(near, this.direction);
    this.sharpen(near);
  }
  /** The source's own pixels are fetched once the coach rests on a frame. */
  sharpen(near = fetchOrder(this.frame, this.direction, this.start, this.stop).map((n) => [n, this.width])) {
    const { frame, shelf } = this, isThere = this.isWholly || shelf.has(frame, 0) || this.lost.has(frame);
    if (this.calm || isThere || !(this.isFine || this.spot)) return;
    this.calm = setTimeout(() => {
      this.calm = null;
      shelf.want([near[0], [frame, 0], ...near.slice(1)], this.direction);
    }, 120);
  }
  arrive() {
    // On a new frame the choice starts over at the first open point.
    if (this.isNewHere && this.states.has(this.frame) && !this.play.isOn) {
      if (this.isPoint) this.chosen = this.points.find((p) => !this.isDone(p)) ?? this.chosen;
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
    const wasPlaying = this.play.halt();
    n = Math.max(this.start, Math.min(this.stop - 1, Math.round(n)));
    if (n === this.frame) { if (wasPlaying) this.settle(); return; }
    this.direction = n > this.frame ? 1 : -1;
    this.enter(n);
    this.rest();
  }
  enter(n) {
    this.frame = n;
    this.grip = null;
    this.isNewHere = true;
    this.isNudging = false;
    this.arrive();
    this.trouble();
    this.supply();
  }
  /** On a frame to stay: tell Python, and ask for its value. */
  rest() {
    this.model.set("frame", this.frame);
    this.model.save_changes();
    this.ask();
  }
  /** Playing is over. */
  settle() {
    this.supply();
    this.arrive();
    this.rest();
  }
  playOrStop() {
    if (this.halted()) return;
    this.onCancel();
    if (this.frame + 1 >= this.stop) this.go(this.start);
    this.direction = 1;
    this.play.start(this.frame);
    this.supply();
    this.arrive();
  }
  /** Stop playing; whether it played. */
  halted() {
    if (!this.play.halt()) return false;
    this.settle();
    return true;
  }
  choose(p) {
    this.chosen = p;
    if (!this.isPoint) unfold(this.ui, this.isLine ? "lines" : "moments");
    if (this.isShown) this.overlay();
    this.say();
  }
  chooseBy(step) {
    const all = [...this.points, ...Object.keys(this.lineNames), ...Object.keys(this.bench.moments.names)];
    this.choose(all[(all.indexOf(this.chosen) + step + all.length) % all.length]);
  }
  /** On to the next point that was drafted or tracked and not yet looked at. */
  chooseUnseen() {
    const done = (p) => !(p in this.state.marks) || OWN.has(this.state.origins[p]);
    this.choose(nextOpen(this.points, this.chosen, (p) => p === this.chosen || done(p)) ?? this.chosen);
  }
  chooseNext() { this.choose(nextOpen(this.points, this.chosen, (p) => this.isDone(p)) ?? this.chosen); }

  // -- changing marks: drawn here at once, decided in Python

  send(wish) {
    // A mark that is drawn but not kept must not look like one that is.
    this.silence ??= setTimeout(() => { this.isUnanswered = true; this.trouble(); }, PATIENCE);
    this.halted();
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
    if (this.isMoment) return; // a press on the picture sets no moment
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
  step(way) {
    if (this.isLine) this.send({ do: `${way}_line`, line: this.chosen });
    else this.send({ do: this.isMoment ? `${way}_moment` : way });
  }
  putPreview(wish) {
    if (this.preview.busy) { this.preview.next = wish; return; }
    this.preview = { busy: true, next: null };
    this.send({ do: "preview", ...wish });
  }
  drop(what) {
    if (!this.isShown) return;
    if (!this.isPoint) {
      if (what === "erase") this.isLine ? this.dropLine() : this.bench.moments.erase();
      return;
    }
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
    if (this.isMoment) { this.bench.moments.set(); return; }
    if (this.pointer) { this.set(this.pointer); return; }
    if (this.isLine) {
      // Without a pointer the ends stand a quarter from the sides of the view, to be nudged from there.
      const end = this.line.ends.length, at = [this.box.width * (0.25 + 0.5 * end), this.box.height / 2];
      if (end < 2) this.putEnd(end, toPicture(at, ORIGIN, this.view));
      return;
    }
    // Without a pointer: where the point was on the nearest frame, to be nudged from there; else mid-picture.
    const there = (n) => this.states.get(n)?.marks[this.chosen];
    this.isNudging = true;
    const near = this.book.list.map(([n]) => n).filter(there);
    near.sort((a, b) => Math.abs(a - this.frame) - Math.abs(b - this.frame));
    this.put(this.chosen, there(near[0]) ?? toPicture([this.box.width / 2, this.box.height / 2], ORIGIN, this.view));
  }
  swap() { this.send({ do: "swap", point: this.points[0] }); }
  nudge([dx, dy], by) {
    if (!this.mark || !this.isShown) return;
    this.isNudging = true;
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
    const laid = this.bench.keyed(e, letter);
    if (laid) return laid;
    if (arrow?.[0]) return () => this.go(this.frame + arrow[0] * (e.shiftKey ? 10 : 1));
    if (arrow) return () => this.chooseBy(arrow[1]);
    return {
      Enter: e.target === this.ui.stage ? () => this.place() : null,
      Home: () => this.go(this.start), End: () => this.go(this.stop - 1),
      PageUp: actions.earlier, PageDown: actions.later, Delete: actions.erase, Backspace: actions.erase,
      h: actions.hide, c: actions.centre, e: this.isLine ? () => this.otherEnd() : null,
      "+": actions.closer, "=": actions.closer, "-": actions.wider,
      0: actions.whole, m: actions.magnify, w: actions.water, f: actions.filmed, s: actions.swap,
      "?": () => this.ui.keysName.click(),
      " ": e.target === this.ui.stage || e.target === this.ui.strip ? actions.play : null,
      ...(letter in SPEEDS ? { [letter]: () => this.setSpeed(Number(letter)) } : {}),
    }[letter];
  }
  setSpeed(divisor) { this.play.pace(divisor); this.say(); }
  otherEnd() {
    if (this.line.ends.length < 2) return;
    this.end = 1 - this.end;
    this.choose(this.chosen);
  }
  onKey(e) {
    if (e.target.matches("input, select")) { this.onTyped(e); return; }
    const act = this.actionFor(e), key = e.key.toLowerCase();
    if (act) {
      e.preventDefault();
      // What is running past is not what a key should change: such a key only stops it.
      const isChange = CHANGES.has(key) || (e.key in ARROWS && (e.altKey || e.ctrlKey));
      if (!(e.repeat && ONCE.has(key)) && !(isChange && this.halted())) act();
    }
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
    else if (name === "fold") {
      const panel = [this.ui.light, this.ui.keys].find((one) => one.id === by);
      panel.hidden = !panel.hidden;
      e.target.setAttribute("aria-expanded", !panel.hidden);
    } else if (name === "speed") this.setSpeed(Number(by));
    else if (name === "unfold") unfold(this.ui, by, this.ui.parts[by].body.hidden);
    else if (name in this.actions && !(STOPS.has(name) && this.halted())) this.actions[name](by);
    const { point, line, moment } = e.target.closest("[role=radio]")?.dataset ?? {}, choice = point ?? line ?? moment;
    if (choice) { this.choose(choice); this.ui.stage.focus({ preventScroll: true }); }
  }
  at(e) { return toPicture([e.clientX, e.clientY], this.ui.stage.getBoundingClientRect(), this.view); }
  onPress(e) {
    // A press on a mark grabs it; beside the marks it sets the chosen point, or moves the view if it slides.
    if (e.button !== 0 || !this.isShown) return;
    e.stopPropagation();
    this.ui.stage.focus({ preventScroll: true });
    if (this.halted()) return;
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
    this.isNudging = false;
    if (!grip) { this.magnify(); return; }
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
    const r = this.ui.strip.getBoundingClientRect(), { start, stop, bench } = this;
    const n = start + Math.floor(((e.clientX - r.left) / r.width) * (stop - start));
    this.go(n);
    // With Shift a stretch is drawn along.
    const { from } = bench.stretch, isNew = e.type === "pointerdown" || from === null;
    if (e.shiftKey) bench.stretch.draw(isNew ? this.frame : from, this.frame);
  }

  // -- from Python

  heard(message, buffers) {
    const { kind, wish } = message;
    if (kind === "picture") this.heardPicture(message, buffers[0]);
    else if (kind === "film") this.shelf.film.take(message, buffers[0]);
    else if (kind === "states") this.heardStates(message);
    else if (kind === "ticks") this.heardTicks(message, buffers?.[0]);
    else if (kind === "state") (message.preview ? this.heardPreview(message) : this.heardState(message));
    else if (kind === "refused" && wish.do === "picture") {
      this.lost.set(wish.frame, message.why);
      this.shelf.missed(wish.frame, wish.width);
      this.trouble();
    } else if (kind === "refused" && wish.view === this.id) this.preview = { busy: false, next: null };
  }
  heardPicture({ frame, width, state }, bytes) {
    this.learn(frame, state);
    this.shelf.put(frame, width, bytes);
  }
  learn(frame, state) {
    // What was changed here and not yet answered is newer than what was told unasked.
    if (!this.states.has(frame) || (this.states.get(frame).age < 0 && this.answered === this.sent))
      this.states.set(frame, state);
  }
  heardStates({ start, states }) {
    states.forEach((state, i) => this.learn(start + i, state));
    if (this.frame >= start && this.frame < start + states.length) this.arrive();
  }
  heardTicks({ changed }, all) {
    all ? this.book.reset(all) : this.book.change(changed);
    this.ticks();
    for (const [n] of changed) {
      if (n === this.frame) continue;
      this.around.forget(n);
      if (this.states.has(n)) this.states.set(n, { ...this.states.get(n), age: -1 });
    }
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
    if (state.age > this.age) this.bench.look();
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
      pointercancel: () => this.onCancel(), 
      pointerleave: () => { if (!this.grip) { this.pointer = null; this.magnify(); } },
      focus: () => this.magnify(), blur: () => { this.isNudging = false; this.magnify(); },
      wheel: (e) => this.onWheel(e),
    });
    for (const light of Object.values(ui.lights))
      on(light, { input: () => this.relight({
        brightness: Number(ui.lights.brightness.value), contrast: Number(ui.lights.contrast.value),
        water: ui.lights.water.checked,
      }) });
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
      "change:drawn": () => this.say(),
      "change:trouble": () => this.trouble(),
      ...this.bench.told(),
    };
    for (const [event, act] of Object.entries(told)) model.on(event, act);
    const sizing = new ResizeObserver(() => this.resize());
    sizing.observe(stage);
    this.ticks();
    this.bench.lay();
    this.trouble();
    this.sayLight();
    this.say();
    this.model.send({ do: "ticks" });
    this.supply();
    this.ask();
    return () => {
      this.play.halt();
      this.bench.close();
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
