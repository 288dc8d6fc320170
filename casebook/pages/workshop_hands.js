// The tally of hands: a panel that counts choices case by case, and what follows from the counts.
const hands = (facts, { onCount, onClose }) => {
  const { make, button, clamp } = made;
  const table = facts.cases.map(() => facts.choices.map(() => 0));
  const answers = facts.cases.map((each) => each.answer);
  const revealed = facts.cases.map(() => false);
  let panel = null;
  let tallied = 0;

  function inWords(number) {
    const found = agreement.ofCase(table[number], answers[number], facts.t95);
    if (!found.n) return ["No hands yet."];
    const leading = found.leading.map((i) => `${i + 1} (${facts.choices[i].title})`).join(" and ");
    const said = [`${found.n} ${found.n === 1 ? "hand" : "hands"}. Most chosen: ${leading}, ${found.most} of ${found.n}.`];
    if (found.n > 1) {
      said.push(`Two coaches taken at random agree in ${agreement.percent(found.pairs)}.`);
      said.push(`Kappa, guessing among the ${facts.choices.length} choices set apart: ${agreement.kappaText(found.beyond)}.`);
    }
    said.push(revealed[number]
      ? `With the reference: ${table[number][answers[number]]} of ${found.n}, ${agreement.percent(found.reference)}.`
      : "With the reference: after the reveal.");
    return said;
  }

  // What the reveal says about this room.
  function inRoom(number) {
    const found = agreement.ofCase(table[number], answers[number], facts.t95);
    return found.n ? `In this room: ${table[number][answers[number]]} of ${found.n} chose this.` : "";
  }

  function together(box) {
    const used = facts.cases.map((_, i) => i).filter((i) => table[i].some((r) => r > 0));
    box.replaceChildren();
    if (!used.length) {
      box.append(make("p", "No hands were counted. The tally opens with T in each case.", { class: "large" }));
      return;
    }
    const list = make("ul");
    used.forEach((i) => list.append(make("li", `${facts.cases[i].alias}: ${inWords(i).filter((_, k) => k !== 2).join(" ")}`)));
    box.append(list);
    const rows = used.map((i) => table[i]);
    const shown = used.filter((i) => revealed[i]);
    const among = agreement.among(rows, facts.t95);
    const few = used.length < 4 ? "; so few cases say little about the next one" : "";
    const along = agreement.withReference(shown.map((i) => table[i]), shown.map((i) => answers[i]), facts.t95);
    if (used.length > 1) box.append(make("p", `All cases, among us: kappa ${agreement.kappaText(among)}${few}.`, { class: "large" }));
    if (shown.length > 1) box.append(make("p", `All cases, with the reference: kappa ${agreement.kappaText(along)}.`, { class: "large" }));
    box.append(make("p", "1 would be full agreement, 0 no more than chance. The brackets say how far so few cases can be trusted."));
  }

  function csv() {
    const cell = (value) => {
      const words = String(value);
      const safe = /^[=+\-@\t\r\uff1d\uff0b\uff0d\uff20]/.test(words) ? `'${words}` : words;
      return /[",\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
    };
    const rows = [["case", "choice", "hands"]];
    facts.cases.forEach((each, i) => facts.choices.forEach((choice, k) => {
      if (table[i][k]) rows.push([each.alias, choice.key, table[i][k]]);
    }));
    return `${rows.map((row) => row.map(cell).join(",")).join("\n")}\n`;
  }

  function makePanel() {
    panel = make("section", "", { class: "tally", "aria-label": "Tally of hands" });
    panel.hidden = true;
    const text = make("textarea", "", { class: "csv", readonly: "", rows: "5", "aria-label": "The tally as CSV" });
    text.hidden = true;
    const copy = button("Copy as CSV", () => {
      text.hidden = false;
      text.value = csv();
      text.focus();
      text.select();
      if (navigator.clipboard) navigator.clipboard.writeText(text.value).catch(() => {});
    });
    const save = button("Save tally.csv", () => {
      const link = make("a", "", { download: "tally.csv" });
      link.href = URL.createObjectURL(new Blob([csv()], { type: "text/csv" }));
      link.click();
      URL.revokeObjectURL(link.href);
    });
    const head = make("div", "", { class: "head" });
    head.append(make("h2", "Tally"), button("Close", close));
    const foot = make("div", "", { class: "row" });
    foot.append(copy, save);
    const grid = make("table");
    const box = make("div", "", { class: "said", "aria-live": "polite" });
    panel.append(head, grid, box, foot, text);
    document.body.append(panel);
  }

  function fillTally() {
    const name = facts.cases[tallied].alias;
    panel.querySelector("h2").textContent = `Tally: case ${tallied + 1}, ${name}`;
    const grid = panel.querySelector("table");
    const head = make("tr");
    [["#", "No."], ["Choice", "Choice"], ["Hands", "Hands"]].forEach(([words]) => head.append(make("th", words, { scope: "col" })));
    const rows = facts.choices.map((choice, k) => {
      const row = make("tr");
      const field = make("input", "", { type: "number", min: "0", max: "99", inputmode: "numeric", "aria-label": `Hands for ${k + 1}: ${choice.title}` });
      field.value = table[tallied][k];
      const keep = (value) => {
        table[tallied][k] = clamp(Math.floor(Number(value)) || 0, 0, 99);
        field.value = table[tallied][k];
        told();
      };
      field.addEventListener("change", () => keep(field.value));
      const cell = make("td", "", { class: "hands" });
      cell.append(
        button("\u2212", () => keep(table[tallied][k] - 1), { "aria-label": `One hand less for ${k + 1}` }),
        field,
        button("+", () => keep(table[tallied][k] + 1), { "aria-label": `One hand more for ${k + 1}` }),
      );
      row.append(make("td", String(k + 1)), make("th", choice.title, { scope: "row" }), cell);
      return row;
    });
    grid.replaceChildren(head, ...rows);
    told();
  }

  function told() {
    panel.querySelector(".said").replaceChildren(...inWords(tallied).map((words) => make("p", words)));
    onCount();
  }

  const isOpen = () => Boolean(panel) && !panel.hidden;

  function open() {
    if (!panel) makePanel();
    panel.hidden = false;
    fillTally();
    panel.querySelector("input").focus();
  }

  function close() {
    panel.hidden = true;
    onClose();
  }

  return {
    inRoom,
    together,
    isOpen,
    open,
    close,
    holdsHands: () => table.some((row) => row.some((r) => r > 0)),
    reveal(number) { revealed[number] = true; },
    turnTo(number) {
      tallied = number;
      if (isOpen()) fillTally();
    },
  };
};
