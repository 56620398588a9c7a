// Painting: it writes rows into the table, which is what is kept. Times are UTC; a strip has cells of five minutes.
const STEP = 5;
const area = document.getElementById("painting");
const body = document.querySelector("#rows tbody");
const template = document.getElementById("row");
const status = document.getElementById("painted");
const undo = document.getElementById("undo");
const box = document.querySelector("form.drop");
const past = [];

const two = (number) => String(number).padStart(2, "0");
const when = (text) => (/^\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)?$/.test(text) ? Date.parse(text.replace(" ", "T") + "Z") / 60000 : NaN);
function written(minutes) {
  const at = new Date(Math.round(minutes * 60000));
  const seconds = at.getUTCSeconds();
  return `${at.toISOString().slice(0, 10)} ${two(at.getUTCHours())}:${two(at.getUTCMinutes())}${seconds ? ":" + two(seconds) : ""}`;
}

function lines() {
  const found = [];
  for (const start of body.querySelectorAll("input[name^='start-']")) {
    const k = start.name.slice(6);
    const value = (name) => body.querySelector(`[name='${name}-${k}']`).value.trim();
    if (body.querySelector(`[name='out-${k}']`).checked) continue;
    const row = { start: value("start"), end: value("end"), setup: value("setup") };
    if (row.start || row.end || row.setup) found.push(row);
  }
  return found;
}

function fill(rows) {
  body.replaceChildren();
  const blank = { start: "", end: "", setup: "" };
  [...rows, blank, blank, blank].forEach((row, index) => {
    const line = template.content.querySelector("tr").cloneNode(true);
    const k = index + 1;
    line.cells[0].textContent = k;
    for (const field of line.querySelectorAll("input, select")) {
      const name = field.name.split("-")[0];
      field.name = `${name}-${k}`;
      if (field.type === "checkbox") continue;
      field.id = field.name;
      field.setAttribute("aria-label", `${name} of row ${k}`);
      if (field.tagName === "SELECT" && ![...field.options].some((each) => each.value === row[name])) field.add(new Option(row[name]));
      field.value = row[name];
    }
    line.querySelector(".unseen").textContent = ` row ${k}`;
    body.append(line);
  });
}

function paint(day, from, to, setup) {
  past.push(lines());
  const low = Date.parse(`${day}T00:00Z`) / 60000 + from;
  let added = { low, high: low - from + to, setup };
  const kept = [];
  const odd = [];
  for (const row of past.at(-1)) {
    const one = { low: when(row.start), high: when(row.end), setup: row.setup };
    if (!(one.low < one.high)) odd.push(row);
    else if (setup && one.setup === setup && one.low <= added.high && one.high >= added.low) {
      added = { low: Math.min(one.low, added.low), high: Math.max(one.high, added.high), setup };
    } else kept.push(one);
  }
  const cut = kept.flatMap((one) => [
    { ...one, high: Math.min(one.high, added.low) },
    { ...one, low: Math.max(one.low, added.high) },
  ]).filter((one) => one.low < one.high);
  if (setup) cut.push(added);
  cut.sort((one, other) => one.low - other.low);
  fill([...cut.map((one) => ({ start: written(one.low), end: written(one.high), setup: one.setup })), ...odd]);
  status.textContent = `${day}, ${clock(from)} to ${clock(to)}: ${setup || "nothing"}. Not kept yet.`;
  undo.disabled = false;
  draw();
}

