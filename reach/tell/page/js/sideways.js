// Tables that are wider than their room: a line says that they go on, and an edge shows on which side.
const Sideways = (() => {
  function look(box, note) {
    const room = box.scrollWidth - box.clientWidth, at = box.scrollLeft; // asked for before the edges change them
    box.classList.toggle("more-right", room > 1 && at < room - 1);
    box.classList.toggle("more-left", room > 1 && at > 1);
    note.hidden = room <= 1;
  }

  /** Watch a box that scrolls, which stands in the page. */
  function watch(box) {
    const note = Dom.el("p", { class: "note sideways" }, `\u2190 \u2192 ${Say.text("This table is wider than the page: scroll it sideways, or use the arrow keys.")}`);
    note.hidden = true;
    box.before(note);
    const again = () => look(box, note);
    box.addEventListener("scroll", again, { passive: true });
    new ResizeObserver(again).observe(box);
  }

  return { watch };
})();
