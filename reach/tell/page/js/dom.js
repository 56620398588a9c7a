// Elements from tag, attributes and children. Children that are text become text nodes, so no text is ever read as
// markup; this is the only way that the page makes elements.
const Dom = (() => {
  const SVG = "http://www.w3.org/2000/svg";

  function fill(node, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value !== null && value !== undefined && value !== false) node.setAttribute(name, value === true ? "" : value);
    }
    node.append(...children.filter((child) => child !== null && child !== undefined));
    return node;
  }

  const el = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
  const svg = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
  const byId = (id) => document.getElementById(id);

  /** Write text only where it differs, so that a screen reader is not told the same thing twice. */
  function write(node, text) {
    if (node.textContent !== text) node.textContent = text;
  }

  /** Set an attribute only where it differs: what is written anew is painted anew. */
  function set(node, name, value) {
    const text = String(value);
    if (node.getAttribute(name) !== text) node.setAttribute(name, text);
  }

  let size = 16, family = "sans-serif", high = 9.5;

  /** Look up the size of the root font and the family of the page's. Asking the browser costs a layout, so once. */
  function measure() {
    size = parseFloat(getComputedStyle(document.documentElement).fontSize);
    family = getComputedStyle(document.body).fontFamily;
    high = parseFloat(getComputedStyle(byId("charts")).getPropertyValue("--tall")) || high;
  }

  /** Size of the root font in px: the unit of margins and tick labels. */
  const rem = () => size;
  /** How tall a chart is in rem, as the style sheet has it for the room there is. */
  const tall = () => high;
  /** A font for a canvas, its size in rem. */
  const font = (rems, weight = 400) => `${weight} ${size * rems}px ${family}`;

  /** Act once, when the node comes near the window or the page is printed: what nobody looks at is not drawn. */
  function whenSeen(node, act) {
    const once = () => {
      watcher.disconnect();
      removeEventListener("beforeprint", once);
      act();
    };
    const watcher = new IntersectionObserver((entries) => entries.some((entry) => entry.isIntersecting) && once(), { rootMargin: "500px" });
    watcher.observe(node);
    addEventListener("beforeprint", once);
  }

  return { el, svg, byId, write, set, measure, rem, tall, font, whenSeen };
})();
