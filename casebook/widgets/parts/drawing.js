// Drawing: four kinds of line, the same as on the pages.

const WATER = "water", LENGTH = "length", LANE = "lane", PLUMB = "plumb";
const INK = "#0b2530", WHITE = "#ffffff", WARM = "#ffb25e";

function stroke(g, line, { color, width, edge, dash = [] }) {
  if (line.length < 2) return;
  const trace = () => { g.beginPath(); line.forEach(([x, y], i) => (i ? g.lineTo(x, y) : g.moveTo(x, y))); };
  g.lineJoin = g.lineCap = "round";
  g.setLineDash([]); g.globalAlpha = dash.length ? 0.45 : 0.75;
  g.strokeStyle = INK; g.lineWidth = width + edge; trace(); g.stroke();
  g.globalAlpha = 1; g.setLineDash(dash); g.lineCap = dash.length ? "butt" : "round";
  g.strokeStyle = color; g.lineWidth = width; trace(); g.stroke();
  g.setLineDash([]);
}

function ring(g, [x, y], { r, fill, width = 1.5, color = INK }) {
  g.beginPath(); g.arc(x, y, r, 0, 2 * Math.PI);
  if (fill) { g.fillStyle = fill; g.fill(); }
  g.strokeStyle = color; g.lineWidth = width; g.stroke();
}

/** Corners about a place for each kind of mark that the coach has not accepted: a tracked one stands on its point. */
const CORNERS = {
  tracked: [[0, -1.35], [1.35, 0], [0, 1.35], [-1.35, 0]],
  drafted: [[-1, -1], [1, -1], [1, 1], [-1, 1]],
};

/** A coach's own mark is a full disc; a tracked one an open lozenge, a drafted one an open square. */
function drawMark(g, at, how, chosen, weight) {
  const corners = CORNERS[how], r = (chosen ? 8.5 : 4) * weight;
  if (corners) {
    g.beginPath();
    for (const [x, y] of corners) g.lineTo(at[0] + r * x, at[1] + r * y);
    g.closePath();
    g.lineJoin = "miter";
    for (const [color, width] of [[INK, 4.2], [WHITE, 1.9]]) {
      g.strokeStyle = color; g.lineWidth = width * weight; g.stroke();
    }
  } else if (chosen) {
    // An open ring: the joint itself stays in sight while it is being placed.
    ring(g, at, { r: 9 * weight, color: INK, width: 4.5 * weight });
    ring(g, at, { r: 9 * weight, color: WHITE, width: 2.2 * weight });
  } else ring(g, at, { r: 4 * weight, fill: WHITE });
  if (chosen) ring(g, at, { r: 1.6 * weight, fill: WHITE, width: 1 });
}

/** Where the chosen point lies on the marked frames around: full dots before, open ones after, fading away. */
function drawTrail(g, trail, weight) {
  for (const { xy, strength, isAfter } of trail) {
    g.globalAlpha = 0.15 + 0.6 * strength;
    ring(g, xy, { r: 2.6 * weight, color: INK, width: 2.6 * weight });
    ring(g, xy, { r: 2.6 * weight, fill: isAfter ? null : WHITE, color: WHITE, width: 1.3 * weight });
  }
  g.globalAlpha = 1;
}

function drawLabel(g, [x, y], text, box, weight) {
  g.font = `600 ${15 * weight}px "Source Sans 3","Noto Sans",system-ui,sans-serif`;
  const isLeft = x > box.width * 0.6;
  g.textAlign = isLeft ? "end" : "start";
  x += (isLeft ? -9 : 9) * weight;
  g.lineJoin = "round"; g.lineWidth = 4 * weight; g.strokeStyle = INK; g.strokeText(text, x, y);
  g.fillStyle = WHITE; g.fillText(text, x, y);
}

/** The known length: a measured stroke that is closed off at both ends, its metres beside it. */
function drawLength(g, [a, b], metres, box, k) {
  const how = { color: WARM, width: 3 * k, edge: 2 }, half = (6 * k) / (Math.hypot(b[0] - a[0], b[1] - a[1]) || 1);
  const [x, y] = [(b[1] - a[1]) * half, (a[0] - b[0]) * half];
  stroke(g, [a, b], how);
  for (const [px, py] of [a, b]) stroke(g, [[px - x, py - y], [px + x, py + y]], how);
  if (metres) drawLabel(g, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2 - 10 * k], `${metres} m`, box, k);
}

/** All that is drawn over one frame: reference lines first, then the body, the measure, the marks, the value. */
function drawOver(g, box, view, { marks, origins, skeleton, spans, extras, chosen, lines, end, size, trail }) {
  const at = (xy) => toBox(xy, view);
  const both = (list) => list.filter(([a, b]) => marks[a] && marks[b]);
  const pairs = (list) => both(list).map(([a, b]) => [at(marks[a]), at(marks[b])]);
  const k = Math.max(1, Math.min(1.7, box.width / 800)); // heavier on a large screen, which is seen from afar
  g.clearRect(0, 0, box.width, box.height);
  const ends = (name) => lines[name]?.ends ?? [], water = ends(WATER).length === 2 && edgeToEdge(...ends(WATER), size);
  const lane = ends(LANE).length === 2 && edgeToEdge(...ends(LANE), size);
  const plumb = ends(PLUMB).length === 2 && ends(PLUMB);
  const dashed = [...extras.reference, ...[water, lane, plumb].filter(Boolean)];
  for (const line of [...dashed.map((l) => l.map(at)), ...pairs(spans)])
    stroke(g, line, { color: WHITE, width: 1.8 * k, edge: 1.8, dash: [7 * k, 5 * k] });
  drawTrail(g, trail.map((dot) => ({ ...dot, xy: at(dot.xy) })), k);
  // Limbs that the coach has not accepted are drawn thin.
  for (const [a, b] of both(skeleton)) {
    const width = OWN.has(origins[a]) && OWN.has(origins[b]) ? 2.8 : 1.3;
    stroke(g, [at(marks[a]), at(marks[b])], { color: WHITE, width: width * k, edge: 2 });
  }
  for (const line of extras.measure) stroke(g, line.map(at), { color: WARM, width: 3 * k, edge: 2 });
  for (const [name, xy] of Object.entries(marks))
    if (name !== chosen) drawMark(g, at(xy), origins[name], false, k);
  if (ends(LENGTH).length === 2) drawLength(g, ends(LENGTH).map(at), lines[LENGTH].metres, box, k);
  if (marks[chosen]) drawMark(g, at(marks[chosen]), origins[chosen], true, k);
  ends(chosen).forEach((xy, i) => drawMark(g, at(xy), "hand", i === end, k));
  for (const [x, y, text] of extras.labels) drawLabel(g, at([x, y]), text, box, k);
}
