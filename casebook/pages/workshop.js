// The presenter's page: one step at a time, loops that stop on any picture, a tally of hands. Without it the page reads
// from top to bottom.
(() => {
  const main = document.getElementById("main");
  const facts = JSON.parse(main.dataset.workshop);
  const steps = [...document.querySelectorAll(".step")];
  const root = document.documentElement;
  const { make, button, clamp } = made;

  // --- the stage ----------------------------------------------------------------------------------------------------
  root.classList.add("staged");
  document.querySelectorAll(".staged-only").forEach((part) => { part.hidden = false; });
  document.querySelectorAll("details.fold").forEach((fold) => fold.replaceWith(...[...fold.children].filter((c) => c.localName !== "summary")));

  const players = new Map([...document.querySelectorAll("figure.loop")].map((figure) => [figure, loops.player(figure)]));
  const homes = new Map([...players.keys()].map((figure) => [figure, figure.parentElement]));
  let current = 0;
  let item = 0;

  const caseOf = (k) => {
    const section = steps[k].closest("section.case");
    return section ? [...document.querySelectorAll("section.case")].indexOf(section) : -1;
  };
  const items = () => [...steps[current].querySelectorAll(".item")];
  const loop = () => players.get(items()[item]);

  const bar = make("div", "", { class: "desk", role: "toolbar", "aria-label": "Presenter" });
  const place = make("p", "", { class: "place", "aria-live": "polite" });
  const frameAt = make("output", "", { class: "frame-at" });
  const buttons = {
    back: button("\u2190", () => go(current - 1), { "aria-label": "Previous step" }),
    next: button("\u2192", () => go(current + 1), { "aria-label": "Next step" }),
    before: button("\u2191", () => pick(item - 1), { "aria-label": "Previous picture" }),
    after: button("\u2193", () => pick(item + 1), { "aria-label": "Next picture" }),
    frameBack: button(",", () => loop() && loop().step(-1), { "aria-label": "One frame back" }),
    play: button("Play", () => loop() && loop().toggle(), { class: "wide" }),
    frameOn: button(".", () => loop() && loop().step(1), { "aria-label": "One frame on" }),
    lines: button("Lines", () => turn("lines"), { "aria-pressed": "true" }),
    numbers: button("Numbers", () => turn("numbers"), { "aria-pressed": "false" }),
    draw: button("Draw", () => drawing(!root.classList.contains("draws")), { "aria-pressed": "false" }),
    tally: button("Tally", () => tally(), { "aria-expanded": "false" }),
    full: button("Full screen", () => fullScreen()),
    keys: button("?", () => keys(), { "aria-label": "Keys", "aria-expanded": "false" }),
  };
  bar.append(place, buttons.back, buttons.next, buttons.before, buttons.after, buttons.frameBack, buttons.play,
    buttons.frameOn, frameAt, buttons.lines, buttons.numbers, buttons.draw, buttons.tally, buttons.full, buttons.keys);
  document.body.append(bar);
  const pressed = (name, on) => buttons[name].setAttribute("aria-pressed", String(on));

  function turn(what) {
    const on = root.classList.toggle(`shows-${what}`);
    pressed(what, on);
  }
  turn("lines");

  // The step's heading, with where it stands in its case, over everything else.
  steps.forEach((step, k) => {
    // A step longer than the screen is scrolled with the keyboard too.
    step.tabIndex = 0;
    step.setAttribute("role", "group");
    step.setAttribute("aria-label", step.dataset.name);
    const number = caseOf(k);
    if (number < 0) return;
    const trail = make("p", "", { class: "trail" });
    const header = step.closest("section").querySelector("header");
    trail.append(make("b", header.querySelector("h2").textContent), ` \u00b7 ${header.querySelector("p").textContent}`);
    step.prepend(trail);
    // Loops are looked at slowly in the third step, where they are brought to.
    if (step.dataset.step === "3") step.querySelector(".pictures").append(make("div", "", { class: "slot" }));
  });

  function bring(step) {
    const section = step.closest("section.case");
    if (!section) return;
    const slowly = step.dataset.step === "3";
    section.querySelectorAll("figure.loop").forEach((figure) => {
      const home = slowly ? section.querySelector(".slot") : homes.get(figure);
      if (figure.parentElement !== home) home.insertBefore(figure, slowly ? null : home.querySelector(".rule"));
      players.get(figure).slowly(slowly);
    });
  }

  function go(k) {
    const next = clamp(k, 0, steps.length - 1);
    players.forEach((each) => each.pause());
    drawing(false);
    steps.forEach((step, i) => step.classList.toggle("now", i === next));
    const changed = next !== current || !started;
    current = next;
    started = true;
    bring(steps[current]);
    pick(0);
    reveal();
    history.replaceState(null, "", `#${steps[current].id}`);
    const name = steps[current].dataset.name;
    place.textContent = `${current + 1} of ${steps.length} \u00b7 ${name}`;
    buttons.back.disabled = current === 0;
    buttons.next.disabled = current === steps.length - 1;
    if (caseOf(current) >= 0) room.turnTo(caseOf(current));
    if (changed) steps[current].querySelector("h1,h2,h3").focus({ preventScroll: true });
    steps[current].scrollTop = 0;
    window.scrollTo(0, 0);
  }
  let started = false;

  function pick(k) {
    const all = items();
    if (loop()) loop().pause();
    item = clamp(k, 0, Math.max(0, all.length - 1));
    all.forEach((each, i) => each.classList.toggle("now", i === item));
    wipe();
    buttons.before.disabled = item === 0;
    buttons.after.disabled = item >= all.length - 1;
    const moving = Boolean(loop());
    [buttons.frameBack, buttons.play, buttons.frameOn].forEach((each) => { each.disabled = !moving; });
    if (loop()) loop().listen(say);
    say();
    fit();
  }

  function say() {
    const now = loop();
    buttons.play.textContent = now && now.playing ? "Pause" : "Play";
    const still = items().length > 1 && !now ? `picture ${item + 1} of ${items().length}` : "";
    frameAt.value = now ? now.place : still;
  }

  // Every picture as large as the room for it.
  function fit() {
    const shown = items()[item];
    if (!shown) return;
    const frame = shown.querySelector(".frame");
    const [width, height] = [Number(frame.dataset.width), Number(frame.dataset.height)];
    const top = frame.getBoundingClientRect().top + steps[current].scrollTop;
    const rule = shown.parentElement.querySelector(":scope > .rule");
    const below = shown.querySelector("figcaption").offsetHeight + (rule ? rule.offsetHeight + 10 : 0) + bar.offsetHeight + 14;
    const room = [steps[current].clientWidth - 24, window.innerHeight - top - below];
    const scale = Math.min(room[0] / width, Math.max(room[1], 120) / height);
    frame.style.width = `${Math.floor(width * scale)}px`;
  }
  window.addEventListener("resize", () => { fit(); wipe(); });

  function fullScreen() {
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    else if (root.requestFullscreen) root.requestFullscreen().catch(() => {});
  }
  document.addEventListener("fullscreenchange", fit);

  // --- drawing on top -----------------------------------------------------------------------------------------------
  const pen = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  pen.setAttribute("class", "pen");
  pen.setAttribute("aria-hidden", "true");
  document.body.append(pen);
  let stroke = null;
  function wipe() { pen.replaceChildren(); }
  function drawing(on) {
    root.classList.toggle("draws", on);
    pressed("draw", on);
    if (!on) wipe();
  }
  pen.addEventListener("pointerdown", (event) => {
    stroke = ["under", "ink"].map((name) => {
      const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
      path.setAttribute("class", name);
      path.setAttribute("d", `M${event.clientX} ${event.clientY}h0`);
      pen.append(path);
      return path;
    });
    pen.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  pen.addEventListener("pointermove", (event) => {
    if (stroke) stroke.forEach((path) => path.setAttribute("d", `${path.getAttribute("d")}L${event.clientX} ${event.clientY}`));
  });
  ["pointerup", "pointercancel"].forEach((kind) => pen.addEventListener(kind, () => { stroke = null; }));

  // --- the tally ----------------------------------------------------------------------------------------------------
  const room = hands(facts, { onCount: reveal, onClose: () => { tallied(false); buttons.tally.focus(); } });

  function reveal() {
    const number = caseOf(current);
    if (number >= 0 && Number(steps[current].dataset.step) >= 5) room.reveal(number);
    const says = steps[current].querySelector(".room");
    if (says) {
      says.textContent = room.inRoom(number);
      says.hidden = !says.textContent;
    }
    if (steps[current].id === "together") room.together(steps[current].querySelector(".together"));
  }

  function tallied(on) {
    buttons.tally.setAttribute("aria-expanded", String(on));
    root.classList.toggle("tallies", on);
    fit();
  }

  function tally() {
    if (room.isOpen()) {
      room.close();
      return;
    }
    room.open();
    tallied(true);
  }
  window.addEventListener("beforeunload", (event) => { if (room.holdsHands()) event.preventDefault(); });

  // --- keys ---------------------------------------------------------------------------------------------------------
  const help = make("dialog", "", { class: "keys", "aria-label": "Keys" });
  const rows = make("dl");
  facts.keys.forEach(([key, does]) => rows.append(make("dt", key), make("dd", does)));
  help.append(make("h2", "Keys"), rows, button("Close", () => keys()));
  document.body.append(help);
  help.addEventListener("close", () => buttons.keys.setAttribute("aria-expanded", "false"));
  function keys() {
    if (help.open) help.close();
    else help.showModal();
    buttons.keys.setAttribute("aria-expanded", String(help.open));
  }

  const acts = {
    ArrowRight: () => go(current + 1),
    PageDown: () => go(current + 1),
    ArrowLeft: () => go(current - 1),
    PageUp: () => go(current - 1),
    Home: () => go(0),
    End: () => go(steps.length - 1),
    ArrowDown: () => pick(item + 1),
    ArrowUp: () => pick(item - 1),
    " ": () => loop() && loop().toggle(),
    ",": () => loop() && loop().step(-1),
    ".": () => loop() && loop().step(1),
    l: () => turn("lines"),
    n: () => turn("numbers"),
    d: () => drawing(!root.classList.contains("draws")),
    t: () => tally(),
    f: () => fullScreen(),
    "?": () => keys(),
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") {
      if (room.isOpen()) room.close();
      else drawing(false);
      return;
    }
    const at = event.target.closest ? event.target : document.body;
    if (at.closest("textarea")) return;
    const types = at.closest("input");
    if (types && !["t", "?"].includes(event.key.toLowerCase())) return;
    if (event.key === " " && at.closest("button,a,summary")) return;
    if (help.open && event.key !== "?") return;
    const act = acts[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    if (items().length < 2 && ["ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    act();
  });

  const named = steps.findIndex((step) => step.id === decodeURIComponent(location.hash.slice(1)));
  const section = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  document.querySelectorAll("ol.cases a").forEach((link) => link.addEventListener("click", (event) => {
    event.preventDefault();
    go(steps.findIndex((step) => step.closest("section") === document.getElementById(link.hash.slice(1))));
  }));
  go(named >= 0 ? named : Math.max(0, steps.findIndex((step) => section && step.closest("section") === section)));
})();
