// Frames proposed for marking: hollow carets over the strip, and words on the picture of such a frame.

/** The proposed frame to go to from `frame`: the next open one on that side, around the end; of all once none is open.
 *  `offers` are [frame, title, why, is done] in time order. */
export function nextOffer(offers, frame, direction) {
  const open = offers.filter(([, , , isDone]) => !isDone), list = (open.length ? open : offers).map(([n]) => n);
  if (direction < 0) list.reverse();
  return list.find((n) => (n - frame) * direction > 0) ?? list[0] ?? frame;
}

class OfferList {
  constructor(tool) {
    this.tool = tool;
    this.acts = { offer: () => this.go(1) };
    this.keys = { k: () => this.go(1), "Shift k": () => this.go(-1) };
    this.words = make("output", { class: "cb-pane cb-offer", "aria-live": "polite", hidden: "" });
    this.carets = make("div", { class: "cb-carets", "aria-hidden": "true" });
    tool.ui.stage.append(this.words);
    tool.ui.strip.append(this.carets);
  }
  get list() { return this.tool.model.get("proposals"); }
  get isThere() { return this.tool.model.get("abilities").length > 0; }
  go(direction) { if (this.list.length) this.tool.go(nextOffer(this.list, this.tool.frame, direction)); }
  say() {
    const { tool } = this, isHere = ([n, , , isDone]) => n === tool.frame && !isDone;
    const here = tool.play.isOn ? null : this.list.find(isHere);
    const open = this.list.filter(([, , , isDone]) => !isDone).length;
    tool.ui.offer.hidden = !this.list.length;
    tool.ui.offer.textContent = open ? `proposed still (${open})` : "stills marked";
    const text = here ? `proposed: ${here[1]}` : "";
    this.words.hidden = !here;
    if (this.words.textContent !== text) this.words.textContent = text;
    this.words.title = here ? here[2] : "";
  }
  lay() {
    const { start, stop } = this.tool;
    this.carets.replaceChildren(...this.list.filter(([, , , isDone]) => !isDone).map(([frame, title, why]) => {
      const caret = make("span", { title: `proposed: ${title} (${why})` });
      caret.style.left = `${(100 * (frame - start + 0.5)) / (stop - start)}%`;
      return caret;
    }));
  }
}
