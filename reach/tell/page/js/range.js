// A brush that works by keyboard: two native sliders laid over one track, under the axis that they belong to.
const Range = (() => {
  /**
   * options: label, size (bins), wraps (whether from may come after to), say(bin, end) -> text for a bin at an end
   * ("from" or "to"), change(range or null).
   * Returns { node, show(range), place(left, width) }: what to put in the page, how to follow the selection, and where
   * the track runs [px].
   */
  function make({ label, size, wraps = false, say, change }) {
    const slider = (end) => Dom.el("input", { type: "range", min: 0, max: size - 1, step: 1, "aria-label": `${label}, ${end === "from" ? Say.text("from") : Say.text("to")}` });
    const from = slider("from"), to = slider("to");
    const text = Dom.el("span", { class: "range-text" });
    const track = Dom.el("div", { class: "range-track" }, from, to);
    const node = Dom.el("div", { class: "range", role: "group", "aria-label": label }, track, text);

    function moved(mover) {
      let low = Number(from.value), high = Number(to.value);
      if (!wraps && low > high) mover === from ? (low = high) : (high = low);
      from.value = low; // at once: the next key press may come before the next frame
      to.value = high;
      change(low === 0 && high === size - 1 ? null : [low, high]);
    }
    from.addEventListener("input", () => moved(from));
    to.addEventListener("input", () => moved(to));

    function show(range) {
      const [low, high] = range || [0, size - 1];
      from.value = low;
      to.value = high;
      from.setAttribute("aria-valuetext", say(low, "from"));
      to.setAttribute("aria-valuetext", say(high, "to"));
      Dom.write(text, range ? Say.text("{low} to {high}", { low: say(low, "from"), high: say(high, "to") }) : "");
      node.classList.toggle("brushed", range !== null);
      // The thumb on top is the one that still has room to move, so that neither can be stuck under the other.
      from.classList.toggle("on-top", low === high && low > size / 2);
    }

    function place(left, width) {
      track.style.marginLeft = `${left}px`;
      track.style.width = `${width}px`;
    }

    return { node, show, place };
  }

  return { make };
})();
