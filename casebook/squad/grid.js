// The squad grid: a table of swimmers by checkpoints, one key a cell, the swimmer's loop beside the row.
// Python keeps the grid; here it is drawn, and wishes are sent.

const KEYS = [
  ["1, 2, 3", "fine, look again, fault; 0 not seen"], ["a, b, c …", "which fault, in this column"],
  ["← → ↑ ↓", "move; Home, End: first and last column; Page Up, Page Down: first and last swimmer"],
  ["Space", "the loop plays, stops"], [", .", "the picture before, after"], ["S", "take this picture for the card"],
  ["Ctrl Z, Ctrl Shift Z", "undo, redo"],
];
const MOVES = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
const KINDS = { fine: "fine", "look again": "look", fault: "fault" };
const PATIENCE = 1500; // [ms]
const SILENCE = "Not saved yet: the kernel is busy or has stopped. If it has stopped, run this cell again.";

function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [k, v] of Object.entries(attributes)) k === "text" ? (node.textContent = v) : node.setAttribute(k, v);
  node.append(...children);
  return node;
}

class SquadGrid {
  constructor(model, el) {
    this.model = model;
    this.members = model.get("members");
    this.columns = model.get("columns");
    this.answers = model.get("answers");
    this.row = this.column = this.sent = this.done = 0;
    this.loops = new Map(); // number -> { url, times }
    this.shown = null; // the number whose loop is in the player
    this.build(el);
    this.draw();
    this.choose(0, 0, false);
  }

  build(el) {
    const head = make("tr", { role: "row" }, make("th", { role: "columnheader", scope: "col", text: "Swimmer" }),
      ...this.columns.map((c) => make("th", { role: "columnheader", scope: "col", text: c.title })));
    const rows = this.members.map((m, r) => make("tr", { role: "row", "data-number": m.number },
      make("th", { role: "rowheader", scope: "row" }, make("b", { text: m.number }), ` ${m.alias}`),
      ...this.columns.map((_, c) => make("td", { role: "gridcell", tabindex: "-1", "data-at": `${r} ${c}` }))));
    this.table = make("table", { role: "grid", "aria-label": "Swimmers by checkpoints" },
      make("thead", { role: "rowgroup" }, head), make("tbody", { role: "rowgroup" }, ...rows));
    this.video = make("video", { muted: "", playsinline: "", loop: "", tabindex: "-1" });
    this.video.muted = true;
    this.blank = make("p", { class: "cbg-blank", text: "No loop: nothing was cut for this swimmer." });
    this.whose = make("p", { class: "cbg-whose" });
    this.letters = make("div", { class: "cbg-letters", role: "group" });
    this.says = make("p", { class: "cbg-says", role: "status", "aria-live": "polite" });
    this.trouble = make("p", { class: "cbg-trouble", role: "alert", hidden: "" });
    const button = (act, text) => make("button", { type: "button", "data-act": act, text });
    const acts = make("div", { class: "cbg-acts" }, button("play", "play"), button("back", "picture back"),
      button("on", "picture on"), button("still", "take for the card"), button("undo", "undo"), button("redo", "redo"));
    const keys = make("details", { class: "cbg-keys" }, make("summary", { text: "keys" }),
      make("dl", {}, ...KEYS.flatMap(([k, text]) => [make("dt", { text: k }), make("dd", { text })])));
    this.root = make("div", { class: "cb-grid" }, make("div", { class: "cbg-body" },
      make("div", { class: "cbg-side" }, make("div", { class: "cbg-stage" }, this.video, this.blank), this.whose, acts,
        this.letters),
      make("div", { class: "cbg-main" }, make("div", { class: "cbg-rows" }, this.table), this.says, this.trouble, keys)));
    el.replaceChildren(this.root);
    this.root.addEventListener("keydown", (e) => this.onKey(e));
    this.root.addEventListener("click", (e) => this.onClick(e));
    this.video.addEventListener("play", () => this.named());
    this.video.addEventListener("pause", () => this.named());
  }

  // -- what is shown

  cell(r, c) { return this.table.querySelector(`[data-at="${r} ${c}"]`); }

