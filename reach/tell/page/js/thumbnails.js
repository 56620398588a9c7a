// A small map of each suspect: where it claims to be, and where it probably is.
const Thumbnails = (() => {
  const WIDE = 260, HIGH = 150, ALONE_DEG = 18;

  function draw(holder, places, ground) {
    const { lon, lat } = places.claimed, likely = places.likely;
    const between = likely ? d3.geoInterpolate([lon, lat], [likely.lon, likely.lat])(0.5) : [lon, lat];
    const half = likely ? (d3.geoDistance([lon, lat], [likely.lon, likely.lat]) * 90) / Math.PI : 0;
    const around = likely ? Math.min(170, Math.max(5, half * 1.8)) : ALONE_DEG;
    const projection = d3.geoAzimuthalEquidistant().rotate([-between[0], -between[1]]).clipAngle(179)
      .translate([WIDE / 2, HIGH / 2]).scale(HIGH / 2 / ((around * Math.PI) / 180)).clipExtent([[0, 0], [WIDE, HIGH]]);
    const path = d3.geoPath(projection), shape = (object, name) => Dom.svg("path", { d: path(object) || "", class: name });
    const at = projection([lon, lat]), to = likely ? projection([likely.lon, likely.lat]) : null;
    const claimed = places.claimed.locator;
    const text = likely ? Say.text("Map: claims to be in {claimed}, probably in {likely}.", { claimed, likely: likely.locator })
      : Say.text("Map: claims to be in {claimed}.", { claimed });
    holder.replaceChildren(Dom.svg("svg", { role: "img", "aria-label": text, viewBox: `0 0 ${WIDE} ${HIGH}`, class: "thumbnail" },
      Dom.svg("rect", { class: "sea", width: WIDE, height: HIGH }), shape(ground.land, "land"), shape(ground.borders, "border"),
      ...(to ? [Dom.svg("line", { class: "move", x1: at[0], y1: at[1], x2: to[0], y2: to[1] }),
        Dom.svg("circle", { class: "likely", cx: to[0], cy: to[1], r: 5 })] : []),
      Dom.svg("circle", { class: "claimed", cx: at[0], cy: at[1], r: 5 }),
      Dom.svg("text", { class: "mark", x: at[0], y: at[1] - 9, "text-anchor": "middle" }, "?")));
  }

  return { draw };
})();
