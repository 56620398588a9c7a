// What stands beside the fields, as one types: the server works it out. What is wrong is said once a field is left.
const form = document.getElementById("station");
const locator = document.getElementById("locator");
const position = document.getElementById("position");
let waiting = 0;
let asked = 0;

function shown(faults) {
  for (const span of form.querySelectorAll(".fault[id$='-fault']")) {
    const said = faults.get(span.id.slice(0, -"-fault".length)) ?? "";
    const field = document.getElementById(span.id.slice(0, -"-fault".length));
    span.hidden = !said;
    span.textContent = said;
    if (said) span.setAttribute("role", "alert");
    if (said) field?.setAttribute("aria-invalid", "true");
    else field?.removeAttribute("aria-invalid");
  }
}

async function ask(left) {
  const mine = (asked += 1);
  const answer = await fetch(form.dataset.beside, { method: "POST", body: new URLSearchParams(new FormData(form)) });
  if (!answer.ok || mine !== asked) return;
  const told = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of told.querySelectorAll("[data-beside]")) {
    const there = document.getElementById(part.id);
    if (there && there.innerHTML !== part.innerHTML) there.replaceChildren(...part.childNodes);
  }
  const found = document.getElementById("place-locator");
  if (position.value.trim() && found) locator.value = found.textContent;
  if (left) {
    // A name that is still to be written is no fault yet.
    const faults = [...told.querySelectorAll("#faults li")].filter((each) => document.getElementById(each.dataset.field)?.value);
    shown(new Map(faults.map((each) => [each.dataset.field, each.textContent])));
  }
}

form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(ask, 250, false);
});
form.addEventListener("change", () => {
  clearTimeout(waiting);
  ask(true);
});
