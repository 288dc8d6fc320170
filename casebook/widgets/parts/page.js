// The page elements.

function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [k, v] of Object.entries(attributes)) k === "text" ? (node.textContent = v) : node.setAttribute(k, v);
  node.append(...children);
  return node;
}

/** The keys by what they are for; `paired` ones only where both sides of the body are marked. */
const KEYS = [
  ["Frames", [
    ["← →", "one frame; with Shift ten"], ["Home, End", "first, last frame"],
    ["Page Up, Page Down", "marked frame before, after; of what is chosen"],
    ["Shift Page Up, Page Down", "moment before, after"], ["K, Shift K", "next, last proposed still"],
    ["Space", "play, stop"], ["1, 2, 4, 8", "at full, half, quarter, eighth speed"],
  ]],
  ["Points and lines", [
    ["↑ ↓", "choose the point, line or moment"], ["Enter", "set it here; of a line, an end"],
    ["Alt or Ctrl with arrows", "shift it a quarter pixel; with Shift, five pixels"],
    ["E", "the line's other end"], ["Delete", "erase it"], ["H", "cannot be seen"],
    ["Ctrl Z, Ctrl Shift Z", "undo, redo: points, lines or moments, as chosen"],
  ]],
  ["Moments and readings", [
    ["T, Shift T", "next, last moment; Enter sets it on this frame"], ["O", "the other arm's moments"],
    ["R, Shift R", "read off the frame: next, last"], ["Q", "take the chosen point for the angle"],
  ]],
  ["A stretch of frames", [
    ["B, N, Escape", "begins here, ends here, as by itself"], ["P", "for one point, for all"],
    ["G", "go along: follow between your marks"], ["D", "draft with the pose model"],
    ["A, Shift A", "accept here, over the stretch"], ["Shift Delete", "discard what you have not accepted"],
  ]],
  ["Looking", [
    ["+ − or wheel", "closer, wider"], ["C, 0", "centre the chosen point, whole picture"],
    ["M, W, F", "magnifier, clear water, light as filmed"], ["?", "these keys"],
  ]],
];
const SWAP_KEY = ["S, Shift S", "swap left and right here, over the stretch"];

const ACTIONS = {
  earlier: "marked before", later: "marked after", erase: "erase point", hide: "cannot be seen",
  undo: "undo", redo: "redo", closer: "closer", wider: "wider", whole: "whole picture", magnify: "magnifier",
  swap: "swap sides", filmed: "as filmed", play: "play", offer: "proposed still",
};
const GROUPS = [["earlier", "later"], ["erase", "hide"], ["undo", "redo"], ["closer", "wider", "whole", "magnify"]];
const STEPS = [["-10", "10 back"], ["-1", "1 back"], ["1", "1 on"], ["10", "10 on"]];

const FIELDS = [
  ["metres", "length, m", "decimal"], ["give", "give or take, m", "decimal"], ["what", "what it is", "text"],
];

/** The lines of the shot below the points, and what has to be said of the known length. */
function buildLines(ui, lines, id) {
  const group = make("div", { role: "radiogroup", "aria-label": "Lines of this shot" });
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
  sidePart(ui, "lines", "Lines of this shot", id, group, ui.words, ui.where);
}

/** A button that unfolds a panel, which stands below all buttons so that none of them moves. */
function fold(name, panel, id) {
  panel.id = `${name}-${id}`;
  panel.hidden = true;
  return make("button", {
    type: "button", "data-do": `fold:${panel.id}`, "aria-expanded": "false", "aria-controls": panel.id, text: name,
  });
}

/** Brightness, contrast and clear water, folded away until they are wanted. */
function buildLight(ui, button, id) {
  const own = { "data-lm-suppress-shortcuts": "true" };
  const slide = (name) => make("label", {}, make("span", { text: name }),
    (ui.lights[name] = make("input", { type: "range", min: "-5", max: "5", step: "1", name, ...own })));
  ui.lights.water = make("input", { type: "checkbox", name: "water", ...own });
  ui.light = make("div", { class: "cb-lights", role: "group", "aria-label": "Light, for viewing only" },
    slide("brightness"), slide("contrast"),
    make("label", {}, ui.lights.water, make("span", { text: "clear water" })), button("filmed", ACTIONS.filmed),
    make("span", { class: "cb-aside", text: "for viewing only; the frames stay as filmed" }));
  return (ui.lightName = fold("light", ui.light, id));
}

