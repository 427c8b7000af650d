"use strict";
// What every page with sliders shares: numbers in words, sliders, the link, small drawings.
// Nothing is fetched, nothing a person wrote is ever read as markup: text goes in as text.
const thousands = (text) => text.replace(/\B(?=(\d{3})+(?!\d))/g, ",");
function decimals(value, digits) {
  if (!Number.isFinite(value)) return "unknown";
  const size = Math.abs(value) >= 0.5 * 10 ** -digits ? Math.abs(value) : 0;
  const [whole, part] = size.toFixed(digits).split(".");
  const written = thousands(whole) + (part ? "." + part : "");
  return value >= 0 || !/[1-9]/.test(written) ? written : "\u2212" + written;
}
const whole = (value) => decimals(value, 0);
function short(value) {
  if (Math.abs(value) >= 9.95 || Math.abs(value) < 0.005) return whole(value);
  return decimals(value, Math.abs(value) >= 0.995 ? 1 : 2);
}
const money = (amount, currency) => `${short(amount)} ${currency || ""}`.trim();
const hourly = (cost, currency) => `${decimals(cost, 2)} ${currency || ""}`.trim();
const hours = (value) => `${short(value)} h`;
function percent(share) {
  if (!Number.isFinite(share)) return "unknown";
  const value = 100 * share;
  if (value < 0.1) return "under 0.1 %";
  if (value > 99.9) return "over 99.9 %";
  return value < 1 || value > 99 ? `${value.toFixed(1)} %` : `${value.toFixed(0)} %`;
}
function chance(share) {
  if (!Number.isFinite(share)) return "unknown";
  if (share < 0.01) return "under 1 %";
  return share > 0.99 ? "over 99 %" : `${(100 * share).toFixed(0)} %`;
}
const heads = (low, high) => (low === high ? whole(low) : `${whole(low)} to ${whole(high)}`);
function counted(number, one, many) {
  if (number === 0) return `no ${one}`;
  return `${thousands(String(number))} ${number === 1 ? one : many}`;
}
// Templates are the package's own, the values are put in as they are.
const fill = (template, values) =>
  template.replace(/\{(\w+)\}/g, (_, name) => (name in values ? values[name] : ""));
// A number and its unit stay on one line, as everywhere on the page.
const kept = (text) => text.replace(/(\d) (?=(?:%|h|weeks|heads)(?:\W|$))/g, "$1\u00a0");

function floats(text) {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  return Float64Array.from(new Float32Array(bytes.buffer));
}
// Quantiles at the shares `tail` and 1 - `tail` of the weight, averaged over AROUND on either side: the
// difference of what two shares of the weight, smallest values first, add up to. Weights are counted
// in bins, the bin in which a share ends is divided again, and the few left are put in order.
const AROUND = 0.005, BINS = 256, FEW = 24, bins = new Float64Array(BINS), sums = new Float64Array(BINS);
function filled(values, weights, chosen, low, scale) {
  const place = (value) => Math.min(((value - low) * scale) | 0, BINS - 1);
  bins.fill(0); sums.fill(0);
  for (const at of chosen) {
    const bin = place(values[at]);
    bins[bin] += weights[at]; sums[bin] += weights[at] * values[at];
  }
  return place;
}
// Where a share ends: its bin, and what lies below it.
function ending(end) {
  while (end.bin < BINS - 1 && end.below + bins[end.bin] < end.q) {
    end.below += bins[end.bin]; end.sum += sums[end.bin]; end.bin += 1;
  }
  return end;
}
function upTo(values, weights, end, low, high) {
  let { chosen } = end;
  for (let turn = 0; chosen.length > FEW && high > low && turn < 12; turn += 1) {
    const scale = BINS / (high - low), place = filled(values, weights, chosen, low, scale);
    end.bin = 0;
    const { bin } = ending(end);
    chosen = chosen.filter((at) => place(values[at]) === bin);
    [low, high] = [low + bin / scale, low + (bin + 1) / scale];
  }
  chosen.sort((one, other) => values[one] - values[other]);
  for (const at of chosen) {
    const step = Math.min(weights[at], end.q - end.below);
    end.below += step; end.sum += step * values[at];
  }
  return end.sum;
}
function bounds(values, weights, tail) {
  let low = Infinity, high = -Infinity, expected = 0;
  for (let at = 0; at < values.length; at += 1) {
    const value = values[at];
    if (value < low) low = value;
    if (value > high) high = value;
    expected += value * weights[at];
  }
  if (!(high > low)) return { expected, low: high, high };
  const scale = BINS / (high - low), place = filled(values, weights, weights.keys(), low, scale);
  const around = Math.min(AROUND, tail);
  const ends = [tail - around, tail + around, 1 - tail - around, 1 - tail + around]
    .map((q) => ending({ q, bin: 0, below: 0, sum: 0, chosen: [] }));
  for (let at = 0; at < values.length; at += 1) {
    const bin = place(values[at]);
    for (const end of ends) if (bin === end.bin) end.chosen.push(at);
  }
  const [a, b, c, d] = ends.map((end) =>
    upTo(values, weights, end, low + end.bin / scale, low + (end.bin + 1) / scale));
  return { expected, low: (b - a) / (2 * around), high: (d - c) / (2 * around) };
}
const mean = (values, weights) => {
  let sum = 0;
  for (let at = 0; at < values.length; at += 1) sum += values[at] * weights[at];
  return sum;
};

