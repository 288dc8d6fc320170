// Moments of the stroke: set at the frame shown, found in the marks, and shown in a lane over the strip.

const STROKE = 0.8; // a moment farther off than this belongs to another stroke [s]
const CLASS = "stroke_class";
const LETTER = 0.5; // room that a letter of a moment's name takes in its lane, as a share of the type's size
/** What a moment is called in its lane, where there is little room. */
const SHORT = { end_of_extension: "reach", past_body: "body", shoulder: "shoulder" };
const FAR = { frame: Infinity };
const CLOSEST = 1.5; // of stems [screen px]
const ARMS = { l: "left", r: "right" };

/** Which moments of a lane get their names, as a set: those that reach up to no other stem. `moments` have `x` [screen
 *  px] and `text`; `letter` is the width of a letter [screen px]. */
export function named(moments, letter) {
  const end = (one) => one.x + 6 + letter * one.text.length;
  return new Set(moments.filter((one) => !moments.some((other) => other.x > one.x && other.x < end(one))));
}

class MomentList {
  constructor(tool) {
    const { ui, model, id } = tool;
    this.tool = tool;
    this.names = model.get("moment_names");
    this.side = model.get("side");
    this.stems = [];
    this.pointed = {}; // the moment pointed out in each arm's lane
    this.acts = { arm: () => this.other() };
    this.keys = {
      t: () => this.step(1), "Shift t": () => this.step(-1), o: () => this.other(),
      "Shift PageUp": () => this.jump(-1), "Shift PageDown": () => this.jump(1),
    };
    if (!this.isThere) return;
    this.arm = make("button", { type: "button", class: "cb-arm", "data-do": "arm" });
    this.group = make("div", { role: "radiogroup", "aria-label": "Moments of the stroke" });
    for (const [name, text] of Object.entries(this.names)) {
      ui.radios[name] = make("button", { type: "button", role: "radio", "data-moment": name, tabindex: "-1" },
        make("span", { text }), make("span", { class: "cb-at" }));
      this.group.append(ui.radios[name]);
    }
    this.kinds = choice("kind of stroke", Object.entries(model.get("stroke_classes")), {});
    this.kind = make("div", { class: "cb-words", hidden: "" }, make("label", {}, this.kinds));
    sidePart(ui, "moments", "Moments", id, this.arm, this.group, this.kind);
    this.lane = make("div", { class: "cb-moments", "aria-hidden": "true" });
    ui.strip.before(this.lane);
  }
  get isThere() { return Object.keys(this.names).length > 0; }
  get all() {
    const told = this.tool.model.get("moments");
    if (told !== this.told) {
      this.told = told;
      this.list = told.map(([frame, name, side, isOwn, value]) => ({ frame, name, side, isOwn, value }));
    }
    return this.list;
  }
  has(chosen) { return chosen in this.names; }
  /** The moment of this name nearest to the frame shown, if it is of the same stroke. */
  near(name) {
    const { tool } = this, { times, start } = tool;
    const time = (n) => times[Math.max(0, Math.min(times.length - 1, Math.round(n) - start))];
    const off = (m) => Math.abs(time(m.frame) - time(tool.frame));
    let best = null;
    for (const m of this.all)
      if (m.name === name && m.side === this.side && off(m) <= (best ? off(best) : STROKE)) best = m;
    return best;
  }
  step(by) {
    const names = Object.keys(this.names), at = names.indexOf(this.tool.chosen);
    if (!names.length) return;
    this.tool.choose(names[at < 0 ? (by > 0 ? 0 : names.length - 1) : (at + by + names.length) % names.length]);
  }
  other() { this.side = this.side === "l" ? "r" : "l"; this.tool.say(); }
  set() {
    const event = this.tool.chosen, value = event === CLASS ? this.kinds.value : "";
    this.tool.send({ do: "moment", event, side: this.side, value });
  }
  erase() { this.tool.send({ do: "erase_moment", event: this.tool.chosen, side: this.side }); }
  /** The frames that moments stand on, for jumping. */
  get marked() { return this.all.map((m) => [Math.round(m.frame), 1]); }
  jump(direction) { this.tool.go(besideMarked(this.marked, this.tool.frame, direction)); }
  words() {
    const { chosen } = this.tool, there = this.near(chosen), of = `${this.names[chosen]}, ${ARMS[this.side]}`;
    if (!there) return `${of}: Enter sets it`;
    const at = there.isOwn ? `set at ${Math.round(there.frame)}` : `found at ${there.frame.toFixed(1)}`;
    return `${of}: ${at}${there.value ? `, ${there.value}` : ""}`;
  }
  say() {
    if (!this.isThere) return;
    const { tool } = this, { ui, chosen } = tool;
    this.arm.textContent = `${ARMS[this.side]} arm`;
    this.arm.setAttribute("aria-label", `${ARMS[this.side]} arm; change to the other`);
    for (const [name, text] of Object.entries(this.names)) {
      const radio = ui.radios[name], there = this.near(name), how = there ? (there.isOwn ? "set" : "found") : "open";
      radio.setAttribute("aria-checked", name === chosen);
      const where = there ? `${how} at frame ${Math.round(there.frame)}` : "not set";
      radio.setAttribute("aria-label", `${text}, ${ARMS[this.side]} arm, ${where}`);
      radio.tabIndex = name === chosen ? 0 : -1;
      radio.dataset.how = how;
      radio.lastElementChild.textContent = there ? Math.round(there.frame) : "";
    }
    this.kind.hidden = chosen !== CLASS;
    this.pointOut();
  }
  /** Draw the lane anew. */
  lay() {
    if (!this.isThere) return;
    const { start, stop } = this.tool, width = this.lane.clientWidth || 700;
    const letter = LETTER * parseFloat(getComputedStyle(this.lane).fontSize);
    const x = (frame) => (frame - start + 0.5) / (stop - start);
    const all = this.all.map((m) => {
      const text = m.name === CLASS ? m.value : (SHORT[m.name] ?? this.names[m.name]), at = x(m.frame) * width;
      return { ...m, text, x: at, end: at + 6 + letter * text.length };
    });
    const rows = ["l", "r"].filter((side) => all.some((m) => m.side === side));
    this.lane.style.setProperty("--rows", Math.max(1, rows.length));
    this.lane.replaceChildren();
    this.stems = [];
    this.pointed = {};
    for (const [row, side] of rows.entries()) {
      const own = all.filter((m) => m.side === side), shown = named(own, letter);
      let last = -Infinity;
      for (const m of own) {
        if (m.x - last < CLOSEST && !m.isOwn) continue; // of a crowd one stem is enough
        last = m.x;
        const tick = make("span", {
          class: "cb-moment", "data-how": m.isOwn ? "set" : "found", "data-name": m.name,
          title: `${this.names[m.name]}, ${ARMS[m.side]} arm, ${m.isOwn ? "set" : "found"}`,
        });
        const isClear = m.end <= width || !own.some((o) => o.x < m.x && o.x > 2 * m.x - m.end);
        tick.append(make("span", { text: m.text, ...(shown.has(m) && isClear ? {} : { hidden: "" }) }));
        this.stems.push({ ...m, tick });
        tick.style.left = `${100 * x(m.frame)}%`;
        // At the right edge the name stands before its stem.
        if (m.end > width) tick.dataset.before = "";
        tick.style.setProperty("--row", row);
        this.lane.append(tick);
      }
    }
    this.pointOut();
  }
  /** The moment nearest to the frame shown has its name whatever is in the way; the names under it make room. */
  pointOut() {
    for (const side of ["l", "r"]) {
      const { frame } = this.tool, off = (s) => Math.abs(s.frame - frame);
      let nearest = null;
      for (const s of this.stems)
        if (s.side === side && s.name !== CLASS && off(s) < off(nearest ?? FAR)) nearest = s;
      if (nearest === this.pointed[side]) continue;
      this.pointed[side] = nearest;
      for (const s of this.stems) {
        if (s.side !== side) continue;
        const isUnder = s !== nearest && s.x < nearest?.end && s.end > nearest?.x;
        s.tick.toggleAttribute("data-near", s === nearest);
        s.tick.toggleAttribute("data-under", isUnder);
      }
    }
  }
}