function buildPlay(ui, button) {
  ui.play = button("play", ACTIONS.play);
  ui.speeds = Object.entries(SPEEDS).map(([divisor, text]) =>
    make("button", { type: "button", "data-do": `speed:${divisor}`, "aria-label": `${text} speed`, text }));
  return make("span", { class: "cb-group cb-play" }, ui.play,
    make("span", { class: "cb-group cb-speeds", role: "group", "aria-label": "Speed" }, ...ui.speeds));
}

/** The inset with its cross hair, which leaves the place itself free. */
function buildInset(ui) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 100 100");
  for (const kind of ["cb-edge", "cb-hair"]) {
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("class", kind);
    path.setAttribute("d", "M0 50H43M57 50H100M50 0V43M50 57V100");
    svg.append(path);
  }
  ui.close = make("canvas");
  return make("div", { class: "cb-inset", "aria-hidden": "true", hidden: "" }, ui.close, svg);
}

function build(el, names, points, lines, id, isPaired) {
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
    keys: make("div", { class: "cb-keys" }),
    stretch: make("div", { class: "cb-line cb-stretch", role: "group", "aria-label": "Stretch of frames", hidden: "" }),
    status: make("output", { class: "cb-status", role: "status", "aria-live": "polite" }),
    radios: {}, fields: {}, lights: {}, parts: {},
  };
  ui.inset = buildInset(ui);
  ui.side = make("div", { class: "cb-side" }, ui.list);
  if (Object.keys(lines).length) buildLines(ui, lines, id);
  ui.stage = make("div", {
    class: "cb-stage", tabindex: "0", role: "application", "aria-label": "Picture", "aria-describedby": `keys-${id}`,
  }, ui.picture, ui.over, ui.inset);
  ui.ticks.setAttribute("preserveAspectRatio", "none");
  ui.ticks.setAttribute("aria-hidden", "true");
  ui.ticks.append(ui.tick);
  ui.strip = make("div", { class: "cb-strip", tabindex: "0", role: "slider", "aria-label": "Frame" },
    ui.ticks, ui.here);
  for (const p of points) {
    ui.radios[p] = make("button", { type: "button", role: "radio", "data-point": p, text: names[p], tabindex: "-1" });
    ui.list.append(ui.radios[p]);
  }
  for (const [heading, keys] of KEYS) {
    const all = isPaired && heading.startsWith("A stretch") ? [...keys, SWAP_KEY] : keys;
    ui.keys.append(make("section", {}, make("p", { text: heading }), make("dl", {}, ...all.map(([key, meaning]) =>
      make("div", {}, make("dt", { text: key }), make("dd", { text: meaning }))))));
  }
  const steps = STEPS.map(([by, text]) => button(`step:${by}`, text));
  const groups = GROUPS.map((group) => make("span", { class: "cb-group" }, ...group.map((n) => button(n, ACTIONS[n]))));
  [ui.erase, ui.hide] = groups[1].children;
  ui.magnify = groups[3].lastElementChild;
  if (isPaired) groups[1].append(button("swap", ACTIONS.swap));
  ui.offer = button("offer", ACTIONS.offer);
  groups[0].append(ui.offer);
  ui.keysName = fold("keys", ui.keys, id);
  el.classList.add("cb-marker");
  el.append(make("div", { class: "cb-body" },
    make("div", { class: "cb-top" }, make("div", { class: "cb-main" }, ui.stage, ui.strip), ui.side),
    ui.live,
    make("div", { class: "cb-line" },
      make("span", { class: "cb-group" }, steps[0], steps[1]), ui.now,
      make("span", { class: "cb-group" }, steps[2], steps[3]), buildPlay(ui, button)),
    ui.status, ui.trouble, ui.stretch,
    make("div", { class: "cb-line cb-actions" }, ...groups,
      make("span", { class: "cb-group" }, buildLight(ui, button, id), ui.keysName)),
    ui.light, ui.keys));
  return ui;
}
