// What a mark says, beside the pointer; for the keyboard beside the mark itself, and spoken.
const Tip = (() => {
  const GAP = 14;
  let node = null, saying = 0;

  /** Show a text at a place in the window [px], kept inside it; without a text, nothing. */
  function show(text, x, y) {
    if (!text) return hide();
    if (!node) document.body.append(node = Dom.el("div", { class: "tip", "aria-hidden": "true" }));
    Dom.write(node, text);
    node.hidden = false;
    const box = node.getBoundingClientRect(), right = x + GAP + box.width < document.documentElement.clientWidth;
    node.style.left = `${Math.max(4, right ? x + GAP : x - GAP - box.width)}px`;
    node.style.top = `${Math.max(4, y - GAP - box.height < 4 ? y + GAP : y - GAP - box.height)}px`;
    return undefined;
  }

  const hide = () => {
    if (node) node.hidden = true;
  };
  addEventListener("scroll", hide, { passive: true, capture: true });

  /** Told to screen readers when things have been still for a moment. */
  function announce(text) {
    clearTimeout(saying);
    saying = setTimeout(() => Dom.write(Dom.byId("spoken"), text), 400);
  }

  /**
   * Have every mark of a drawing speak, by pointer and by keyboard.
   *
   * marks: { at(x, y) -> key of the mark there or null, text(key), place(key) -> [x, y] in the drawing, node(key) -> its element
   * or null, first() -> key or null, step(key, dx, dy) -> key, tap(key) or nothing }; keys are told apart by their text.
   */
  function follow(drawing, marks) {
    let key = null, lit = null;
    const scale = () => {
      const box = drawing.getBoundingClientRect(), view = drawing.viewBox.baseVal;
      return { box, x: box.width / (view.width || 1), y: box.height / (view.height || 1) };
    };
    function light(next) {
      const now = next === null ? null : marks.node(next);
      if (now === lit) return;
      if (lit) lit.classList.remove("pointed");
      if (now) now.classList.add("pointed");
      lit = now;
    }
    function leave() {
      key = null;
      light(null);
      hide();
    }
    function go(next) {
      if (next === null) return leave();
      key = next;
      light(key);
      const { box, x, y } = scale(), [left, top] = marks.place(key);
      show(marks.text(key), box.left + left * x, box.top + top * y);
      return announce(marks.text(key));
    }
    drawing.setAttribute("tabindex", 0);
    drawing.setAttribute("role", "application");
    drawing.addEventListener("pointermove", (event) => {
      const { box, x, y } = scale(), over = marks.at((event.clientX - box.left) / x, (event.clientY - box.top) / y);
      light(over);
      show(over === null ? "" : marks.text(over), event.clientX, event.clientY);
    });
    drawing.addEventListener("pointerleave", leave);
    drawing.addEventListener("blur", leave);
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    drawing.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (event.key === "Escape") leave();
      else if (steps[event.key]) go(key === null ? marks.first() : marks.step(key, ...steps[event.key]));
      else if (marks.tap && key !== null && (event.key === "Enter" || event.key === " ")) marks.tap(key);
      else return;
      event.preventDefault();
    });
  }

  return { show, hide, announce, follow };
})();
