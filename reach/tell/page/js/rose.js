// Reports by bearing from the station: petals whose area is the number of reports, with a brush round the rim.
const Rose = (() => {
  /** options: data, change(range). Returns { figure, resize(width), update(counts, range) }. */
  function make({ data, change }) {
    const size = data.sectors, step = data.sector_deg, NAMES = { 0: Say.text("N"), 90: Say.text("E"), 180: Say.text("S"), 270: Say.text("W") };
    let counts = new Uint32Array(size), range = null, layout = null, petals = [], rings = null, labels = null, arc = null, named = null;
    const chart = Chart.make({
      id: "bearing", title: Say.words.heard ? Say.text("Where from: bearing") : Say.text("Where to: bearing"), clear: () => change(null),
      note: Say.text("Area is reports. An empty sector can also mean that {nobody}.", Say.words),
      table: {
        columns: [{ name: Say.text("bearing") }, { name: Say.text("reports"), number: true }],
        rows: () => Array.from(counts, (count, i) => [Say.sector(i, step), count]),
      },
    });
    const low = (bin) => (bin * step - step / 2 + 360) % 360;
    const brush = Range.make({
      label: Say.text("Bearing"), size, wraps: true, change,
      say: (bin, end) => `${end === "from" ? low(bin) : low(bin + 1)}°`,
    });
    chart.controls.append(brush.node);

    const sectorAt = (x, y) => {
      const angle = (Math.atan2(x - layout.x, layout.y - y) * 180) / Math.PI;
      return Math.floor((angle + 360) / step + 0.5) % size;
    };
    /** From a to b the short way round. */
    function dragged(a, b) {
      const clockwise = (b - a + size) % size <= size / 2;
      const found = clockwise ? [a, b] : [b, a];
      change((found[1] - found[0] + size) % size === size - 1 ? null : found);
    }
    const tap = (bin) => change(range && range[0] === bin && range[1] === bin ? null : [bin, bin]);
    Chart.drag(chart.drawing, sectorAt, dragged, tap);
    Tip.follow(chart.drawing, {
      tap, node: (bin) => petals[bin], first: () => Math.max(0, d3.maxIndex(counts)),
      at: (x, y) => (Math.hypot(x - layout.x, y - layout.y) < layout.radius + layout.rem * 1.6 ? sectorAt(x, y) : null),
      text: (bin) => `${Say.sector(bin, step)}: ${Say.things(counts[bin], "report")}`,
      place: (bin) => Object.values(at(bin * step, layout.radius * 0.8)),
      step: (bin, dx, dy) => (bin + (dx || dy) + size) % size,
    });

    function resize(width) {
      const rem = Dom.rem(), height = Math.round(Math.min(width * 0.85, rem * Dom.tall() * 1.6));
      layout = { rem, x: width / 2, y: height / 2, radius: height / 2 - rem * 1.7 };
      Chart.clear(chart.drawing, width, height);
      rings = Dom.svg("g", { class: "axis" });
      labels = Dom.svg("g");
      named = null;
      petals = Array.from(counts, () => Dom.svg("path", { class: "bar" }));
      arc = Dom.svg("path", { class: "rim" });
      const names = d3.range(0, 360, 30).map((deg) => Dom.svg("text", {
        class: NAMES[deg] ? "row-name strong" : "row-name", "text-anchor": "middle", ...at(deg, layout.radius + rem * 0.95, rem * 0.32),
      }, NAMES[deg] || `${deg}°`));
      chart.drawing.append(rings, ...petals, arc, labels, ...names);
      brush.place(rem * 0.5, Math.max(rem * 8, width - rem));
      draw();
    }

    const at = (deg, radius, down = 0) => ({
      x: layout.x + radius * Math.sin((deg * Math.PI) / 180), y: layout.y - radius * Math.cos((deg * Math.PI) / 180) + down,
    });

    function draw() {
      const most = Math.max(1, d3.max(counts)), { x, y, rem, radius } = layout;
      const scale = d3.scaleSqrt([0, most], [0, radius]);
      const shape = d3.arc().innerRadius(0).cornerRadius(2);
      petals.forEach((petal, i) => {
        const middle = (i * step * Math.PI) / 180, half = ((step / 2 - 1) * Math.PI) / 180;
        petal.setAttribute("d", shape({ outerRadius: scale(counts[i]), startAngle: middle - half, endAngle: middle + half }));
        petal.setAttribute("transform", `translate(${x},${y})`);
        petal.classList.toggle("out", !Selection.holds(range, i));
      });
      const levels = d3.scaleLinear([0, most], [0, 1]).ticks(3).filter((tick) => tick > 0 && Number.isInteger(tick) && scale(tick) > rem * 2);
      if (levels.join() !== named) { // letters cost the most of a frame
        rings.replaceChildren(...[radius, ...levels].map(() => Dom.svg("circle", { class: "grid", cx: x, cy: y, r: radius })));
        labels.replaceChildren(...levels.map((tick) => Dom.svg("text", { class: "faint", "text-anchor": "middle" }, Say.count(tick))));
        named = levels.join();
      }
      levels.forEach((tick, i) => {
        const place = at(step / 2, scale(tick), rem * 0.3);
        Dom.set(rings.children[i + 1], "r", scale(tick));
        Dom.set(labels.children[i], "x", place.x);
        Dom.set(labels.children[i], "y", place.y);
      });
      if (!range) return arc.setAttribute("d", "");
      const from = low(range[0]), wide = ((range[1] - range[0] + size) % size + 1) * step;
      arc.setAttribute("d", d3.arc()({
        innerRadius: radius + 1, outerRadius: radius + 5, startAngle: (from * Math.PI) / 180, endAngle: ((from + wide) * Math.PI) / 180,
      }));
      arc.setAttribute("transform", `translate(${x},${y})`);
    }

    function update(newCounts, newRange) {
      counts = newCounts;
      range = newRange;
      draw();
      brush.show(range);
      chart.brushed(range !== null);
      const peak = d3.maxIndex(counts);
      chart.describe(Say.text("Reports by bearing: rose of {size} sectors; most, {count}, from {sector}.", { size, count: Say.count(counts[peak] || 0), sector: Say.sector(peak, step) }));
      chart.refresh();
    }

    return { figure: chart.figure, resize, update };
  }

  return { make };
})();