  held(r, c) {
    return this.model.get("cells")[`${this.members[r].number} ${this.columns[c].key}`] || ["", ""];
  }

  draw() {
    this.members.forEach((_, r) => this.columns.forEach((_c, c) => this.drawCell(r, c)));
    this.drawLetters();
  }

  drawCell(r, c) {
    const [answer, fault] = this.held(r, c), node = this.cell(r, c);
    const found = this.columns[c].faults.find((f) => f.key === fault);
    const text = answer || "not seen";
    node.replaceChildren(make("span", { class: `cbg-mark cbg-${KINDS[answer] || "clear"}`, text: answer ? answer : "·" }));
    if (found) node.append(make("small", { text: found.words, title: found.words }));
    node.setAttribute("aria-label", `${text}${found ? `, ${found.words}` : ""}`);
  }

  drawLetters() {
    const column = this.columns[this.column], fault = this.held(this.row, this.column)[1];
    this.letters.setAttribute("aria-label", `Faults of the ${column.title}`);
    this.letters.replaceChildren(make("p", { text: `${column.title}, a fault:` }), ...column.faults.map((f) =>
      make("button", { type: "button", "data-fault": f.key, "aria-pressed": String(f.key === fault) },
        make("b", { text: f.letter }), ` ${f.words}`)));
  }

  choose(r, c, focus = true) {
    this.cell(this.row, this.column).setAttribute("tabindex", "-1");
    this.table.querySelector("[data-here]")?.removeAttribute("data-here");
    this.row = Math.max(0, Math.min(this.members.length - 1, r));
    this.column = Math.max(0, Math.min(this.columns.length - 1, c));
    const node = this.cell(this.row, this.column);
    node.setAttribute("tabindex", "0");
    node.parentElement.setAttribute("data-here", "");
    if (focus) {
      node.focus({ preventScroll: true });
      node.scrollIntoView({ block: "nearest" });
    }
    this.drawLetters();
    this.showLoop();
  }

  /** On to the next cell, and from the last column to the next swimmer. */
  onward() {
    if (this.column < this.columns.length - 1) this.choose(this.row, this.column + 1);
    else if (this.row < this.members.length - 1) this.choose(this.row + 1, 0);
  }

  // -- the loop

  showLoop() {
    const { number, alias, loop } = this.members[this.row];
    if (this.shown === number) return;
    this.shown = number;
    this.whose.replaceChildren(make("b", { text: number }), ` ${alias}`);
    this.video.hidden = !loop;
    this.blank.hidden = loop;
    this.video.removeAttribute("src");
    this.video.load();
    this.root.querySelectorAll(".cbg-acts [data-act]").forEach((b) => {
      if (!["undo", "redo"].includes(b.dataset.act)) b.disabled = !loop;
    });
    const had = this.loops.get(number);
    if (had) this.play(had);
    else if (loop) this.model.send({ do: "loop", number });
  }

