// The pairs behind the comparison: differences by receiver against distance, and by stretch in order of time.
const Versus = (() => {
  const NAMES = { receivers: ["receiver", "locator", "distance km", "pairs", "weight", "difference dB", "low dB", "high dB"],
    blocks: ["from UTC", "to UTC", "setup", "reports", "pairs", "difference dB", "low dB", "high dB"] };
  const TEXT = new Set(["receiver", "locator", "from UTC", "to UTC", "setup"]);
  const columns = (key) => NAMES[key].map((name) => ({ name, number: !TEXT.has(name) }));
  const moment = (ms) => new Date(ms).toISOString().slice(0, 16).replace("T", " ");

  /** One figure of points with intervals; points: [{ x, value, low, high, size, setup, title }]. */
  function make({ id, title, note, key, rows, points, ticks, found }) {
    const data = Tables.details(`Numbers: ${title}`, id, columns(key), rows);
    const drawing = Dom.svg("svg", { role: "img", class: "drawing fixed", "aria-label": `${title}: ${Say.things(points.length, "point")}.` });
    const figure = Dom.el("figure", { id, class: "chart", "aria-labelledby": `${id}-title` },
      Dom.el("div", { class: "chart-head" }, Dom.el("h3", { id: `${id}-title` }, title)), Dom.el("p", { class: "note" }, note), drawing, data.node);

    function resize(width) {
      const rem = Dom.rem(), height = rem * 19, left = rem * 3.2, right = width - rem * 1.2, base = height - rem * 1.9, top = rem * 1.6;
      const most = Math.max(3, ...points.map((point) => Math.abs(point.value)), Math.abs(found.difference));
      const x = d3.scaleLinear(d3.extent(points, (point) => point.x), [left + rem, right - rem]), y = d3.scaleLinear([-most, most], [base, top]).nice(5);
      Chart.clear(drawing, width, height);
      const across = (value, name) => Dom.svg("line", { class: name, x1: left, x2: right, y1: y(value), y2: y(value) });
      if (found.low !== null) {
        drawing.append(Dom.svg("rect", { class: "headline", x: left, width: right - left, y: y(found.high), height: Math.max(1, y(found.low) - y(found.high)) }));
      }
      drawing.append(...y.ticks(6).flatMap((tick) => [across(tick, "grid"), Dom.svg("text", { x: left - rem * 0.4, y: y(tick) + rem * 0.3, "text-anchor": "end" }, String(tick).replace("-", "−"))]),
        across(0, "base zero"), across(found.difference, "headline-line"),
        Dom.svg("text", { class: "strong", x: left + rem * 0.3, y: top - rem * 0.5 }, `${found.a} stronger, dB`),
                Chart.bottomAxis(ticks(x), base, rem));
      const clamp = (value) => Math.max(y.domain()[0], Math.min(y.domain()[1], value));
      for (const point of points) {
        const group = Dom.svg("g", { class: `point ${point.value > 0 ? "a" : "b"}` }, Dom.svg("title", null, point.title));
        if (point.low !== null && points.length <= 80) group.append(Dom.svg("line", { x1: x(point.x), x2: x(point.x), y1: y(clamp(point.low)), y2: y(clamp(point.high)) }));
        const shape = point.square ? Dom.svg("rect", { x: x(point.x) - point.size, y: y(point.value) - point.size, width: 2 * point.size, height: 2 * point.size })
          : Dom.svg("circle", { cx: x(point.x), cy: y(point.value), r: point.size });
        group.append(shape);
        drawing.append(group);
      }
      drawing.append(Dom.svg("text", { class: "strong halo", x: left + rem * 0.3, y: base - rem * 0.4 }, `${found.b} stronger`));
    }

    return { figure, resize };
  }

  function byReceiver(found) {
    const placed = found.receivers.filter((row) => row[2] !== null), most = Math.max(...placed.map((row) => row[4]), 1e-9);
    return make({
      id: "by-receiver", title: "Difference by receiver", key: "receivers", rows: () => found.receivers, found,
      note: "Each dot is a receiver, its size the weight in the result; the band is the result with its interval.",
      points: placed.map(([call, locator, km, pairs, weight, value, low, high]) => ({
        x: km, value, low, high, size: 2.5 + 5 * Math.sqrt(weight / most), title: `${call} ${locator}: ${value} dB, ${pairs} pairs`,
      })),
      ticks: (x) => x.ticks(6).map((km) => [x(km), Say.km(km)]),
    });
  }

  function byBlock(found) {
    const rows = found.blocks.filter((row) => row[5] !== null);
    return make({
      id: "by-block", title: "Difference by stretch of time", key: "blocks", found,
      rows: () => found.blocks.map(([from, to, ...rest]) => [moment(from), moment(to), ...rest]),
      note: `Each mark is a stretch on one setup, with the scatter of its pairs: round for ${found.a}, square for ${found.b}.`,
      points: rows.map(([from, to, setup, , pairs, value, low, high]) => ({
        x: (from + to) / 2, value, low, high, size: 3.5, square: setup !== found.a, title: `${moment(from)} UTC, ${setup}: ${value} dB, ${pairs} pairs`,
      })),
      ticks: (x) => d3.scaleUtc(x.domain(), x.range()).ticks(5).map((date) => [x(date.getTime()), date.getUTCHours() || date.getUTCMinutes() ? date.toISOString().slice(11, 16) : Say.period(date.toISOString().slice(0, 10))]),
    });
  }

  /** The figures that have something to show. */
  function figures(found) {
    if (!found) return [];
    const some = (rows, at) => rows.filter((row) => row[at] !== null).length > 1;
    return [some(found.receivers, 2) ? byReceiver(found) : null, some(found.blocks, 5) ? byBlock(found) : null].filter(Boolean);
  }

  return { figures };
})();
