// The filters: bands, setups, and how far a locator must be trusted.
const Filters = (() => {
  const TRUST = [
    ["sound", Say.text("All but suspects"), Say.text("Every locator that nothing speaks against")],
    ["corroborated", Say.text("Corroborated only"), Say.text("Locators that something speaks for, such as the callsign's country")],
    ["all", Say.text("Suspects too"), Say.text("Locators that are probably wrong as well")],
  ];

  function choices(legend, kind, options) {
    const boxes = options.map(([value, label, type, title]) => {
      const input = Dom.el("input", { type: type || "checkbox", name: kind, value });
      return { input, node: Dom.el("label", { class: "choice", ...(title ? { title } : {}) }, input, Dom.el("span", null, label)) };
    });
    const node = Dom.el("fieldset", null, Dom.el("legend", null, legend), ...boxes.map((box) => box.node));
    return { node, inputs: boxes.map((box) => box.input) };
  }

  /** options: data, change(part). Returns { node, show(state) }. */
  function make({ data, change }) {
    const bands = choices(Say.text("Band"), "band", data.bands.map((name, i) => [i, name || Say.text("unknown")]));
    const setups = choices(Say.text("Setup"), "setup", data.setups.map((name, i) => [i, name || Say.text("not named")]));
    const trust = choices(Say.text("Locators"), "trust", TRUST.map(([value, label, title]) => [value, label, "radio", title]));
    const chosen = (group) => new Set(group.inputs.filter((input) => input.checked).map((input) => Number(input.value)));
    bands.node.addEventListener("change", () => change({ bands: chosen(bands) }));
    setups.node.addEventListener("change", () => change({ setups: chosen(setups) }));
    trust.node.addEventListener("change", (event) => change({ trust: event.target.value }));
    const reset = Dom.el("button", { type: "button", id: "reset", class: "quiet" }, Say.text("Reset everything"));
    reset.addEventListener("click", () => change(Selection.fresh(data)));
    const groups = [bands.node, data.setups.length > 1 ? setups.node : null, trust.node].filter(Boolean);
    const node = Dom.el("form", { class: "filters", "aria-label": Say.text("Filters") }, ...groups, reset);
    node.addEventListener("submit", (event) => event.preventDefault());

    function show(state) {
      bands.inputs.forEach((input, i) => (input.checked = state.bands.has(i)));
      setups.inputs.forEach((input, i) => (input.checked = state.setups.has(i)));
      trust.inputs.forEach((input) => (input.checked = input.value === state.trust));
    }

    return { node, show };
  }

  return { make };
})();
