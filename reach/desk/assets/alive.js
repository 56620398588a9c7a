// A sign of life while the page is open, and a word when there is nobody left to give it to.
document.documentElement.classList.add("live");
const gone = document.getElementById("gone");
async function sign() {
  try {
    await fetch("/alive", { method: "POST" });
    if (gone) gone.hidden = true;
  } catch {
    if (gone) gone.hidden = false;
  }
}
setInterval(sign, 20_000);
