// What all charts share: a figure with its title, its drawing, its brush and the table behind it.
const Chart = (() => {
  /**
   * options: id, title, note, table: { columns, rows() } for the data table, clear() for the button
   * Returns { figure, drawing, controls, describe(text), brushed(bool), refresh() }.
   */
  function make({ id, title, note, table, clear }) {
    const drawing = Dom.svg("svg", { role: "img", class: "drawing" });
    const button = Dom.el("button", { type: "button", class: "quiet clear", "aria-label": Say.text("Clear: {title}", { title }) }, Say.text("Clear"));
    const controls = Dom.el("div", { class: "controls" });
    const data = Tables.details(Say.text("Numbers: {title}", { title }), table.name || id, table.columns, table.rows);
    const figure = Dom.el("figure", { id, class: "chart", "aria-labelledby": `${id}-title` },
      Dom.el("div", { class: "chart-head" }, Dom.el("h3", { id: `${id}-title` }, title), button),
      note ? Dom.el("p", { class: "note" }, note) : null, drawing, controls, data.node);
    button.addEventListener("click", clear);
    const brushed = (is) => (button.hidden = !is);
    brushed(false);
    return { figure, drawing, controls, brushed, describe: (text) => drawing.setAttribute("aria-label", text), refresh: data.refresh };
  }

  let keys = 0;

  /**
   * What the colours of a ramp stand for.
   * Returns { node, show(ramp, ticks) }: colours from the first end to the other, ticks [share of the way, text].
   */
  function key(title) {
    const id = `key-colours-${keys++}`, stops = Dom.svg("linearGradient", { id }), ends = Dom.el("span", { class: "key-ends" });
    const bar = Dom.svg("svg", { class: "key-bar", height: 12, "aria-hidden": "true" }, stops,
      Dom.svg("rect", { width: "100%", height: 12, fill: `url(#${id})` }));
    const node = Dom.el("p", { class: "scale key" }, Dom.el("span", { class: "scale-title" }, title), Dom.el("span", { class: "key-scale" }, bar, ends));
    let shown = "";
    function show(ramp, ticks) {
      const now = JSON.stringify([ramp[0], ramp.length, ticks]);
      if (now === shown) return;
      shown = now;
      stops.replaceChildren(...ramp.map((colour, i) => Dom.svg("stop", { offset: i / (ramp.length - 1), "stop-color": colour })));
      ends.replaceChildren(...ticks.map(([, text]) => Dom.el("span", null, text)));
    }
    return { node, show };
  }

  /** Set the drawing to a size; everything in it is drawn anew. */
  function clear(drawing, width, height) {
    drawing.setAttribute("viewBox", `0 0 ${width} ${height}`);
    drawing.setAttribute("height", height);
    drawing.replaceChildren();
  }

  /**
   * Lines and labels of an axis at the bottom: ticks are [position, text]. Texts that would touch are left out, and one
   * that would leave the drawing on the right is moved in.
   */
  function bottomAxis(ticks, y, rem, width) {
    const group = Dom.svg("g", { class: "axis" });
    let free = -Infinity;
    for (const [x, text] of ticks) {
      const half = text.length * rem * 0.24;
      group.append(Dom.svg("line", { x1: x, x2: x, y1: y, y2: y + rem * 0.3 }));
      const middle = Math.min(x, width - half);
      if (middle - half < free) continue;
      group.append(Dom.svg("text", { x: middle, y: y + rem * 1.25, "text-anchor": "middle" }, text));
      free = middle + half + rem * 0.5;
    }
    return group;
  }

  /**
   * Drag over a drawing to brush it. at(x, y) -> bin (any value); done(first bin, last bin) on every move;
   * tap(bin) where nothing was dragged.
   */
  function drag(drawing, at, done, tap) {
    let first = null, moved = false;
    const where = (event) => {
      const box = drawing.getBoundingClientRect(), view = drawing.viewBox.baseVal;
      return at(((event.clientX - box.left) * view.width) / box.width, ((event.clientY - box.top) * view.height) / box.height);
    };
    drawing.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      first = where(event);
      moved = false;
      drawing.setPointerCapture(event.pointerId);
      event.preventDefault();
    });
    drawing.addEventListener("pointermove", (event) => {
      if (first === null) return;
      const now = where(event);
      if (!moved && String(now) === String(first)) return;
      moved = true;
      done(first, now);
    });
    drawing.addEventListener("pointerup", () => {
      if (first !== null && !moved) tap(first);
      first = null;
    });
    drawing.addEventListener("pointercancel", () => (first = null));
  }

  return { make, clear, key, bottomAxis, drag };
})();
