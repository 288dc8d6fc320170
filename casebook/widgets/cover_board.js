// Draw a box over what must not be seen. A box is drawn by dragging on the picture, or typed in pixels.
// Keys on the picture: left and right one frame, with Shift ten; Home and End; Enter covers the box; Escape drops it.

const make = (kind, props = {}, ...inside) => {
  const node = document.createElement(kind);
  for (const [key, value] of Object.entries(props)) {
    if (key in node && key !== "list") node[key] = value;
    else node.setAttribute(key, value);
  }
  node.append(...inside);
  return node;
};

function render({ model, el }) {
  const [width, height] = model.get("size");
  let box = null, from = null, address = "";

  const picture = make("img", { alt: "", draggable: false });
  const frame = make("div", { className: "cb-drawn", hidden: true });
  const stage = make("div", {
    className: "cb-board-stage", tabIndex: 0, role: "application",
    "aria-label": "Covered picture. Drag to draw a box. Left and right arrow: one frame; Enter: cover the box.",
  }, picture, frame);
  stage.style.aspectRatio = `${width} / ${height}`;
  const now = make("output", { className: "cb-board-now" });
  const slider = make("input", { type: "range", min: model.get("start"), max: model.get("stop") - 1, step: 1 });
  slider.setAttribute("aria-label", "Frame");
  const kind = make("select", {}, ...Object.entries(model.get("kinds")).map(
    ([value, words]) => make("option", { value, textContent: words })));
  kind.value = "bystander";
  const name = make("select");
  const numbers = ["left", "top", "right", "bottom"].map((side) => {
    const input = make("input", { type: "number", step: 1 });
    input.setAttribute("aria-label", `${side} [px]`);
    return input;
  });
  const keep = make("button", { type: "button", textContent: "Cover the box" });
  const list = make("ul");
  const trouble = make("p", { className: "cb-board-trouble", role: "alert" });
  const body = make("div", { className: "cb-board" },
    make("div", { className: "cb-board-top" }, slider, now), stage,
    make("div", { className: "cb-board-row" },
      make("label", {}, "What it is ", kind), make("label", {}, "Belongs to ", name),
      make("span", { className: "cb-board-box" }, "Box [px] ", ...numbers), keep),
    trouble, list);
  el.append(body);

  const show = () => {
    const bytes = model.get("picture");
    if (address) URL.revokeObjectURL(address);
    address = bytes && bytes.byteLength ? URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" })) : "";
    picture.src = address;
    const n = model.get("frame");
    slider.value = n;
    now.textContent = `frame ${n}` + (model.get("withheld") ? ": others see nothing of it, no head is covered" : "");
    picture.alt = `Covered picture, frame ${n}`;
  };
  const place = () => {
    frame.hidden = !box;
    if (!box) return;
    const [l, t, r, b] = box;
    Object.assign(frame.style, {
      left: `${100 * l / width}%`, top: `${100 * t / height}%`,
      width: `${100 * (r - l) / width}%`, height: `${100 * (b - t) / height}%`,
    });
    numbers.forEach((input, i) => { if (document.activeElement !== input) input.value = Math.round(box[i]); });
  };
  const drop = () => { box = null; numbers.forEach((input) => { input.value = ""; }); place(); };
  const cover = () => {
    const typed = numbers.map((input) => (input.value === "" ? NaN : Number(input.value)));
    if (typed.some(Number.isNaN)) return;
    model.send({ do: "cover", box: typed, kind: kind.value, name: name.value });
    drop();
  };
  const go = (n) => {
    const inside = Math.min(Math.max(n, model.get("start")), model.get("stop") - 1);
    if (inside === model.get("frame")) return;
    model.set("frame", inside);
    model.save_changes();
  };
  const covers = () => {
    const held = model.get("covers"), chosen = name.value;
    name.replaceChildren(make("option", { value: "", textContent: "a new cover" }),
      ...held.filter((c) => !c.more).map((c) => make("option", { value: c.name, textContent: `${c.name} (it moves)` })));
    name.value = held.some((c) => c.name === chosen) ? chosen : "";
    list.replaceChildren(...held.map((c) => {
      const away = make("button", { type: "button", textContent: "Take away" });
      away.setAttribute("aria-label", `Take away ${c.name}`);
      away.addEventListener("click", () => model.send({ do: "uncover", name: c.name }));
      const at = c.more ? "every frame" : `drawn on ${c.frames.join(", ")}`;
      return make("li", {}, `${c.name}: ${c.kind}, frames ${c.start} to ${c.stop - 1}, ${at} `, away);
    }));
  };
  const at = (event) => {
    const r = stage.getBoundingClientRect();
    return [
      Math.min(Math.max((event.clientX - r.left) / r.width, 0), 1) * width,
      Math.min(Math.max((event.clientY - r.top) / r.height, 0), 1) * height,
    ];
  };

  stage.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    event.preventDefault();
    stage.focus();
    stage.setPointerCapture(event.pointerId);
    from = at(event);
  });
  stage.addEventListener("pointermove", (event) => {
    if (!from) return;
    const to = at(event);
    box = [Math.min(from[0], to[0]), Math.min(from[1], to[1]), Math.max(from[0], to[0]), Math.max(from[1], to[1])];
    place();
  });
  for (const end of ["pointerup", "pointercancel"]) stage.addEventListener(end, () => { from = null; });
  stage.addEventListener("keydown", (event) => {
    const n = model.get("frame"), step = event.shiftKey ? 10 : 1;
    const acts = {
      ArrowRight: () => go(n + step), ArrowLeft: () => go(n - step),
      Home: () => go(model.get("start")), End: () => go(model.get("stop") - 1), Enter: cover, Escape: drop,
    };
    if (!acts[event.key] || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    event.stopPropagation();
    acts[event.key]();
  });
  slider.addEventListener("input", () => go(Number(slider.value)));
  numbers.forEach((input, i) => input.addEventListener("input", () => {
    const typed = numbers.map((each) => Number(each.value || NaN));
    box = typed.some(Number.isNaN) ? box : typed;
    place();
  }));
  keep.addEventListener("click", cover);
  model.on("change:picture", show);
  model.on("change:withheld", show);
  model.on("change:frame", show);
  model.on("change:covers", covers);
  model.on("change:trouble", () => { trouble.textContent = model.get("trouble"); });
  show();
  covers();
  return () => { if (address) URL.revokeObjectURL(address); };
}

export default { render };
