// The bench beside the picture: its lists, its bar below the strip, and what they have in common.

/** A part of the side list under a heading that folds it; of these parts one is open at a time. */
function sidePart(ui, name, text, id, ...children) {
  const body = make("div", { class: "cb-part", id: `${name}-${id}` }, ...children);
  const heading = make("button", {
    type: "button", class: "cb-heading", "data-do": `unfold:${name}`, "aria-controls": body.id, text,
  });
  ui.parts[name] = { body, heading };
  ui.side.append(heading, body);
  return body;
}

function unfold(ui, name, isOpen = true) {
  for (const [one, { body, heading }] of Object.entries(ui.parts)) {
    body.hidden = !(one === name && isOpen);
    heading.setAttribute("aria-expanded", !body.hidden);
  }
}

/** A list to choose from; typing in it is no command to the notebook. */
function choice(label, options, attributes) {
  const list = make("select", { "aria-label": label, "data-lm-suppress-shortcuts": "true", ...attributes });
  for (const [value, text] of options) list.append(make("option", { value, text }));
  return list;
}

/** Everything that lies on the bench. Each piece has `say()`, `keys` and `acts`, all of them optional. */
class Workbench {
  constructor(tool) {
    this.tool = tool;
    this.rulers = new RulerList(tool);
    this.moments = new MomentList(tool);
    this.offers = new OfferList(tool);
    this.stretch = new StretchBar(tool);
    this.pieces = [this.rulers, this.moments, this.offers, this.stretch];
    this.acts = Object.assign({}, ...this.pieces.map((piece) => piece.acts));
    this.waiting = null;
  }
  /** What a key does here; with Shift it may do another thing. */
  keyed(e, letter) {
    for (const piece of this.pieces) {
      const act = piece.keys[e.shiftKey && letter !== "?" ? `Shift ${letter}` : letter];
      if (act) return act;
    }
    return null;
  }
  say() { for (const piece of this.pieces) piece.say(); }
  /** Ask for what can be found in the marks, once the coach pauses. */
  look() {
    clearTimeout(this.waiting);
    if (!this.moments.isThere && !this.offers.isThere) return;
    this.waiting = setTimeout(() => {
      if (this.tool.play.isOn || this.tool.grip) this.look();
      else this.tool.model.send({ do: "look" });
    }, PAUSE);
  }
  told() {
    const { model } = this.tool, say = () => this.tool.say();
    return {
      "change:rulers": say, "change:moments": () => { this.moments.lay(); say(); },
      "change:proposals": () => { this.offers.lay(); say(); }, "change:work": say,
    };
  }
  lay() { this.moments.lay(); this.offers.lay(); this.look(); }
  close() { clearTimeout(this.waiting); }
}

const PAUSE = 700; // without a change, before what can be found is looked for [ms]
