// A stretch of frames, and what is done over it: follow, draft, accept, swap, take off.

/** First and last frame of a stretch of which one or both ends are given, from either side; null of none. */
export function spanOf(from, to, frame) {
  if (from === null && to === null) return null;
  const a = from ?? frame, b = to ?? frame;
  return [Math.min(a, b), Math.max(a, b)];
}

const SAID = 6000; // [ms]

class StretchBar {
  constructor(tool) {
    const { ui, model } = tool;
    this.tool = tool;
    this.from = this.to = null;
    this.isAll = false; // all points, or the one last chosen
    this.point = tool.points[0];
    this.can = model.get("abilities");
    this.isPaired = "swap" in tool.actions;
    this.acts = {
      begin: () => this.set("from"), end: () => this.set("to"), scope: () => this.turn(),
      follow: () => this.work("follow"), draft: () => this.work("draft"),
      accept: () => this.accept(false), accept_over: () => this.accept(true),
      swap_over: () => this.over("swap_over"), take_off: () => this.over("take_off"),
      halt: () => tool.model.send({ do: "halt" }),
    };
    this.keys = {
      b: this.acts.begin, n: this.acts.end, Escape: () => this.clear(), p: this.acts.scope, g: this.acts.follow,
      d: this.acts.draft, a: this.acts.accept, "Shift a": this.acts.accept_over,
      "Shift Delete": this.acts.take_off, "Shift Backspace": this.acts.take_off,
      ...(this.isPaired ? { "Shift s": this.acts.swap_over } : {}),
    };
    if (this.can.length) this.build(ui);
  }
  build(ui) {
    const button = (name, text) => make("button", { type: "button", "data-do": name, text });
    this.band = make("span", { class: "cb-band", hidden: "" });
    ui.strip.prepend(this.band);
    this.where = make("output", { class: "cb-where-to" });
    this.scope = button("scope", "");
    const acts = [["follow", "follow"], ["draft", "draft"]].filter(([name]) => this.can.includes(name));
    this.bar = make("progress", { "aria-label": "Done so far", max: "1" });
    this.halt = button("halt", "stop");
    this.says = make("output", { role: "status", "aria-live": "polite" });
    this.pane = make("div", { class: "cb-pane cb-doing" }, this.says, this.bar, this.halt);
    this.pane.addEventListener("pointerdown", (e) => e.stopPropagation());
    ui.stage.append(this.pane);
    const group = (...nodes) => make("span", { class: "cb-group" }, ...nodes);
    ui.stretch.append(
      group(this.where, button("begin", "from here"), button("end", "to here")), group(this.scope),
      group(...acts.map(([name, text]) => button(name, text)), button("accept_over", "accept"),
        ...(this.isPaired ? [button("swap_over", "swap")] : []), button("take_off", "discard")));
    ui.stretch.hidden = false;
  }
  get span() { return spanOf(this.from, this.to, this.tool.frame); }
  get points() { return this.isAll ? this.tool.points : [this.point]; }
  set(end) { this[end] = this.tool.frame; this.tool.say(); }
  /** From one frame to another, drawn on the strip. */
  draw(from, to) { [this.from, this.to] = [from, to]; this.tool.say(); }
  clear() { this.from = this.to = null; this.tool.say(); }
  turn() { this.isAll = !this.isAll; this.tool.say(); }
  wish(what, more = {}) { this.tool.send({ do: what, points: this.points, span: this.span, ...more }); }
  work(what) { if (this.can.includes(what)) this.wish(what); }
  accept(over) { this.wish("accept", { over }); if (!over && !this.isAll) this.tool.chooseUnseen(); }
  over(what) { this.wish(what, what === "swap_over" ? { points: this.tool.points } : {}); }
  say() {
    const { tool } = this, { start, stop } = tool, span = this.span;
    if (tool.isPoint) this.point = tool.chosen;
    if (!this.can.length) return;
    this.where.textContent = span ? `stretch: ${span[0]} to ${span[1]}` : "stretch: from mark to mark";
    this.scope.textContent = this.isAll ? "for all points" : `for ${tool.names[this.point]}`;
    this.scope.setAttribute("aria-label", `${this.scope.textContent}; change`);
    this.band.hidden = !span;
    if (span) {
      this.band.style.left = `${(100 * (span[0] - start)) / (stop - start)}%`;
      this.band.style.width = `${(100 * (span[1] - span[0] + 1)) / (stop - start)}%`;
    }
    const { kind, n, of, says } = tool.model.get("work");
    this.bar.hidden = this.halt.hidden = !kind;
    this.bar.max = of || 1;
    this.bar.value = n;
    const text = kind && n ? `${says}: ${Math.round((100 * n) / of)} %` : says;
    if (this.says.textContent === text) return;
    this.says.textContent = text;
    this.pane.dataset.gone = !text;
    clearTimeout(this.fading);
    // What was done is said for a while, then the picture is free again.
    if (text && !kind) this.fading = setTimeout(() => { this.pane.dataset.gone = true; }, SAID);
  }
}
