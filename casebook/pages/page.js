"use strict";
// Loops that step picture by picture, and pictures that fill the screen. The page reads well without this script.
(() => {
  document.documentElement.classList.add("live");
  const SPEED_KEYS = { 1: "1", 2: "0.5", 4: "0.25", 8: "0.125" };
  const clamp = (value, low, high) => Math.max(low, Math.min(high, value));

  function makeLoop(figure) {
    const find = (selector) => figure.querySelector(selector);
    const video = find("video");
    const overlay = find("svg.lines");
    const slider = find("input[type=range]");
    const says = find("output");
    const play = find("button.play");
    const speed = find("select");
    const jumps = [...figure.querySelectorAll("button.jump")];
    const times = JSON.parse(figure.dataset.times);
    const clock = JSON.parse(figure.dataset.clock);
    const lines = JSON.parse(figure.dataset.lines);
    const kinds = ["reference", "body", "measure", "dot"];
    const paths = kinds.map((kind) => [`${kind} under`, kind].map((name) => {
      const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
      path.setAttribute("class", name);
      overlay.append(path);
      return path;
    }));
    let wanted = 0;
    let seeking = false;
    let sought = -1;
    let playing = false;

    // The middle of a picture's time on screen: a seek to its edge may show its neighbour.
    const middle = (k) => times[k] + ((k + 1 < times.length ? times[k + 1] - times[k] : times[k] - times[k - 1]) || 0.02) / 2;
    const seen = (time) => {
      let k = 0;
      while (k + 1 < times.length && times[k + 1] <= time + 1e-4) k += 1;
      return k;
    };

    function show(k) {
      const drawn = lines[k] || ["", "", "", ""];
      paths.forEach((pair, i) => pair.forEach((path) => path.setAttribute("d", drawn[i] || "")));
      slider.value = k;
      const moment = jumps.find((jump) => Number(jump.dataset.at) === k);
      const when = clock.length === times.length ? ` \u00b7 ${clock[k].toFixed(2).replace("-", "\u2212")} s` : "";
      const text = `${k + 1} of ${times.length}${when}`;
      says.value = moment ? `${moment.textContent} \u00b7 ${text}` : text;
      slider.setAttribute("aria-valuetext", says.value);
      jumps.forEach((jump) => jump.setAttribute("aria-current", String(jump === moment)));
      figure.dataset.shown = k;
    }

    function seek() {
      if (seeking || sought === wanted) return;
      seeking = true;
      sought = wanted;
      video.currentTime = middle(wanted);
    }

    function go(k) {
      stop();
      wanted = clamp(k, 0, times.length - 1);
      seek();
    }

    function stop() {
      if (!playing) return;
      playing = false;
      video.pause();
      wanted = seen(video.currentTime);
      sought = -1;
      says.setAttribute("aria-live", "polite");
      play.textContent = "Play";
      seek();
    }

    function start() {
      playing = true;
      video.playbackRate = Number(speed.value);
      video.loop = true;
      video.play().catch(stop);
      says.setAttribute("aria-live", "off");
      play.textContent = "Stop";
      follow();
    }

    function follow() {
      if (!playing) return;
      const next = (time) => {
        if (!playing) return;
        wanted = sought = seen(time);
        show(wanted);
        follow();
      };
      if (video.requestVideoFrameCallback) video.requestVideoFrameCallback((_, facts) => next(facts.mediaTime));
      else requestAnimationFrame(() => next(video.currentTime));
    }

    video.addEventListener("seeked", () => {
      seeking = false;
      if (playing) return;
      show(sought);
      seek();
    });
    video.addEventListener("error", () => {
      figure.classList.add("failed");
      find("figcaption").textContent = "This browser cannot play the loop; its stills stand in.";
    });
    find("button.back").addEventListener("click", () => go(wanted - 1));
    find("button.forward").addEventListener("click", () => go(wanted + 1));
    play.addEventListener("click", () => (playing ? stop() : start()));
    const drawn = find(".switch input");
    const paced = () => { video.playbackRate = Number(speed.value); };
    const dressed = () => figure.classList.toggle("bare", !drawn.checked);
    speed.addEventListener("change", paced);
    drawn.addEventListener("change", dressed);
    slider.addEventListener("input", () => go(Number(slider.value)));
    jumps.forEach((jump) => jump.addEventListener("click", () => go(Number(jump.dataset.at))));

    const frame = find(".frame");
    frame.tabIndex = 0;
    frame.setAttribute("role", "group");
    frame.setAttribute("aria-label", "Loop: left and right arrow step one picture, space plays");
    frame.setAttribute("aria-keyshortcuts", "ArrowLeft ArrowRight Home End Space L 1 2 4 8");
    frame.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const step = { ArrowLeft: -1, ArrowRight: 1, PageUp: -10, PageDown: 10 }[event.key];
      if (step) go(wanted + step);
      else if (event.key === "Home") go(0);
      else if (event.key === "End") go(times.length - 1);
      else if (event.key === " ") (playing ? stop() : start());
      else if (event.key.toLowerCase() === "l") { drawn.checked = !drawn.checked; dressed(); }
      else if (event.key in SPEED_KEYS) { speed.value = SPEED_KEYS[event.key]; paced(); }
      else return;
      event.preventDefault();
    });
    let grip = null;
    frame.addEventListener("pointerdown", (event) => {
      grip = { x: event.clientX, k: playing ? seen(video.currentTime) : wanted, moved: false };
      frame.setPointerCapture(event.pointerId);
    });
    frame.addEventListener("pointermove", (event) => {
      if (!grip) return;
      const dx = event.clientX - grip.x;
      if (Math.abs(dx) > 6) grip.moved = true;
      if (grip.moved) go(grip.k + Math.round((dx / frame.clientWidth) * times.length));
    });
    frame.addEventListener("pointerup", (event) => {
      if (grip && !grip.moved) go(grip.k + (event.clientX < frame.getBoundingClientRect().left + frame.clientWidth / 2 ? -1 : 1));
      grip = null;
    });
    frame.addEventListener("pointercancel", () => { grip = null; });

    video.controls = false;
    find(".controls").hidden = false;
    const ready = () => go(Number(figure.dataset.start));
    if (video.readyState >= 1) ready();
    else video.addEventListener("loadedmetadata", ready, { once: true });
    return { go };
  }

  const loops = new Map();
  document.querySelectorAll("figure.loop").forEach((figure) => loops.set(figure.id, makeLoop(figure)));

  // To a picture of a loop, or to a still: shown where it stands, with the keyboard's focus; the browser's way back leads home.
  document.querySelectorAll("a.step, a.see").forEach((link) => {
    link.addEventListener("click", (event) => {
      const target = document.getElementById(link.hash.slice(1));
      const loop = loops.get(link.hash.slice(1));
      if (!target) return;
      event.preventDefault();
      try { history.pushState(null, "", link.hash); } catch { /* some viewers keep no history */ }
      for (let part = target.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
      if (loop) loop.go(Number(link.dataset.at));
      const place = loop ? target.querySelector(".frame") : target;
      if (!loop) place.tabIndex = -1;
      target.scrollIntoView({ block: "center" });
      place.focus({ preventScroll: true });
    });
  });

  const bar = document.querySelector(".guide details");
  if (bar) {
    const summary = bar.querySelector("summary");
    const here = bar.querySelector(".here");
    const links = new Map([...bar.querySelectorAll("li a")].map((link) => [link.hash.slice(1), link]));
    const close = () => { bar.open = false; };
    bar.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !bar.open) return;
      close();
      summary.focus();
    });
    bar.addEventListener("focusout", (event) => { if (event.relatedTarget && !bar.contains(event.relatedTarget)) close(); });
    document.addEventListener("click", (event) => { if (!bar.contains(event.target) || event.target.closest("li a")) close(); });
    // The section that crosses the upper part of the screen is the one being read.
    const watch = new IntersectionObserver((changes) => changes.forEach((change) => {
      const link = links.get(change.target.id);
      if (!link) return;
      if (!change.isIntersecting) { link.removeAttribute("aria-current"); return; }
      link.setAttribute("aria-current", "true");
      here.textContent = link.querySelector(".of").textContent;
    }), { rootMargin: "-20% 0px -79% 0px" });
    document.querySelectorAll("main > section").forEach((section) => watch.observe(section));
  }

  const pictures = [...document.querySelectorAll("figure.pic:not(.strip figure)")].filter((figure) => figure.querySelector(".grow"));
  const dialog = document.createElement("dialog");
  let current = 0;

  function fit() {
    const frame = dialog.querySelector(".frame");
    const stage = dialog.querySelector(".stage");
    const image = frame && frame.querySelector("img");
    if (!image) return;
    const size = ["width", "height"].map((name) => Number(image.getAttribute(name)));
    const scale = Math.min((stage.clientWidth - 16) / size[0], (stage.clientHeight - 16) / size[1]);
    frame.style.width = `${Math.round(size[0] * scale)}px`;
  }

  function fill(k) {
    current = (k + pictures.length) % pictures.length;
    const source = pictures[current];
    const frame = source.querySelector(".frame").cloneNode(true);
    dialog.querySelector(".stage").replaceChildren(frame);
    const caption = source.querySelector("figcaption").cloneNode(true);
    caption.querySelectorAll(".ways-on").forEach((ways) => ways.remove());
    dialog.querySelector("p").textContent = caption.textContent.trim();
    fit();
  }

  function open(k) {
    dialog.showModal();
    fill(k);
    if (window.innerWidth > 900 && dialog.requestFullscreen) dialog.requestFullscreen().catch(() => {});
  }

  function close() {
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    dialog.close();
    pictures[current].querySelector(".grow").focus();
  }

  function button(words, action) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.addEventListener("click", action);
    return made;
  }

  if (pictures.length && dialog.showModal) {
    dialog.className = "large";
    dialog.setAttribute("aria-label", "Picture, large");
    const stage = document.createElement("div");
    stage.className = "stage";
    const bar = document.createElement("div");
    bar.className = "bar";
    bar.append(
      document.createElement("p"),
      button("Before", () => fill(current - 1)),
      button("Next", () => fill(current + 1)),
      button("Close", close),
    );
    dialog.append(stage, bar);
    document.body.append(dialog);
    dialog.addEventListener("keydown", (event) => {
      if (event.key === "ArrowLeft") fill(current - 1);
      else if (event.key === "ArrowRight") fill(current + 1);
      else return;
      event.preventDefault();
    });
    dialog.addEventListener("cancel", (event) => { event.preventDefault(); close(); });
    document.addEventListener("fullscreenchange", () => {
      if (!document.fullscreenElement && dialog.open) close();
      else fit();
    });
    window.addEventListener("resize", fit);
    pictures.forEach((figure, k) => {
      const grow = figure.querySelector(".grow");
      grow.hidden = false;
      grow.addEventListener("click", () => open(k));
      figure.querySelector("img").addEventListener("click", () => open(k));
    });
  }
  window.addEventListener("beforeprint", () => document.querySelectorAll("details:not(.others)").forEach((part) => { part.open = true; }));
  window.addEventListener("afterprint", () => { if (bar) bar.open = false; });
  document.querySelectorAll(".keys").forEach((note) => { note.hidden = false; });
})();
