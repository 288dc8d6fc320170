"use strict";
// Agreement on the first thing to change from counts of hands: the sums of marks/kappa.py, marks/group_kappa.py and
// checkpoints/first_agreement.py. `t95[d]` is Student's t of a two-sided 95 % interval with d degrees of freedom.
const agreement = (() => {
  const Z = 1.959963984540054;
  const NONE = [NaN, NaN, NaN];
  const sum = (values) => values.reduce((a, b) => a + b, 0);
  const around = (value, half, low, high) => [value, Math.max(value - half, low), Math.min(value + half, high)];
  const exact = (value, least, chance) => [value, (least - chance) / (1 - chance), value];
  const student = (t95, dof) => t95[Math.min(dof, t95.length - 1)];

  function pairShare(counts, t95) {
    const m = sum(counts);
    if (m < 2) return NONE;
    const same = sum(counts.map((r) => r * (r - 1)));
    const value = same / (m * (m - 1));
    if (m < 3) return [value, NaN, NaN];
    if (value > 1 - 1e-12) return [1, 0.025 ** (2 / m), 1];
    const without = counts.map((r) => (same - 2 * (r - 1)) / ((m - 1) * (m - 2)));
    const mean = sum(counts.map((r, i) => r * without[i])) / m;
    const spread = ((m - 1) / m) * sum(counts.map((r, i) => r * (without[i] - mean) ** 2));
    return around(value, student(t95, m - 1) * Math.sqrt(spread), 0, 1);
  }

  function shareOf(k, n) {
    if (!n) return NONE;
    const p = k / n;
    const z2 = Z * Z;
    const middle = (p + z2 / (2 * n)) / (1 + z2 / n);
    const half = (Z / (1 + z2 / n)) * Math.sqrt((p * (1 - p)) / n + z2 / (4 * n * n));
    return [p, Math.max(middle - half, 0), Math.min(middle + half, 1)];
  }

  function ofCase(counts, reference, t95) {
    const n = sum(counts);
    const most = Math.max(0, ...counts);
    const guess = 1 / counts.length;
    const pairs = pairShare(counts, t95);
    return {
      n,
      most,
      leading: most ? counts.flatMap((r, i) => (r === most ? [i] : [])) : [],
      pairs,
      beyond: pairs.map((v) => (v - guess) / (1 - guess)),
      reference: reference < 0 ? NONE : shareOf(counts[reference], n),
    };
  }

  function means(rows) {
    return rows[0].map((_, j) => sum(rows.map((row) => row[j])) / rows.length);
  }

  // Fleiss' kappa; `table` has a row of counts a case. Cases with fewer than two votes are left out.
  function among(table, t95) {
    const rows = table.filter((row) => sum(row) >= 2);
    const n = rows.length;
    if (!n) return NONE;
    const each = rows.map((row) => row.map((r) => r / sum(row)));
    const shares = means(each);
    const agrees = rows.map((row) => sum(row.map((r) => r * (r - 1))) / (sum(row) * (sum(row) - 1)));
    const agreed = sum(agrees) / n;
    const chance = sum(shares.map((s) => s * s));
    if (1 - chance < 1e-12) return NONE;
    const value = (agreed - chance) / (1 - chance);
    if (agreed > 1 - 1e-12) return exact(value, 0.025 ** (1 / n), chance);
    if (n < 2) return [value, NaN, NaN];
    const own = agrees.map((a, i) => {
      const by = sum(each[i].map((e, j) => e * shares[j]));
      return (a - chance - 2 * (1 - value) * (by - chance)) / (1 - chance);
    });
    const se = Math.sqrt(sum(own.map((o) => (o - value) ** 2)) / (n * (n - 1)));
    return around(value, student(t95, n - 1) * se, -1, 1);
  }

  function groupValue(each, reference) {
    const n = each.length;
    const agreed = sum(each.map((row, i) => row[reference[i]])) / n;
    const shares = means(each);
    const chance = sum(shares.map((s, j) => s * (reference.filter((r) => r === j).length / n)));
    return { agreed, chance, value: 1 - chance > 1e-12 ? (agreed - chance) / (1 - chance) : NaN };
  }

  // Kappa of the room against the reference; cases without votes are left out.
  function withReference(table, references, t95) {
    const use = table.map((_, i) => i).filter((i) => sum(table[i]) > 0 && references[i] >= 0);
    const n = use.length;
    if (!n) return NONE;
    const each = use.map((i) => table[i].map((r) => r / sum(table[i])));
    const reference = use.map((i) => references[i]);
    const { agreed, chance, value } = groupValue(each, reference);
    if (agreed > 1 - 1e-12 && Number.isFinite(value)) return exact(value, 0.025 ** (1 / n), chance);
    if (n < 2) return [value, NaN, NaN];
    const left = (list, i) => list.filter((_, k) => k !== i);
    const without = use.map((_, i) => groupValue(left(each, i), left(reference, i)).value);
    const mean = sum(without) / n;
    const se = Math.sqrt(((n - 1) / n) * sum(without.map((v) => (v - mean) ** 2)));
    return Number.isFinite(se) ? around(value, student(t95, n - 1) * se, -1, 1) : [value, NaN, NaN];
  }

  const number = (v) => (Math.round(v * 100) / 100 + 0).toFixed(2).replace("-", "\u2212");
  const kappaText = ([v, low, high]) => {
    if (!Number.isFinite(v)) return "not known";
    return Number.isFinite(low) ? `${number(v)} (${number(low)} to ${number(high)})` : number(v);
  };
  const percent = ([v, low, high]) => {
    const whole = (x) => Math.round(100 * x);
    return Number.isFinite(low) ? `${whole(v)} % (${whole(low)} to ${whole(high)})` : `${whole(v)} %`;
  };

  return { ofCase, among, withReference, kappaText, percent };
})();
