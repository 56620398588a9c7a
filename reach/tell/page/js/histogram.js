// Bars over bins of distance or SNR, with a brush.
const Histogram = (() => {
  /**
   * options: id, title, note, label (of the brush), size (bins), binName (of the table's column), bin(i) -> the bin in words,
   * ticks(width in rem) -> [[place in bins, text]], say(bin, end) as for Range, change(range).
   * Returns { figure, resize(width), update(counts, range) }.
   */
  function make(options) {
    const { size, label } = options;
    let counts = new Uint32Array(size), range = null, bars = [], shade = [], layout = null, top = null, named = 0;
    const chart = Chart.make({
      id: options.id, title: options.title, note: options.note, clear: () => options.change(null),
      table: {
        columns: [{ name: options.binName }, { name: Say.text("reports"), number: true }],
        rows: () => Array.from(counts, (count, i) => [options.bin(i), count]).filter((row) => row[1] > 0),
      },
    });
    const brush = Range.make({ label, size, say: options.say, change: options.change });
    chart.controls.append(brush.node);
    const binAt = (x) => Math.max(0, Math.min(size - 1, Math.floor(((x - layout.left) / layout.wide) * size)));
    const tap = (bin) => options.change(range && range[0] === bin && range[1] === bin ? null : [bin, bin]);
    Chart.drag(chart.drawing, binAt, (a, b) => options.change(Selection.within([Math.min(a, b), Math.max(a, b)], size)), tap);
    Tip.follow(chart.drawing, {
      at: binAt, tap, node: (bin) => bars[bin], first: () => Math.max(0, d3.maxIndex(counts)),
      text: (bin) => `${options.bin(bin)}: ${Say.things(counts[bin], "report")}`,
      place: (bin) => [layout.left + (layout.wide * (bin + 0.5)) / size, Number(bars[bin].getAttribute("y"))],
      step: (bin, dx, dy) => Math.max(0, Math.min(size - 1, bin + dx - dy)),
    });

    function resize(width) {
      const rem = Dom.rem(), height = Math.round(rem * Dom.tall()), left = rem * 3, wide = width - left - rem * 1.2;
      layout = { rem, height, left, wide, base: height - rem * 1.8, top: rem * 0.9 };
      Chart.clear(chart.drawing, width, height);
      const x = (i) => left + (wide * i) / size;
      shade = [0, 1].map(() => Dom.svg("rect", { class: "outside", y: layout.top, height: layout.base - layout.top, width: 0 }));
      bars = Array.from(counts, (_, i) => Dom.svg("rect", { class: "bar", x: x(i) + 0.5, width: Math.max(1, wide / size - 1) }));
      top = Dom.svg("g", { class: "axis" });
      named = 0;
      chart.drawing.append(top, ...bars, ...shade,
        Dom.svg("line", { class: "base", x1: left, x2: left + wide, y1: layout.base, y2: layout.base }),
        Chart.bottomAxis(options.ticks(wide / rem).map(([i, text]) => [x(i), text]), layout.base, rem, width));
      brush.place(left - rem * 0.5, wide + rem);
      draw();
    }

    function draw() {
      const most = Math.max(1, d3.max(counts)), { base, left, wide, rem } = layout;
      const scale = d3.scaleLinear([0, most], [base, layout.top]).nice(3);
      bars.forEach((bar, i) => {
        const y = scale(counts[i]);
        Dom.set(bar, "y", y);
        Dom.set(bar, "height", base - y);
        bar.classList.toggle("out", !Selection.holds(range, i));
      });
      const rounded = scale.domain()[1];
      if (rounded !== named) top.replaceChildren(...scale.ticks(3).filter(Number.isInteger).flatMap((tick) => [
        Dom.svg("line", { class: "grid", x1: left, x2: left + wide, y1: scale(tick), y2: scale(tick) }),
        Dom.svg("text", { x: left - rem * 0.4, y: scale(tick) + rem * 0.3, "text-anchor": "end" }, Say.count(tick)),
      ]));
      named = rounded;
      const [low, high] = range || [0, size - 1], x = (i) => left + (wide * i) / size;
      shade[0].setAttribute("x", left);
      shade[0].setAttribute("width", Math.max(0, x(low) - left));
      shade[1].setAttribute("x", x(high + 1));
      shade[1].setAttribute("width", Math.max(0, left + wide - x(high + 1)));
    }

    function update(newCounts, newRange) {
      counts = newCounts;
      range = newRange;
      draw();
      brush.show(range);
      chart.brushed(range !== null);
      const peak = d3.maxIndex(counts);
      chart.describe(Say.text("{title}: bar chart of {reports}; most, {count}, {bin}.", {
        title: options.title, reports: Say.things(d3.sum(counts), "report"), count: Say.count(counts[peak] || 0), bin: options.bin(peak),
      }));
      chart.refresh();
    }

    return { figure: chart.figure, resize, update };
  }

  return { make };
})();
