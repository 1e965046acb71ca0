"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const get = (id) => document.getElementById(id);
const minus = (text) => text.replace("-", "\u2212");
const fixed = (v, digits) => minus(v.toFixed(digits));
const pct = (part, whole) => (100 * part / whole).toFixed(1);
let set = data.sets[0];
let order = 0;
let pair = null;
let open = false;
const score = { right: 0, all: 0 };

// agree: the bout of fewer strokes was the cheaper one; null for a tie.
const agree = (p) => (p[1] === 0 ? null : (p[0] < 0) === (p[1] < 0));

function paragraphs(into, lines) {
  into.replaceChildren(...lines.map((line) => {
    const p = document.createElement("p");
    p.textContent = line;
    return p;
  }));
}

function ask() {
  pair = set.pairs[order % set.pairs.length];
  order += 1;
  open = true;
  const fewer = pair[0] < 0 ? "A" : "B";
  const other = fewer === "A" ? "B" : "A";
  paragraphs(get("said"), [
    "Bout " + fewer + " had " + Math.abs(pair[0]).toFixed(1) + " % fewer strokes than bout " + other + ", at the same pace.",
    "The score says: " + fewer + " is the better one. What does the " + data.organ + " say?",
  ]);
  get("a").disabled = get("b").disabled = false;
  draw();
}

function answer(guess) {
  if (!open) return;
  open = false;
  const fewer = pair[0] < 0 ? "A" : "B";
  const cheaper = pair[1] === 0 ? "" : pair[1] < 0 ? "A" : "B";
  const lines = Array.from(get("said").children, (p) => p.textContent).slice(0, 1);
  if (cheaper === "") {
    lines.push("The " + data.organ + " says: no difference.");
  } else {
    score.all += 1;
    if (guess === cheaper) score.right += 1;
    lines.push("The " + data.organ + " says: " + cheaper + ", by " + Math.abs(pair[1]).toFixed(1) + " " + data.unit + ". " +
      (cheaper === fewer ? "Here score and " + data.organ + " agree." : "Here the score is wrong.") + (guess === cheaper ? " You had it." : " You did not have it."));
  }
  paragraphs(get("said"), lines);
  get("a").disabled = get("b").disabled = true;
  get("tally").textContent = "You: " + score.right + " of " + score.all + " right. One pair is an anecdote; read the sentence below the picture.";
  get("another").focus();
}

const svg = (name, attributes, text) => {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const key of Object.keys(attributes)) e.setAttribute(key, attributes[key]);
  if (text !== undefined) e.textContent = text;
  return e;
};

function reach(values) {
  const sorted = values.map(Math.abs).sort((a, b) => a - b);
  return Math.max(1, sorted[Math.floor(0.98 * (sorted.length - 1))] * 1.08);
}

function draw() {
  const least = Number(get("least").value);
  get("much").textContent = String(least);
  const plot = get("plot");
  const shown = set.pairs.filter((p) => Math.abs(p[0]) >= least);
  const X = reach(set.pairs.map((p) => p[0])), Y = reach(set.pairs.map((p) => p[1]));
  const clip = (v, m) => Math.min(Math.max(v, -m), m);
  const x = (v) => 60 + (clip(v, X) + X) / (2 * X) * 560;
  const y = (v) => 20 + (Y - clip(v, Y)) / (2 * Y) * 340;
  const parts = [plot.querySelector("title"),
    svg("line", { class: "axis", x1: x(0), y1: 20, x2: x(0), y2: 360 }), svg("line", { class: "axis", x1: 60, y1: y(0), x2: 620, y2: y(0) }),
    svg("text", { x: 340, y: 408, "text-anchor": "middle" }, "strokes: one bout less the other, in % (to \u2212" + X.toFixed(0) + " and +" + X.toFixed(0) + ")"),
    svg("text", { x: 18, y: 190, "text-anchor": "middle", transform: "rotate(-90 18 190)" }, "cost: the same difference, in " + data.unit),
    svg("text", { x: 620, y: 14, "text-anchor": "end" }, "agree"), svg("text", { x: 84, y: 380 }, "agree"),
    svg("text", { x: 60, y: 14 }, "disagree"), svg("text", { x: 596, y: 380, "text-anchor": "end" }, "disagree"),
    svg("text", { x: 60, y: 380, "text-anchor": "middle" }, "\u2212" + X.toFixed(0)), svg("text", { x: 620, y: 380, "text-anchor": "middle" }, "+" + X.toFixed(0)),
    svg("text", { x: 54, y: 26, "text-anchor": "end" }, "+" + Y.toFixed(0)), svg("text", { x: 54, y: 362, "text-anchor": "end" }, "\u2212" + Y.toFixed(0))];
  let right = 0, ties = 0;
  for (const p of shown) {
    const a = agree(p);
    if (a === null) ties += 1;
    else if (a) right += 1;
    parts.push(svg("circle", { class: a ? "agree" : "against", cx: x(p[0]).toFixed(1), cy: y(p[1]).toFixed(1), r: 3.2 }));
  }
  if (pair !== null && !open) parts.push(svg("circle", { class: "now", cx: x(pair[0]), cy: y(pair[1]), r: 9 }));
  plot.replaceChildren(...parts);
  get("words").textContent = shown.length === 0 ? "No pair differs by so much." :
    "Of " + shown.length + " pairs shown, of " + set.swimmers + " swimmers, the bout of fewer strokes was the cheaper one in " + pct(right + ties / 2, shown.length) + " %" +
    (ties > 0 ? " (ties count half)" : "") + ". A coin gives 50 %.";
  get("plotname").textContent = get("words").textContent;
}

function choose(i) {
  set = data.sets[i];
  order = 0;
  get("finding").textContent = set.finding === "" ? "" : "The study\u2019s own answer, each swimmer\u2019s sessions weighed: " + set.finding;
  ask();
}

data.sets.forEach((one, i) => {
  const label = document.createElement("label");
  const radio = document.createElement("input");
  radio.type = "radio";
  radio.name = "set";
  radio.checked = i === 0;
  radio.addEventListener("change", () => choose(i));
  label.append(radio, one.words);
  get("sets").append(label);
});
get("a").addEventListener("click", () => { answer("A"); draw(); });
get("b").addEventListener("click", () => { answer("B"); draw(); });
get("another").addEventListener("click", ask);
get("least").addEventListener("input", draw);
get("all").hidden = false;
choose(0);
