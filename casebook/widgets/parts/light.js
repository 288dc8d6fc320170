// Light: how the picture is looked at. It colours what the screen shows and nothing else: marks, frames and pages never
// see it.

export const FILMED = Object.freeze({ brightness: 0, contrast: 0, water: false });
export const PLAIN = Object.freeze([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0]);
const STEP = 0.06, TIMES = 1.18; // of a step of brightness, of contrast
const LENT = 0.6, GAIN = 2.2; // red is lent so much of green at most, and a channel stretched so much
const REACH_OUT = 0.7; // of the way to the full range: more is harsh
const TAIL = 0.01; // of the pixels at each end that may be lost when a channel is stretched
const REMEMBERED = "casebook-light";

/** What water has done to a picture, from its pixels (red, green, blue, opacity by turns, 0 to 255): how much of green
 *  makes good the red that water swallowed, and the ends [0 to 1] between which each channel then lies. */
export function waterOf(pixels) {
  const count = pixels.length / 4, channel = [0, 1, 2].map(() => new Float64Array(count));
  for (let i = 0; i < count; i++) for (const c of [0, 1, 2]) channel[c][i] = pixels[4 * i + c] / 255;
  const [red, green] = channel.map((values) => values.reduce((sum, v) => sum + v, 0) / count);
  const lent = green > 0 ? Math.max(0, Math.min(LENT, (green - red) / green)) : 0;
  for (let i = 0; i < count; i++) channel[0][i] += lent * channel[1][i];
  const ends = channel.map((values) => {
    values.sort();
    const [low, high] = [values[Math.floor(TAIL * (count - 1))], values[Math.ceil((1 - TAIL) * (count - 1))]];
    return [REACH_OUT * low, 1 + REACH_OUT * (high - 1)];
  });
  return { lent, ends };
}

/** The light as three rows of four: new red, green and blue from the old ones and 1, all 0 to 1. `found` is what
 *  waterOf found, used where clear water is asked for. */
export function lightMatrix({ brightness, contrast, water }, found) {
  const k = TIMES ** contrast, rows = [...PLAIN];
  for (const c of [0, 1, 2]) {
    const [low, high] = water && found ? found.ends[c] : [0, 1];
    const gain = k * Math.min(GAIN, 1 / Math.max(high - low, 1e-6));
    rows[4 * c + c] = gain;
    if (c === 0 && water && found) rows[1] = gain * found.lent;
    rows[4 * c + 3] = 0.5 - (gain * (low + high)) / 2 + STEP * brightness;
  }
  return rows;
}

/** Put pixels (red, green, blue, opacity by turns, bytes that hold their ends) into another light, in their place. */
export function putInLight(pixels, rows) {
  const [rr, rg, rb, r1, gr, gg, gb, g1, br, bg, bb, b1] = rows;
  for (let i = 0; i < pixels.length; i += 4) {
    const red = pixels[i], green = pixels[i + 1], blue = pixels[i + 2];
    pixels[i] = rr * red + rg * green + rb * blue + 255 * r1;
    pixels[i + 1] = gr * red + gg * green + gb * blue + 255 * g1;
    pixels[i + 2] = br * red + bg * green + bb * blue + 255 * b1;
  }
  return pixels;
}

function lightCanvas(g, rows) {
  const { width, height } = g.canvas, data = g.getImageData(0, 0, width, height);
  putInLight(data.data, rows);
  g.putImageData(data, 0, 0);
}

/** Images in another light; the last one is kept, so that moving over a picture costs nothing. */
function lamp() {
  const canvas = document.createElement("canvas"), g = canvas.getContext("2d", { willReadFrequently: true });
  let last = null, lastRows = null;
  return (image, rows) => {
    if (image === last && rows === lastRows) return canvas;
    [canvas.width, canvas.height] = [image.width, image.height];
    g.drawImage(image, 0, 0);
    lightCanvas(g, rows);
    [last, lastRows] = [image, rows];
    return canvas;
  };
}

/** What clear water does to the picture at hand, from a small copy of it: quick, whatever the picture's size. */
function waterOfImage(image) {
  const small = Object.assign(document.createElement("canvas"), { width: 96, height: 54 });
  const g = small.getContext("2d", { willReadFrequently: true });
  g.imageSmoothingQuality = "medium";
  g.drawImage(image, 0, 0, small.width, small.height);
  return waterOf(g.getImageData(0, 0, small.width, small.height).data);
}

function isFilmed(light) { return Object.keys(FILMED).every((k) => light[k] === FILMED[k]); }

/** The light as last set, in every tool of this browser tab until it is closed. */
function rememberedLight() {
  try {
    const { brightness, contrast, water } = JSON.parse(sessionStorage.getItem(REMEMBERED) ?? "{}");
    const step = (v) => (Number.isInteger(v) ? Math.max(-5, Math.min(5, v)) : 0);
    return { brightness: step(brightness), contrast: step(contrast), water: water === true };
  } catch { return { ...FILMED }; } // storage may be switched off
}
function rememberLight(light) {
  try { sessionStorage.setItem(REMEMBERED, JSON.stringify(light)); } catch { /* then it holds until the page closes */ }
}
