// Light or dark: the reader's choice, else the system's; paper is always light.
const Theme = (() => {
  const dark = matchMedia("(prefers-color-scheme: dark)"), calm = matchMedia("(prefers-reduced-motion: reduce)");
  let printing = false, listeners = [];

  const name = () => {
    if (printing) return "light";
    const asked = document.documentElement.dataset.theme;
    return asked === "light" || asked === "dark" ? asked : dark.matches ? "dark" : "light";
  };
  const tell = () => listeners.forEach((listener) => listener());

  function start(chooser) {
    chooser.addEventListener("change", () => {
      document.documentElement.dataset.theme = chooser.value;
      tell();
    });
    dark.addEventListener("change", tell);
    const print = (is) => () => {
      printing = is;
      tell();
    };
    addEventListener("beforeprint", print(true));
    addEventListener("afterprint", print(false));
  }

  /** Whether the reader asked for little movement. */
  const still = () => calm.matches;

  return { name, start, still, printing: () => printing, listen: (listener) => listeners.push(listener) };
})();
