// Rulers: what is read off the frame, chosen from a list, laid on points of the coach's choice.

class RulerList {
  constructor(tool) {
    const { ui, model } = tool;
    this.tool = tool;
    this.open = null; // the ruler whose points are shown
    this.corner = 0; // which of an angle's points is chosen next
    this.rows = {};
    this.acts = { ruler: (key) => this.turn(key) };
    this.keys = { r: () => this.next(1), "Shift r": () => this.next(-1), q: () => this.pick() };
    if (!this.list.length) return;
    this.body = sidePart(ui, "rulers", "Read off the frame", tool.id);
    for (const ruler of this.list) this.body.append(...this.build(ruler));
    this.open = this.list.find((r) => r.on)?.key ?? null;
  }
  get list() { return this.tool.model.get("rulers"); }
  build({ key, name, slots, width }) {
    const { tool } = this, options = Object.entries(tool.model.get("ruler_points"));
    const toggle = make("button", { type: "button", "data-do": `ruler:${key}`, "data-ruler": key, text: name });
    const lists = slots.map(([what], slot) => choice(`${name}: ${what}`, options, { "data-slot": slot }));
    const rows = lists.map((list, i) => make("label", {}, make("span", { text: slots[i][0] }), list));
    for (const [slot, list] of lists.entries())
      list.addEventListener("change", () => tool.send({ do: "lay", key, slot, point: list.value }));
    const field = width === null ? null : make("input", {
      type: "text", inputmode: "decimal", "aria-label": `${name}: width`, "data-lm-suppress-shortcuts": "true",
    });
    if (field) {
      field.addEventListener("change", () => tool.send({ do: "widen", text: field.value }));
      rows.push(make("label", {}, make("span", { text: "width" }), field));
    }
    const box = make("div", { class: "cb-words", role: "group", "aria-label": name, hidden: "" }, ...rows);
    this.rows[key] = { toggle, lists, field, box };
    return [toggle, box];
  }
  turn(key) {
    const { on } = this.list.find((r) => r.key === key);
    if (!on) this.open = key;
    else if (this.open === key) this.open = null;
    this.tool.send({ do: "ruler", key, on: !on });
  }
  /** One ruler alone after another, and none. */
  next(step) {
    if (!this.list.length) return;
    const keys = ["", ...this.list.map((r) => r.key)], on = this.list.filter((r) => r.on).map((r) => r.key);
    const at = on.length === 1 ? keys.indexOf(on[0]) : 0, key = keys[(at + step + keys.length) % keys.length];
    this.open = key || null;
    unfold(this.tool.ui, "rulers");
    this.tool.send({ do: "ruler_alone", key });
  }
  /** The chosen point becomes the next of the angle's three. */
  pick() {
    const { tool } = this, ruler = this.list.find((r) => r.key === "angle");
    if (!ruler || !tool.isPoint) return;
    unfold(tool.ui, "rulers");
    this.open = "angle";
    if (!ruler.on) tool.send({ do: "ruler", key: "angle", on: true });
    tool.send({ do: "lay", key: "angle", slot: this.corner, point: tool.chosen });
    this.corner = (this.corner + 1) % 3;
  }
  say() {
    const there = this.tool.el.ownerDocument.activeElement;
    for (const { key, on, slots, width, usual } of this.list) {
      const { toggle, lists, field, box } = this.rows[key];
      toggle.setAttribute("aria-pressed", on);
      box.hidden = !on || key !== this.open || !box.childElementCount;
      for (const [i, list] of lists.entries()) if (list !== there) list.value = slots[i][1];
      if (field && field !== there) field.value = width;
      if (field) field.placeholder = usual;
    }
  }
}
