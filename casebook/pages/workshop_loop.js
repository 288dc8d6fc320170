// Small helpers of the presenter's page, and a loop that plays at full speed, steps exactly, and plays slowly.
const made = (() => {
  function make(name, words = "", attributes = {}) {
    const made = document.createElement(name);
    if (words) made.textContent = words;
    Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
    return made;
  }

  function button(words, action, attributes = {}) {
    const made = make("button", words, { type: "button", ...attributes });
    made.addEventListener("click", action);
    return made;
  }

  return { make, button, clamp: (value, low, high) => Math.max(low, Math.min(high, value)) };
})();

const loops = (() => {
  const { clamp } = made;
  const FULL = 1, SLOW = 0.25, TIMES_SEEN = 2;

  function player(figure) {
    const video = figure.querySelector("video");
    const overlay = figure.querySelector("svg.lines");
    const [times, part, lines, moments] = ["times", "part", "lines", "moments"].map((key) => JSON.parse(figure.dataset[key]));
    const paths = ["reference", "body", "measure", "dot"].map((kind) => [`${kind} under`, kind].map((name) => {
      const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
      path.setAttribute("class", name);
      overlay.append(path);
      return path;
    }));
    let at = 0, wanted = 0, seeking = false, playing = false, slow = false, left = 0, told = () => {};

    const middle = (k) => times[k] + ((k + 1 < times.length ? times[k + 1] - times[k] : times[k] - times[k - 1]) || 0.02) / 2;
    const seen = (time) => {
      let k = 0;
      while (k + 1 < times.length && times[k + 1] <= time + 1e-4) k += 1;
      return k;
    };
    const ends = () => (slow ? [part[0], part[1] - 1] : [0, times.length - 1]);

    function show(k) {
      at = k;
      const drawn = (slow && lines[k]) || ["", "", "", ""];
      paths.forEach((pair, i) => pair.forEach((path) => path.setAttribute("d", drawn[i] || "")));
      figure.dataset.shown = k;
      told();
    }
    function seek() {
      if (seeking) return;
      seeking = true;
      video.currentTime = middle(wanted);
    }
    function go(k) {
      pause();
      wanted = clamp(k, 0, times.length - 1);
      seek();
    }
    function pause() {
      if (!playing) return;
      playing = false;
      video.pause();
      wanted = at;
      told();
    }
    function again() {
      left -= 1;
      if (!slow && left <= 0) {
        pause();
        figure.dataset.seen = "true";
        return;
      }
      video.currentTime = middle(ends()[0]);
      video.play().catch(pause);
    }
    function play() {
      const [first, last] = ends();
      if (at >= last || at < first || !slow) wanted = first;
      left = TIMES_SEEN;
      playing = true;
      video.loop = false;
      video.playbackRate = slow ? SLOW : FULL;
      video.currentTime = middle(wanted);
      video.play().catch(pause);
      told();
      follow();
    }
    function follow() {
      const next = (time) => {
        if (!playing) return;
        show(seen(time));
        if (slow && at >= ends()[1]) again();
        follow();
      };
      if (video.requestVideoFrameCallback) video.requestVideoFrameCallback((_, shown) => next(shown.mediaTime));
      else requestAnimationFrame(() => next(video.currentTime));
    }
    video.addEventListener("ended", () => { if (playing) again(); });
    video.addEventListener("seeked", () => {
      if (!seeking) return;
      seeking = false;
      if (playing) return;
      show(seen(video.currentTime));
      if (at !== wanted) seek();
    });
    video.addEventListener("error", () => figure.classList.add("failed"));
    video.controls = false;
    return {
      figure,
      go,
      pause,
      step: (by) => go(at + by),
      toggle: () => (playing ? pause() : play()),
      get playing() { return playing; },
      get place() {
        const moment = slow && moments.find(([k]) => k === at);
        return `${moment ? `${moment[1]} \u00b7 ` : ""}${at + 1} of ${times.length}`;
      },
      listen(callback) { told = callback; },
      slowly(value) {
        slow = value;
        pause();
        go(slow ? part[0] : 0);
      },
    };
  }

  return { player };
})();
