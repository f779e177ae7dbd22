// What moves and answers on a page of the course. Nothing is fetched, nothing is kept, nothing is sent.
"use strict";

const dataOf = (place) => JSON.parse(place.querySelector('script[type="application/json"]').textContent);
const round = (value, digits) => String(Number(value.toPrecision(digits)));

// Benches: each place of a slider is a picture drawn beforehand.

for (const bench of document.querySelectorAll(".flip")) {
  const films = dataOf(bench), picture = bench.querySelector("img"), small = bench.querySelector("source"), numbers = bench.querySelector(".numbers");
  const spoken = bench.querySelector("[role=status]"), sliders = [...bench.querySelectorAll("input")];
  let waiting = 0;
  const file = (film, place, size = "") => film.frames + String(place).padStart(2, "0") + size + ".webp";
  const size = () => (small && matchMedia(small.media).matches ? "s" : "");
  const put = (slider, film) => {
    slider.previousElementSibling.value = film.values[slider.value];
    slider.setAttribute("aria-valuetext", film.values[slider.value]);
  };
  sliders.forEach((slider, which) => {
    const film = films[which];
    const fetchAll = () => {                       // once, when the slider is first touched
      film.kept = film.kept || film.values.map((_, place) => Object.assign(new Image(), { src: file(film, place, size()) }));
    };
    slider.addEventListener("pointerdown", fetchAll);
    slider.addEventListener("focus", fetchAll);
    slider.addEventListener("input", () => {
      fetchAll();
      sliders.forEach((other, index) => {          // one at a time: the others stand at rest
        if (other !== slider) { other.value = films[index].rest; put(other, films[index]); }
      });
      put(slider, film);
      if (small) small.srcset = file(film, slider.value, "s");
      picture.src = file(film, slider.value);
      picture.alt = film.alts[slider.value];
      numbers.innerHTML = film.words[slider.value];
      clearTimeout(waiting);                       // the numbers are spoken once nothing has moved for a while
      waiting = setTimeout(() => { spoken.textContent = numbers.innerText.replace(/\s+/g, " "); }, 800);
    });
  });
}

// Reading a number: 1782.6, 1,782.6, 1782,6, −3 1/2 in, 1.78 m, 12°, 1.6e3 mm.

const UNITS = {
  "": ["number", 1], "%": ["number", 0.01], mm: ["length", 1], cm: ["length", 10], m: ["length", 1000], in: ["length", 25.4],
  deg: ["angle", 1], rad: ["angle", 180 / Math.PI], N: ["force", 1], kN: ["force", 1000], lbf: ["force", 4.4482216152605],
};
const SPELLINGS = {
  "°": "deg", "º": "deg", "˚": "deg", degree: "deg", degrees: "deg", radian: "rad", radians: "rad", inch: "in", inches: "in", '"': "in",
  "''": "in", "”": "in", percent: "%", plain: "", millimeter: "mm", millimeters: "mm", newton: "N", newtons: "N", n: "N", kn: "kN", meter: "m", meters: "m",
};