  play(loop) {
    this.video.src = loop.url;
    this.video.setAttribute("aria-label", `Swimmer ${this.shown}`);
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) return;
    this.video.play().catch(() => {});
  }

  named() {
    this.root.querySelector("[data-act=play]").textContent = this.video.paused ? "play" : "stop";
  }

  /** The picture on screen, by when each begins. */
  picture() {
    const times = this.loops.get(this.shown)?.times || [0];
    let at = 0;
    while (at + 1 < times.length && times[at + 1] <= this.video.currentTime + 1e-4) at += 1;
    return at;
  }

  step(by) {
    const times = this.loops.get(this.shown)?.times;
    if (!times) return;
    this.video.pause();
    const at = Math.max(0, Math.min(times.length - 1, this.picture() + by));
    const end = at + 1 < times.length ? times[at + 1] : times[at] + 0.02;
    this.video.currentTime = (times[at] + end) / 2;
  }

  // -- wishes

  send(wish) {
    this.sent += 1;
    const seq = this.sent;
    this.model.send({ ...wish, seq });
    setTimeout(() => { if (this.done < seq) this.tell(SILENCE); }, PATIENCE);
  }

  put(answer, fault = "") {
    const { number } = this.members[this.row], checkpoint = this.columns[this.column].key;
    this.send({ do: "put", number, checkpoint, answer, fault });
    const words = this.columns[this.column].faults.find((f) => f.key === fault)?.words;
    this.says.textContent = `${number}, ${this.columns[this.column].title}: ${words || answer || "not seen"}`;
    if (answer !== "fault" || fault) this.onward();
  }

  act(name) {
    if (name === "play") this.video.paused ? this.video.play().catch(() => {}) : this.video.pause();
    else if (name === "back" || name === "on") this.step(name === "on" ? 1 : -1);
    else if (name === "still") {
      this.video.pause();
      if (this.loops.has(this.shown)) this.send({ do: "still", number: this.shown, picture: this.picture() });
    } else this.send({ do: name });
  }

  onClick(e) {
    const cell = e.target.closest("[data-at]"), fault = e.target.closest("[data-fault]"), act = e.target.closest("[data-act]");
    if (cell) this.choose(...cell.dataset.at.split(" ").map(Number));
    else if (fault) this.put("fault", fault.dataset.fault);
    else if (act) this.act(act.dataset.act);
  }

  onKey(e) {
    const onButton = e.target.closest("button, summary");
    if (e.key === "Tab" || (onButton && (e.key === "Enter" || e.key === " "))) { e.stopPropagation(); return; }
    if (this.isKnown(e)) e.preventDefault();
    // No key here is a command to the notebook.
    e.stopPropagation();
  }

  isKnown(e) {
    const key = e.key.length === 1 ? e.key.toLowerCase() : e.key;
    if ((e.ctrlKey || e.metaKey) && (key === "z" || key === "y")) {
      this.act(key === "y" || e.shiftKey ? "redo" : "undo");
      return true;
    }
    if (e.ctrlKey || e.metaKey || e.altKey) return false;
    const move = MOVES[key];
    const fault = this.columns[this.column].faults.find((f) => f.letter === key);
    if (move) this.choose(this.row + move[0], this.column + move[1]);
    else if (key === "Home" || key === "End") this.choose(this.row, key === "Home" ? 0 : this.columns.length - 1);
    else if (key === "PageUp" || key === "PageDown") this.choose(key === "PageUp" ? 0 : this.members.length - 1, this.column);
    else if (key in this.answers) this.put(this.answers[key]);
    else if (key === "0" || key === "Delete") this.put("");
    else if (fault) this.put("fault", fault.key);
    else if (key === " ") this.act("play");
    else if (key === "," || key === ".") this.step(key === "." ? 1 : -1);
    else if (key === "s") this.act("still");
    else return false;
    return true;
  }

  // -- answers

  heard(message, buffers) {
    if (message.kind === "loop") {
      const url = URL.createObjectURL(new Blob([buffers[0]], { type: "video/mp4" }));
      this.loops.set(message.number, { url, times: message.times });
      if (this.shown === message.number) this.play(this.loops.get(message.number));
    } else if (message.kind === "at") {
      const r = this.members.findIndex((m) => m.number === message.number);
      const c = this.columns.findIndex((k) => k.key === message.checkpoint);
      if (r >= 0 && c >= 0) this.choose(r, c);
    } else if (message.kind === "still") {
      this.says.textContent = `Picture taken for the card of ${message.number}.`;
    } else if (message.kind === "done") {
      this.done = Math.max(this.done, message.seq);
      this.tell(this.model.get("trouble"));
    }
  }

  tell(trouble) {
    this.trouble.hidden = !trouble;
    this.trouble.textContent = trouble;
  }

  close() { for (const { url } of this.loops.values()) URL.revokeObjectURL(url); }
}

export default {
  render({ model, el }) {
    if (!model.get("members").length) {
      el.textContent = "Nobody on the roster may be filmed.";
      return undefined;
    }
    const grid = new SquadGrid(model, el);
    const redraw = () => grid.draw(), heard = (m, b) => grid.heard(m, b);
    model.on("change:cells", redraw);
    model.on("msg:custom", heard);
    return () => { model.off("change:cells", redraw); model.off("msg:custom", heard); grid.close(); };
  },
};