// What stands at a place of numbers written as runs of [number, how often].
function inRuns(runs, place) {
  let left = Math.max(place, 0);
  for (const [number, count] of runs) {
    if (left < count) return number;
    left -= count;
  }
  return runs[runs.length - 1][0];
}

const byId = (name) => document.getElementById(name);
// What is shown already is left alone: the browser then lays out and paints only what changed.
function put(node, text) {
  const shown = kept(text);
  if (node.textContent !== shown) node.textContent = shown;
}
function note(node, name, value) {
  const text = String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}
function badge(node, words, kind, sign) {
  const said = sign ? `${sign} ${words}` : words;
  if (node.textContent === said && node.className === `badge ${kind}`) return;
  node.className = `badge ${kind}`;
  node.replaceChildren();
  if (sign) {
    const mark = document.createElement("span");
    mark.setAttribute("aria-hidden", "true");
    mark.textContent = `${sign} `;
    node.append(mark);
  }
  node.append(words);
}
// Rows of a table, as the page writes its own: a heading first, each cell with its column's.
function fillTable(body, headings, rows) {
  if (!body.querySelector("[data-value]")) body.replaceChildren(); // that there is nothing yet
  while (body.children.length > rows.length) body.lastElementChild.remove();
  while (body.children.length < rows.length) {
    const line = document.createElement("tr");
    line.setAttribute("role", "row");
    headings.forEach((heading, at) => {
      const cell = document.createElement(at ? "td" : "th");
      cell.setAttribute("role", at ? "cell" : "rowheader");
      if (at) { cell.dataset.head = heading; cell.className = "number"; } else cell.scope = "row";
      cell.append(document.createElement("span"));
      line.append(cell);
    });
    body.append(line);
  }
  rows.forEach(({ cells, values }, number) => {
    const line = body.children[number].children;
    cells.forEach((words, at) => {
      put(line[at].firstElementChild, words);
      if (!at && /^\d/.test(words)) line[at].dataset.head = headings[at];
      note(line[at], "data-value", values[at]);
    });
  });
}

const SVG = "http://www.w3.org/2000/svg";
// A drawing is a list of [element, attributes, text or parts]; only what differs is touched.
function drawn(parent, parts) {
  while (parent.children.length > parts.length) parent.lastElementChild.remove();
  parts.forEach(([name, attributes, inside], place) => {
    let node = parent.children[place];
    if (!node || node.tagName !== name) {
      const made = document.createElementNS(SVG, name);
      if (node) node.replaceWith(made); else parent.append(made);
      node = made;
    }
    for (const key of node.getAttributeNames()) if (!(key in attributes)) node.removeAttribute(key);
    for (const key of Object.keys(attributes)) note(node, key, attributes[key]);
    if (Array.isArray(inside)) drawn(node, inside);
    else if (node.textContent !== (inside || "")) node.textContent = inside || "";
  });
}
// A round end of an axis, and round steps to it.
function roundEnd(value) {
  const decade = 10 ** Math.floor(Math.log10(value));
  return [1, 1.2, 1.6, 2, 2.5, 3, 4, 5, 6, 8, 10].map((one) => one * decade)
    .find((end) => end >= value * (1 - 1e-12));
}
function ticks(end, most) {
  const rough = end / most, decade = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((one) => one * decade).find((one) => one >= rough * (1 - 1e-9));
  const found = [];
  for (let at = 0; at <= end * (1 + 1e-9); at += step) found.push(at);
  return found;
}

// Sliders: each a range and a number field that say the same; the link carries all of them.
function sliders(form, changed) {
  const found = {};
  for (const range of form.querySelectorAll("input[type=range]")) {
    const name = range.dataset.name, field = byId(`${range.id}-exact`);
    const limits = () => [Number(range.min), Number(range.max), Number(range.step)];
    const set = (wanted) => {
      const [least, most, step] = limits();
      const asked = Number.isFinite(wanted) ? Math.min(Math.max(wanted, least), most) : Number(range.value);
      const value = Number((least + step * Math.round((asked - least) / step)).toFixed(6));
      range.value = value;
      if (document.activeElement !== field || Number(field.value) !== value) field.value = value;
      range.setAttribute("aria-valuetext", `${thousands(String(value))} ${range.dataset.unit}`.trim());
      return value;
    };
    range.addEventListener("input", () => { set(Number(range.value)); changed(); });
    field.addEventListener("change", () => { set(field.value === "" ? NaN : Number(field.value)); changed(); });
    found[name] = { get value() { return Number(range.value); }, set, range, field };
    set(Number(range.value));
  }
  return found;
}
function toLink(link, values) {
  const words = Object.entries(values).map(([name, value]) => `${name}=${encodeURIComponent(value)}`);
  link.href = `#try?${words.join("&")}`;
}
function fromLink() {
  if (!location.hash.startsWith("#try?")) return null;
  return Object.fromEntries(new URLSearchParams(location.hash.slice(5)));
}
function ready(start) {
  const data = byId("what-if-data");
  if (!data) return;
  byId("what-if-static").remove();
  byId("what-if-panel").hidden = false;
  start(JSON.parse(data.textContent));
}
