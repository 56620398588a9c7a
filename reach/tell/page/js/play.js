// The day runs: a clock that the map and the charts follow.
const Play = (() => {
  const STEP = 10, HOURS_PER_SECOND = { slow: 0.5, even: 1, fast: 3 };

  /** The moment [ms since 1970] of a time of day: on the middle day of what is brushed, or of the whole period. */
  function moment(data, state, minutes) {
    const [first, last] = state.period || [0, data.period.names.length - 1];
    const name = data.period.names[Math.floor((first + last) / 2)] || "2000-01-01";
    return Date.parse(`${data.period.unit === "day" ? name : `${name}-15`}T00:00:00Z`) + minutes * 60000;
  }

  /** options: state(), change(part). Returns { show() }, which follows the selection. */
  function make({ state, change }) {
    const button = Dom.byId("play"), slider = Dom.byId("clock"), speed = Dom.byId("speed");
    let last = null;

    const set = (minutes) => change({ minutes: ((minutes % 1440) + 1440) % 1440 });
    const playing = () => last !== null;

    function tick(now) {
      if (!playing()) return;
      const hours = HOURS_PER_SECOND[speed.value] || 1, passed = (now - last) / 1000;
      if (Theme.still()) {
        // Little movement: the clock jumps from hour to hour.
        if (passed * hours >= 1) (last = now), set((Math.floor(state().minutes / 60) + 1) * 60);
      } else {
        last = now;
        set(state().minutes + passed * hours * 60);
      }
      requestAnimationFrame(tick);
    }

    function run(is) {
      if (is === playing()) return;
      last = is ? performance.now() : null;
      button.setAttribute("aria-pressed", is);
      Dom.write(button, is ? Say.text("Pause") : Say.text("Play the day"));
      if (!is) return;
      if (state().minutes === null) set(0);
      requestAnimationFrame(tick);
    }

    const step = (by) => {
      run(false);
      set((Math.round((state().minutes || 0) / STEP) + by) * STEP);
    };
    button.addEventListener("click", () => run(!playing()));
    Dom.byId("step-back").addEventListener("click", () => step(-1));
    Dom.byId("step-on").addEventListener("click", () => step(1));
    Dom.byId("whole-day").addEventListener("click", () => {
      run(false);
      change({ minutes: null });
    });
    slider.addEventListener("input", () => {
      run(false);
      set(Number(slider.value));
    });

    function show() {
      const { minutes } = state(), text = minutes === null ? Say.text("whole day") : `${Say.clock(minutes)} UTC${Say.beside(minutes)}`;
      slider.value = minutes === null ? 0 : minutes;
      slider.setAttribute("aria-valuetext", text);
      Dom.write(Dom.byId("clock-text"), text);
      Dom.byId("whole-day").disabled = minutes === null;
    }

    return { show };
  }

  return { make, moment };
})();
