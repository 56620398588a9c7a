// Files dropped or chosen go up one by one, with how far each is; without this the form sends them.
const form = document.querySelector("form.drop");
const chooser = form.querySelector("input[type=file]");
const sending = form.querySelector(".sending");
const refused = form.querySelector(".refused");

function send(file) {
  return new Promise((done) => {
    const request = new XMLHttpRequest();
    request.open("PUT", form.dataset.drop + encodeURIComponent(file.name));
    request.upload.addEventListener("progress", (event) => {
      const percent = event.total ? Math.floor((100 * event.loaded) / event.total) : 0;
      sending.textContent = `${file.name}: ${percent} %`;
    });
    request.addEventListener("load", () => done(request.status === 204 ? "" : request.responseText || "It was not taken."));
    request.addEventListener("error", () => done(`${file.name}: could not be sent.`));
    request.send(file);
  });
}

async function sendAll(files) {
  refused.replaceChildren();
  let faults = 0;
  for (const file of files) {
    const fault = await send(file);
    if (!fault) continue;
    faults += 1;
    const item = document.createElement("li");
    item.className = "fault";
    item.textContent = fault;
    refused.append(item);
  }
  sending.textContent = "";
  chooser.value = "";
  if (!faults) location.reload();
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  sendAll([...chooser.files]);
});
for (const kind of ["dragenter", "dragover"]) {
  form.addEventListener(kind, (event) => { event.preventDefault(); form.classList.add("over"); });
}
form.addEventListener("dragleave", () => form.classList.remove("over"));
form.addEventListener("drop", (event) => {
  event.preventDefault();
  form.classList.remove("over");
  sendAll([...event.dataTransfer.files]);
});
