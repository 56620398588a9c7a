// Reports by hour of the day, in all and by day (or month): bars above, a grid below, two brushes.
const Clockface = (() => {
  const SHARP = 2; // dots of the canvas to one px: it is printed as well

  /**
   * options: data, change(part of the selection), look() -> { colours, counts }, the latter from few to many.
   * Returns { figure, resize(width), update(counts, state), time(minutes or null) }.
   */
  function make({ data, change, look }) {
    const periods = data.period.names.length, unit = data.period.unit;
    const size = 24 * Math.max(periods, 1);
    let counts = new Uint32Array(size), hour = null, period = null, layout = null, bars = [], frames = [], hand = null, mark = null;
    const chart = Chart.make({
      id: "when", title: unit === "day" ? Say.text("When: hour and day") : Say.text("When: hour and month"), note: Say.hourNamed(), clear: () => change({ hour: null, period: null }),
      table: {
        columns: [{ name: unit === "day" ? Say.text("day") : Say.text("month") }, { name: Say.text("hour UTC"), number: true }, { name: Say.text("reports"), number: true }],
        rows: () => Array.from(counts, (count, i) => [data.period.names[Math.floor(i / 24)], i % 24, count]).filter((row) => row[2]),
      },
    });
    // Cells lie on a canvas below the drawing: a thousand elements that all change their colour would lag behind a brush.
    const cells = Dom.el("canvas", { class: "cells", "aria-hidden": "true" }), pen = cells.getContext("2d"), layers = Dom.el("div", { class: "layers" });
    chart.drawing.replaceWith(layers);
    layers.append(cells, chart.drawing);
    const hours = Range.make({
      label: Say.text("Hour of the day, UTC"), size: 24, wraps: true, change: (range) => change({ hour: range }),
      say: (bin, end) => `${Say.two(end === "from" ? bin : (bin + 1) % 24)}:00`,
    });
    const days = Range.make({
      label: unit === "day" ? Say.text("Day") : Say.text("Month"), size: Math.max(periods, 1), change: (range) => change({ period: range }),
      say: (bin) => Say.period(data.period.names[bin] || ""),
    });
    const key = Chart.key(Say.text("Reports an hour"));
    chart.controls.append(hours.node);
    if (periods > 1) {
      const named = Dom.el("div", { class: "named-range" }, Dom.el("span", { "aria-hidden": "true" }, unit === "day" ? Say.text("Days") : Say.text("Months")), days.node);
      chart.controls.append(named);
    }
    chart.controls.append(key.node);

    const clamp = (value, most) => Math.max(0, Math.min(most, value));
    const cellAt = (x, y) => [
      clamp(Math.floor(((x - layout.left) / layout.wide) * 24), 23),
      y < layout.grid ? -1 : clamp(Math.floor((y - layout.grid) / layout.row), periods - 1),
    ];
    const sorted = (a, b) => [Math.min(a, b), Math.max(a, b)];
    function brush(a, b) {
      const rows = a[1] < 0 || b[1] < 0 ? null : Selection.within(sorted(a[1], b[1]), periods);
      change({ hour: Selection.within(sorted(a[0], b[0]), 24), period: rows });
    }
    const tap = (cell) => brush(cell, cell);
    Chart.drag(chart.drawing, cellAt, brush, tap);
    const inHour = (h) => d3.sum(d3.range(periods), (p) => counts[p * 24 + h]);
    Tip.follow(chart.drawing, {
      at: cellAt, tap, node: ([h, p]) => (p < 0 ? bars[h] : marked(h, p)), first: () => [Math.max(0, d3.maxIndex(d3.range(24).map(inHour))), -1],
      text: ([h, p]) => `${p < 0 ? "" : `${Say.period(data.period.names[p])}, `}${Say.text("{low} to {high}", { low: `${Say.two(h)}:00`, high: `${Say.two((h + 1) % 24)}:00` })} UTC${Say.beside(h * 60, h * 60 + 60)}: ` +
        Say.things(p < 0 ? inHour(h) : counts[p * 24 + h], "report"),
      place: ([h, p]) => [layout.left + (layout.wide * (h + 0.5)) / 24, p < 0 ? layout.barTop : layout.grid + layout.row * p],
      step: ([h, p], dx, dy) => [clamp(h + dx, 23), Math.max(-1, Math.min(periods - 1, p + dy))],
    });

    function resize(width) {
      const rem = Dom.rem(), clocks = Say.clocks(), left = rem * ((unit === "day" ? 4.2 : 5.2) + (clocks.length ? 1.4 : 0)), wide = width - left - rem * 1.2;
      const row = clamp((rem * 15) / Math.max(periods, 1), rem * Math.max(1.4, Dom.tall() * 0.15)), least = Math.max(row, rem * 0.42);
      const grid = rem * Math.max(4.6, Dom.tall() * 0.5), height = grid + least * periods + rem * (1.8 + 1.2 * Math.max(0, clocks.length - 1));
      layout = { rem, left, wide, grid, row: least, height, barBase: grid - rem * 0.35, barTop: rem * 0.9 };
      Chart.clear(chart.drawing, width, height);
      const x = (h) => left + (wide * h) / 24;
      const deep = least * periods, share = (part, whole) => `${(100 * part) / whole}%`; // of the drawing, which paper scales
      cells.width = Math.round(SHARP * wide);
      cells.height = Math.round(SHARP * deep);
      Object.assign(cells.style, { left: share(left, width), top: share(grid, height), width: share(wide, width), height: share(deep, height) });
      mark = Dom.svg("rect", { class: "mark", width: wide / 24 - 1, height: Math.max(1, least - 1) });
      bars = Array.from({ length: 24 }, (_, h) => Dom.svg("rect", { class: "bar", x: x(h) + 0.5, width: Math.max(1, wide / 24 - 1) }));
      frames = [0, 1].map(() => Dom.svg("rect", { class: "frame", width: 0, height: 0 }));
      hand = Dom.svg("line", { class: "hand", y1: rem * 0.5, y2: grid + least * periods });
      const every = wide / rem < 22 ? 6 : 3;
      const ticks = d3.range(0, 25, every).map((h) => [x(h), Say.two(h)]);
      chart.drawing.append(...bars, mark, ...frames, hand, ...rowNames(rem, least, grid, left),
        Chart.bottomAxis(ticks, grid + least * periods, rem, width), ...clocks.map((each, i) => clockRow(each, i, grid + least * periods, left)));
      hours.place(left - rem * 0.5, wide + rem);
      days.place(0, Math.min(wide * 0.6, rem * 16));
      draw();
    }

    /** The name of a row of hours at the left, and of all but the first, which is the axis, its hours. */
    function clockRow([name, hourOf], i, y, left) {
      const { rem, wide } = layout, every = wide / rem < 22 ? 6 : 3, line = y + rem * (1.25 + 1.2 * i);
      const hours = i ? d3.range(0, 24, every) : [];
      return Dom.svg("g", { class: "axis" }, Dom.svg("text", { x: left - rem * 1.6, y: line, "text-anchor": "end" }, name),
        ...hours.map((h) => Dom.svg("text", { x: left + (wide * h) / 24, y: line, "text-anchor": "middle" }, hourOf(h))));
    }

    /** Names of days or months at the left, as many as have room. */
    function rowNames(rem, row, grid, left) {
      const every = Math.ceil((rem * 1.15) / row);
      return data.period.names.map((name, i) => (i % every ? null : Dom.svg("text", {
        class: "row-name", x: left - rem * 0.5, y: grid + (i + 0.5) * row + rem * 0.3, "text-anchor": "end",
      }, Say.period(name)))).filter(Boolean);
    }

    /** What lights up where a cell is pointed at. */
    function marked(h, p) {
      Dom.set(mark, "x", layout.left + (layout.wide * h) / 24 + 0.5);
      Dom.set(mark, "y", layout.grid + p * layout.row + 0.5);
      return mark;
    }

    function drawCells(ramp, most) {
      const { colours } = look(), { wide, row } = layout;
      pen.setTransform(SHARP, 0, 0, SHARP, 0, 0);
      pen.clearRect(0, 0, wide, row * periods);
      for (let i = 0; i < 24 * periods; i++) {
        const h = i % 24, p = Math.floor(i / 24);
        pen.globalAlpha = Selection.holds(hour, h) && Selection.holds(period, p) ? 1 : 0.28;
        pen.fillStyle = counts[i] ? ramp[Math.floor(Math.sqrt(counts[i] / most) * (ramp.length - 1))] : colours.sea;
        pen.fillRect((wide * h) / 24 + 0.5, row * p + 0.5, wide / 24 - 1, Math.max(1, row - 1));
      }
    }

    function draw() {
      const { barBase, barTop, rem } = layout, ramp = look().counts, most = Math.max(1, d3.max(counts));
      const byHour = d3.range(24).map(inHour);
      const scale = d3.scaleLinear([0, Math.max(1, d3.max(byHour))], [barBase, barTop]);
      bars.forEach((bar, h) => {
        Dom.set(bar, "y", scale(byHour[h]));
        Dom.set(bar, "height", barBase - scale(byHour[h]));
        bar.classList.toggle("out", !Selection.holds(hour, h));
      });
      drawCells(ramp, most);
      drawFrames(rem);
      key.show(ramp, most < 2 ? [[0, "1"]] : [[0, "1"], [0.5, most >= 8 ? Say.count(most / 4) : ""], [1, Say.count(most)]]); // by the square root, as the cells
    }

    /** The brushed part in a frame; hours that run over midnight take two. */
    function drawFrames() {
      const { left, wide, grid, row } = layout, x = (h) => left + (wide * h) / 24;
      const spans = !hour ? [[0, 23]] : hour[0] <= hour[1] ? [hour] : [[0, hour[1]], [hour[0], 23]];
      const [first, last] = period || [0, periods - 1];
      frames.forEach((frame, i) => {
        const span = hour || period ? spans[i] : null;
        Dom.set(frame, "x", span ? x(span[0]) : 0);
        Dom.set(frame, "width", span ? x(span[1] + 1) - x(span[0]) : 0);
        Dom.set(frame, "y", grid + first * row);
        Dom.set(frame, "height", span ? (last - first + 1) * row : 0);
      });
    }

    /** Show the clock's hand at that time of day [minutes]; null hides it. */
    function time(minutes) {
      hand.style.display = minutes === null ? "none" : "";
      const x = layout.left + (layout.wide * (minutes || 0)) / 1440;
      hand.setAttribute("x1", x);
      hand.setAttribute("x2", x);
    }

    function update(newCounts, state) {
      counts = newCounts;
      [hour, period] = [state.hour, state.period];
      draw();
      hours.show(hour);
      days.show(period);
      chart.brushed(Boolean(hour || period));
      const peak = d3.maxIndex(counts);
      const said = {
        reports: Say.things(d3.sum(counts), "report"), count: Say.count(counts[peak] || 0), hour: Say.two(Math.max(peak, 0) % 24),
        day: Say.period(data.period.names[Math.floor(Math.max(peak, 0) / 24)] || ""),
      };
      chart.describe(unit === "day" ? Say.text("Reports by hour and day: grid of {reports}; most, {count}, at {hour}:00 UTC on {day}.", said)
        : Say.text("Reports by hour and month: grid of {reports}; most, {count}, at {hour}:00 UTC on {day}.", said));
      chart.refresh();
    }

    return { figure: chart.figure, resize, update, time };
  }

  return { make };
})();
