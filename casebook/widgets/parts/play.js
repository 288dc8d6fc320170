// Play: every frame in its order, at the swim's own pace or a share of it.

const SPEEDS = { 1: "full", 2: "half", 4: "quarter", 8: "eighth" }; // by what the pace is divided by: also the key
const LATE = 60; // further behind than this it goes on from now, slower, instead of hurrying after its times [ms]
const AHEAD = 32; // pictures fetched ahead
const WATCHED = 700; // the pace is judged over so long [ms]

/** When the next frame is due [ms]: `gap` [s] of the pool after the present one, which was due at `due` and shown at
 *  `shown`. A small delay is made good, so that the pace holds on a screen that refreshes in a beat of its own. */
export function nextDue(due, shown, gap, divisor) {
  return (shown - due > LATE ? shown : due) + 1000 * gap * divisor;
}

/** The frames to fetch while playing from `frame`, in their order. */
export function playOrder(frame, stop) {
  return Array.from({ length: Math.max(0, Math.min(AHEAD, stop - frame)) }, (_, i) => frame + i);
}

/** The share of the asked pace that was kept, from the times [ms] when frames were shown and the gaps [s] between. */
export function paceKept(shown, gaps, divisor) {
  const took = shown.at(-1) - shown[0];
  return took > 0 ? (1000 * divisor * gaps.reduce((sum, gap) => sum + gap, 0)) / took : 1;
}

/** Shows frame after frame. `gap(n)` is the time from frame n to the next [s]; `ready(n)` whether it can be shown;
 *  `show(n)` shows it; `ended()` is called at the last; `tick` asks for the next turn of the screen. */
export function player({ gap, ready, show, ended, stop, tick = (f) => requestAnimationFrame(f) }) {
  let run = 0, frame = 0, due = 0, shown = [], gaps = [];
  const play = { isOn: false, isSlow: false, divisor: 1, start, halt, pace };
  function begin(now) {
    [due, shown, gaps] = [now + 1000 * gap(frame) * play.divisor, [now], []];
  }
  function turn(mine, now) {
    if (mine !== run) return;
    if (!shown.length) begin(now);
    if (now >= due && ready(frame + 1)) {
      gaps.push(gap(frame));
      shown.push(now);
      frame += 1;
      if (frame + 1 < stop) due = nextDue(due, now, gap(frame), play.divisor);
      judge(now);
      show(frame);
      if (frame + 1 >= stop) { halt(); ended(); }
    }
    if (mine === run) tick((t) => turn(mine, t));
  }
  function judge(now) {
    if (now - shown[0] < WATCHED) return;
    const kept = paceKept(shown, gaps, play.divisor);
    play.isSlow = kept < (play.isSlow ? 0.95 : 0.88);
    [shown, gaps] = [[now], []];
  }
  function start(from) {
    if (from + 1 >= stop) return;
    [frame, shown, gaps] = [from, [], []];
    [play.isOn, play.isSlow] = [true, false];
    const mine = ++run;
    tick((t) => turn(mine, t));
  }
  function halt() {
    const was = play.isOn;
    run += 1;
    play.isOn = false;
    return was;
  }
  function pace(divisor) {
    play.divisor = divisor;
    play.isSlow = false;
    [shown, gaps] = [[], []];
  }
  return play;
}