function readDigits(text) {                        // the ways to read digits, the likeliest first
  if (/^[1-9]\d{0,2}(,\d{3})+(\.\d+)?$/.test(text)) return [text.replace(/,/g, ""), text.replace(",", ".")];
  if (/^[1-9]\d{0,2}(\.\d{3})+,\d+$/.test(text)) return [text.replace(/\./g, "").replace(",", ".")];
  if (/^[1-9]\d{0,2}([ '’_]\d{3})+([.,]\d+)?$/.test(text)) text = text.replace(/[ '’_]/g, "");
  text = text.replace(/\.$/, "").replace(",", ".");
  return /^(\d+|\d*\.\d+)$/.test(text) ? [text] : [];
}

function readNumber(text, unit, name) {            // {values, digit} in the unit asked for, or {why}
  let plain = text.replace(/[½¼¾⅛⅜⅝⅞⅓⅔]/g, (one) => " " + one.normalize("NFKC")).replace(/″/g, '"').normalize("NFKC")
    .replace(/[−–—‐‑‒―﹣˗➖]/g, "-").replace(/⁄/g, "/").replace(/[\u200b\u200e\u2060\ufeff]/g, "").replace(/\s+/g, " ").trim();
  if (plain.split("=")[0].trim() === name) plain = plain.slice(plain.indexOf("=") + 1).trim();
  const found = plain.match(/^([+-]?) ?(?:(\d+) (\d+)\/(\d+)|(\d[\d.,'’_]*(?: \d{3})*(?:[.,]\d+)?|[.,]\d+)(?:e([+-]?\d{1,2}))?(?: ?\/ ?(\d+))?) ?(\D*)$/i);
  if (!found) return { why: `'${text.slice(0, 30)}' cannot be read as one number: write something like 12.5 mm or 1/3.` };
  const [, sign, whole, top, bottom, digits, power, below, behind] = found;
  const word = behind.trim().replace(/\.$/, ""), known = SPELLINGS[word.toLowerCase()] ?? (word in UNITS || word === unit ? word : word.toLowerCase());
  let size = 1;
  if (word && known !== unit) {
    if (!(known in UNITS)) return { why: `'${word.slice(0, 30)}' after the number is no unit that is known here.` };
    const asked = UNITS[unit] || [unit, 1];
    if (UNITS[known][0] !== asked[0]) return { why: `${known} is no unit of what is asked for: answer ${unit ? "in " + unit : "as a plain number"}.` };
    size = UNITS[known][1] / asked[1];
  } else if (behind.trim() === "plain" && unit === "%") size = 100;
  const ways = digits ? readDigits(digits) : [String(Number(whole) + Number(top) / Number(bottom))];
  if (!ways.length || Number(below ?? bottom ?? 1) === 0) return { why: `The digits in '${text.slice(0, 30)}' cannot be read as one number.` };
  const scale = (sign === "-" ? -1 : 1) * size * 10 ** Number(power || 0) / Number(below || 1);
  const exact = whole || below;
  return { values: ways.map((way) => ({ value: Number(way) * scale, digit: exact ? 0 : Math.abs(scale) * 10 ** -(way.split(".")[1] || "").length })) };
}

// Checking: the order of judgment is the notebook's.

function checkNumber(task, text) {
  const read = readNumber(text, task.unit, task.find);
  if (read.why) return ["unreadable", read.why, ...(task.unit ? [`A number is expected here in ${task.unit}.`] : [])];
  const right = (one) => Math.abs(one.value - task.due) <= task.within * (1 + 1e-9);
  const near = (one) => Math.abs(one.value - task.due) <= 0.01 * Math.abs(task.due);
  const { value, digit } = read.values.find(right) || read.values.slice(1).find(near) || read.values[0];
  const off = Math.abs(value - task.due), given = `${round(value, 6)} ${task.unit}`.trim();
  if (right({ value })) return ["right", task.right];
  const rounded = off < digit && digit <= 0.1 * Math.abs(task.due) && value * task.due > 0;
  const far = ([slip]) => Math.abs(value - slip);
  let slips = task.slips.filter((one) => far(one) <= one[1] * (1 + 1e-9) && far(one) <= (rounded ? 1e-9 : Math.max(digit, 0.003 * Math.abs(one[0]))));
  const nearest = Math.min(...slips.map(far));     // of two that fit, the nearest is named
  slips = slips.filter((one) => far(one) <= nearest + 1e-9 * Math.abs(value));
  if (rounded) {
    const how = off <= digit / 2 * (1 + 1e-9) ? "rounded" : "cut off or rounded up";
    return ["wrong", `${given} is right but ${how}: ${task.find} is asked for ${task.tolerance}. Write another digit.`,
      ...slips.map(([, , words]) => `If yours is not rounded: ${words[0].toLowerCase()}${words.slice(1)}`)];
  }
  if (slips.length) return ["wrong", `${given} is not ${task.find}${slips.length > 1 ? "; two slips give it" : ""}.`, ...slips.map((slip) => slip[2])];
  const close = off <= Math.min(10 * task.within, 0.01 * Math.abs(task.due));
  const hint = close ? `It is near: carry another digit or two in each line. If that does not bring it, ${task.hint[0].toLowerCase()}${task.hint.slice(1)}` : task.hint;
  return ["wrong", `${given} is not ${task.find}, ${task.tolerance}.`, hint];
}

function basis(u, nodes) {                         // the weight of each place of a table in a value at u, -1 to 1
  const at = Array.from({ length: nodes }, (_, k) => Math.cos(Math.PI * (k + 0.5) / nodes));
  return at.map((a, k) => at.reduce((product, b, j) => (j === k ? product : product * (u - b) / (a - b)), 1));
}

function outcome(want, places) {                   // what a choice gives: the table read between its places
  let values = want.table;
  for (const which of want.moves) {
    const weights = basis(places[which], want.nodes), part = values.length / want.nodes;
    values = Array.from({ length: part }, (_, i) => weights.reduce((sum, weight, k) => sum + weight * values[k * part + i], 0));
  }
  return want.turned ? 1 / values[0] : values[0];
}

function checkChoice(task, texts) {
  const places = [];
  for (const [which, [name, low, high]] of task.move.entries()) {
    const read = readNumber(texts[which], "mm", name);
    if (read.why) return ["unreadable", read.why, `A value is expected here for ${task.move.map((one) => one[0]).join(" and ")}.`];
    const inside = read.values.find((one) => low <= one.value && one.value <= high);
    if (!inside) return ["wrong", `${name} = ${round(read.values[0].value, 6)} mm is out of reach: the bracket allows ${low} to ${high} mm.`];
    places.push((2 * inside.value - low - high) / (high - low));
  }
  const found = task.want.map((want) => {
    const value = outcome(want, places);
    const met = Math.abs(value - want.target) <= want.within;
    return [met, `${want.name} is now ${round(value, 4)} ${want.unit}, wanted ${want.target} within ${want.within} ${want.unit}`.replace(/ +/g, " ").trim()];
  });
  if (found.every(([met]) => met)) return ["right", ...found.map(([, words]) => words + ".")];
  return ["wrong", ...found.filter(([met]) => !met).map(([, words]) => words + ": missed."), ...found.filter(([met]) => met).map(([, words]) => words + ": met.")];
}

function check(task, texts) {
  if (texts.some((text) => !text.trim())) return ["blank", "Nothing has been answered here yet. Write your answer in the box, then press Check."];
  return task.kind === "number" ? checkNumber(task, texts[0]) : checkChoice(task, texts);
}

const HEADS = { right: "Right", wrong: "Not yet", unreadable: "Cannot be read", blank: "Still open" };

for (const form of document.querySelectorAll("form.answer")) {
  const task = dataOf(form), place = form.querySelector("[role=status]");
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const [kind, first, ...more] = check(task, [...form.querySelectorAll("input")].map((box) => box.value));
    const verdict = document.createElement("div"), head = document.createElement("strong");
    verdict.className = "verdict " + kind;
    head.textContent = `${task.key} ${HEADS[kind]}. `;
    for (const words of [first, ...more]) verdict.append(Object.assign(document.createElement("p"), { textContent: words }));
    verdict.firstChild.prepend(head);
    place.replaceChildren(verdict);
    for (const cell of document.querySelectorAll(".progress td")) if (cell.textContent === task.key) cell.nextElementSibling.textContent = HEADS[kind];
  });
}

// Guesses: never marked; the place further down repeats them.

for (const form of document.querySelectorAll("form.guess")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const guess = (event.submitter && event.submitter.value) || (form.elements.guess ? form.elements.guess.value.trim() : "");
    if (!guess) return;
    form.querySelector("[role=status]").textContent = `Your guess is kept on this page: ${guess}`;
    for (const place of document.querySelectorAll(".guessed")) place.textContent = `Your guess was ${guess}.`;
  });
}
