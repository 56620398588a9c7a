// The pairs behind the comparison: differences by receiver against distance, and by stretch in order of time.
const Versus = (() => {
  const MOST_WHISKERS = 80; // with more points than this their own intervals would hide them
  const NAMES = {
    receivers: ["receiver", "locator", "distance km", "pairs", "weight", "difference dB", "low dB", "high dB"],
    blocks: ["from UTC", "to UTC", "setup", "reports", "pairs", "difference dB", "low dB", "high dB"],
  };
  const TEXT = new Set(["receiver", "locator", "from UTC", "to UTC", "setup"]);
  const columns = (key) => NAMES[key].map((name) => ({ name: name === "receiver" ? Say.words.far : Say.text(name), number: !TEXT.has(name) }));
  /** A difference, its interval, and the pairs behind it: what a mark says. */
  function told(value, low, high, pairs) {
    const interval = low === null ? "" : ` (${Say.text("{low} to {high}", { low: Say.signed(low), high: Say.signed(high) })}${Say.THIN}dB)`;
    return `${Say.signed(value)}${Say.THIN}dB${interval}, ${Say.things(pairs, "pair")}`;
  }
  const moment = (ms) => new Date(ms).toISOString().slice(0, 16).replace("T", " ");

  /**
   * One figure of points with intervals.
   * options: id, title, note, key (of NAMES), rows() of the table, points: [{ x, value, low, high, size, square, title }],
   * ticks(scale) -> [[px, text]], found: { a, b, difference, low, high }
   * Returns { figure, resize(width) }.
   */
  function make({ id, title, note, key, rows, points, ticks, found }) {
    const data = Tables.details(Say.text("Numbers: {title}", { title }), id, columns(key), rows);
    const says = `${title}: ${Say.things(points.length, "point")}.`;
    const drawing = Dom.svg("svg", { class: "drawing fixed", "aria-label": says });
    const across = [...points.keys()].sort((a, b) => points[a].x - points[b].x); // the keyboard steps from left to right
    let marks = [], places = [];
    Tip.follow(drawing, {
      at: (x, y) => {
        const far = (i) => Math.hypot(places[i][0] - x, places[i][1] - y), near = d3.least(places.keys(), far);
        return near !== undefined && far(near) < 18 ? near : null;
      },
      text: (i) => points[i].title, place: (i) => places[i], node: (i) => marks[i], first: () => across[0] ?? null,
      step: (i, dx, dy) => across[Math.max(0, Math.min(across.length - 1, across.indexOf(i) + dx - dy))],
    });
    const figure = Dom.el("figure", { id, class: "chart", "aria-labelledby": `${id}-title` },
      Dom.el("div", { class: "chart-head" }, Dom.el("h3", { id: `${id}-title` }, title)),
      Dom.el("p", { class: "note" }, note), drawing, data.node);

    function resize(width) {
      const rem = Dom.rem(), box = { left: rem * 3.2, right: width - rem * 1.2, top: rem * 1.6, base: rem * 17.1 };
      const most = Math.max(3, ...points.map((point) => Math.abs(point.value)), Math.abs(found.difference));
      const x = d3.scaleLinear(d3.extent(points, (point) => point.x), [box.left + rem, box.right - rem]);
      const y = d3.scaleLinear([-most, most], [box.base, box.top]).nice(5);
      Chart.clear(drawing, width, rem * 19);
      places = points.map((point) => [x(point.x), y(point.value)]);
      marks = points.map((point) => mark(point, x, y, points.length));
      const label = (name, at, text) => Dom.svg("text", { class: name, x: box.left + rem * 0.3, y: at }, text);
      drawing.append(...scale(found, y, box, rem), label("strong", box.top - rem * 0.5, `${found.a} ${Say.words.better}, dB`),
        Chart.bottomAxis(ticks(x), box.base, rem, width), ...marks,
        label("strong halo", box.base - rem * 0.4, `${found.b} ${Say.words.better}`));
    }

    return { figure, resize };
  }

  /** Grid, zero and the result with its interval. */
  function scale(found, y, { left, right }, rem) {
    const across = (value, name) => Dom.svg("line", { class: name, x1: left, x2: right, y1: y(value), y2: y(value) });
    const number = (tick) => Dom.svg("text", { x: left - rem * 0.4, y: y(tick) + rem * 0.3, "text-anchor": "end" },
      String(tick).replace("-", "\u2212"));
    const band = found.low === null ? [] : [Dom.svg("rect", {
      class: "headline", x: left, width: right - left, y: y(found.high), height: Math.max(1, y(found.low) - y(found.high)),
    })];
    return [...band, ...y.ticks(6).flatMap((tick) => [across(tick, "grid"), number(tick)]), across(0, "base zero"),
      across(found.difference, "headline-line")];
  }

  function mark(point, x, y, points) {
    const [bottom, top] = y.domain(), clamp = (value) => y(Math.max(bottom, Math.min(top, value)));
    const at = { x: x(point.x), y: y(point.value) }, { size } = point;
    const whisker = point.low === null || points > MOST_WHISKERS ? null
      : Dom.svg("line", { x1: at.x, x2: at.x, y1: clamp(point.low), y2: clamp(point.high) });
    const shape = point.square ? Dom.svg("rect", { x: at.x - size, y: at.y - size, width: 2 * size, height: 2 * size })
      : Dom.svg("circle", { cx: at.x, cy: at.y, r: size });
    return Dom.svg("g", { class: `point ${point.value > 0 ? "a" : "b"}` }, whisker, shape, ...cut(point, at.x, y, whisker));
  }

  /** An arrow where a whisker goes on beyond the scale. */
  function cut(point, x, y, whisker) {
    if (!whisker) return [];
    const [bottom, top] = y.domain(), arrow = (value, way) => Dom.svg("path", {
      class: "cut", d: `M${x - 4},${y(value) + 6 * way}L${x},${y(value)}L${x + 4},${y(value) + 6 * way}Z`,
    });
    return [point.high > top ? arrow(top, 1) : null, point.low < bottom ? arrow(bottom, -1) : null];
  }

  function byReceiver(found) {
    const placed = found.receivers.filter((row) => row[2] !== null), most = Math.max(...placed.map((row) => row[4]), 1e-9);
    const some = found.receivers.length, all = found.receivers_in_all, nowhere = some - placed.length;
    return make({
      id: "by-receiver", title: Say.text("Difference by {far}", Say.words), key: "receivers", rows: () => found.receivers, found,
      note: Say.text("Each dot is a {far}, its size the weight in the result; the band is the result with its interval.", Say.words) +
        (some < all ? Say.text(" These are the {some} with most weight of {all}.", { some, all: Say.count(all) }) : "") +
        (nowhere ? Say.text(" Not drawn: {receivers} whose place nothing confirms.", { receivers: Say.fars(nowhere) }) : ""),
      points: placed.map(([call, locator, km, pairs, weight, value, low, high]) => ({
        x: km, value, low, high, size: 2.5 + 5 * Math.sqrt(weight / most), title: `${Say.text("{call} in {locator}", { call, locator })}, ${Say.km(km)}: ${told(value, low, high, pairs)}`,
      })),
      ticks: (x) => x.ticks(6).map((km) => [x(km), Say.km(km)]),
    });
  }

  function byBlock(found) {
    const rows = found.blocks.filter((row) => row[5] !== null);
    const name = (date) => (date.getTime() % 86400000 ? date.toISOString().slice(11, 16) : Say.period(date.toISOString().slice(0, 10)));
    return make({
      id: "by-block", title: Say.text("Difference by stretch of time"), key: "blocks", found,
      rows: () => found.blocks.map(([from, to, ...rest]) => [moment(from), moment(to), ...rest]),
      note: Say.text("Each mark is a stretch on one setup, with the scatter of its pairs: round for {a}, square for {b}.", found),
      points: rows.map(([from, to, setup, , pairs, value, low, high]) => ({
        x: (from + to) / 2, value, low, high, size: 3.5, square: setup !== found.a,
        title: `${moment(from)} UTC${Say.besideAt(from)}, ${setup}: ${told(value, low, high, pairs)}`,
      })),
      ticks: (x) => d3.scaleUtc(x.domain(), x.range()).ticks(5).map((date) => [x(date.getTime()), name(date)]),
    });
  }

  /** The figures that have something to show. */
  function figures(found) {
    if (!found) return [];
    const several = (rows, at) => rows.filter((row) => row[at] !== null).length > 1;
    return [several(found.receivers, 2) ? byReceiver(found) : null, several(found.blocks, 5) ? byBlock(found) : null].filter(Boolean);
  }

  return { figures };
})();