const clock = (minutes) => `${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
const setups = () => [...area.querySelectorAll("input[name=brush]")].map((each) => each.value).filter(Boolean);
const brush = () => area.querySelector("input[name=brush]:checked").value;

function draw() {
  const rows = lines().map((row) => ({ low: when(row.start), high: when(row.end), setup: row.setup }));
  const names = setups();
  for (const strip of area.querySelectorAll(".strip")) {
    const midnight = Date.parse(`${strip.dataset.day}T00:00Z`) / 60000;
    const shapes = rows.flatMap(({ low, high, setup }) => {
      const lane = names.indexOf(setup);
      const [from, to] = [Math.max(low - midnight, 0), Math.min(high - midnight, 1440)];
      if (lane < 0 || !(from < to)) return [];
      const shape = document.createElementNS("http://www.w3.org/2000/svg", "rect");
      const place = { class: `s${lane % 8}`, x: from - first, y: 63 + 14 * lane, width: to - from, height: 12 };
      for (const [name, value] of Object.entries(place)) shape.setAttribute(name, value);
      return [shape];
    });
    strip.querySelector(".blocks").replaceChildren(...shapes);
  }
}

const first = area ? 60 * Number(area.dataset.from) : 0;
const last = area ? 60 * Number(area.dataset.to) : 0;

function prepare(strip) {
  const svg = strip.querySelector("svg");
  const marked = strip.querySelector(".marked");
  const counts = strip.dataset.counts.split(",").map(Number);
  let at = counts.findIndex((count, k) => count && k * STEP >= first);
  at = at < 0 ? first : at * STEP;
  let from = at;
  let drawing = false;
  svg.removeAttribute("role");
  svg.removeAttribute("aria-label");
  svg.setAttribute("aria-hidden", "true");
  const told = { role: "slider", tabindex: 0, "aria-label": `Strip of ${strip.dataset.day}`, "aria-describedby": "how", "aria-valuemin": first, "aria-valuemax": last };
  for (const [name, value] of Object.entries(told)) strip.setAttribute(name, value);

  const range = () => [Math.min(from, at), Math.max(from, at) + STEP];
  function show() {
    const [low, high] = range();
    marked.setAttribute("x", low - first);
    marked.setAttribute("width", high - low);
    const reports = counts.slice(low / STEP, high / STEP).reduce((sum, count) => sum + count, 0);
    const midnight = Date.parse(`${strip.dataset.day}T00:00Z`) / 60000;
    const on = lines().find((row) => when(row.start) <= midnight + at && midnight + at < when(row.end));
    strip.setAttribute("aria-valuenow", at);
    strip.setAttribute("aria-valuetext", `${clock(low)} to ${clock(high)}, ${reports} report${reports === 1 ? "" : "s"}, ${on ? on.setup : "nothing on"}`);
  }
  function done(setup) {
    const [low, high] = range();
    paint(strip.dataset.day, low, high, setup);
    from = at;
    show();
  }
  function cell(event) {
    const place = svg.getBoundingClientRect();
    const minutes = first + ((event.clientX - place.left) / place.width) * (last - first);
    return Math.max(first, Math.min(last - STEP, Math.floor(minutes / STEP) * STEP));
  }
  svg.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    svg.setPointerCapture(event.pointerId);
    drawing = true;
    from = at = cell(event);
    show();
  });
  svg.addEventListener("pointermove", (event) => {
    if (!drawing) return;
    at = cell(event);
    show();
  });
  svg.addEventListener("pointerup", () => {
    if (drawing) done(brush());
    drawing = false;
  });
  svg.addEventListener("pointercancel", () => { drawing = false; });
  strip.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const moves = { ArrowLeft: at - STEP, ArrowRight: at + STEP, Home: first, End: last - STEP, PageUp: at - 60, PageDown: at + 60 };
    const all = [...area.querySelectorAll(".strip")];
    const number = /^[1-9]$/.test(event.key) ? setups()[Number(event.key) - 1] : undefined;
    if (event.key in moves) {
      at = Math.max(first, Math.min(last - STEP, moves[event.key]));
      if (!event.shiftKey) from = at;
      show();
    } else if (event.key === "ArrowUp" || event.key === "ArrowDown") {
      all[all.indexOf(strip) + (event.key === "ArrowUp" ? -1 : 1)]?.focus();
    } else if (event.key === "Enter") done(brush());
    else if (["0", "Delete", "Backspace"].includes(event.key)) done("");
    else if (number !== undefined) done(number);
    else return;
    event.preventDefault();
  });
  show();
  marked.setAttribute("width", 0);
  strip.addEventListener("focus", show);
  strip.addEventListener("blur", () => marked.setAttribute("width", 0));
}

if (area) {
  for (const strip of area.querySelectorAll(".strip")) prepare(strip);
  body.addEventListener("change", draw);
  undo.addEventListener("click", () => {
    fill(past.pop());
    undo.disabled = !past.length;
    status.textContent = "Undone. Not kept yet.";
    draw();
  });
}
for (const kind of ["dragenter", "dragover"]) {
  box.addEventListener(kind, (event) => { event.preventDefault(); box.classList.add("over"); });
}
box.addEventListener("dragleave", () => box.classList.remove("over"));
box.addEventListener("drop", (event) => {
  event.preventDefault();
  box.classList.remove("over");
  document.getElementById("log").files = event.dataTransfer.files;
  box.requestSubmit();
});
