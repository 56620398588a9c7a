// How far each thing that is being made is, as the server tells it; when one is ready the page is asked for again.
for (const box of document.querySelectorAll("[data-events]")) {
  const step = box.querySelector(".step");
  const bar = box.querySelector("progress");
  const events = new EventSource(box.dataset.events);
  events.addEventListener("message", (event) => {
    const [, done, usual, what] = event.data.match(/^(\d+) (\d+) (.*)$/);
    step.textContent = what;
    if (Number(usual) > 0) {
      bar.max = Number(usual);
      bar.value = Math.min(Number(done), Number(usual));
    }
  });
  events.addEventListener("end", () => { events.close(); location.reload(); });
}
