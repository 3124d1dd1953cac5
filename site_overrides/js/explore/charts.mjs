// The three charts: Vega with its own interpreter, so that the page's policy stays strict; colours are the page's tokens.

// A token by its CSS name; a size in rem becomes a number of pixels, as Vega wants it.
function token(name) {
  const root = getComputedStyle(document.documentElement);
  const text = root.getPropertyValue(`--${name}`).trim();
  return text.endsWith("rem") ? parseFloat(text) * parseFloat(root.fontSize) : text;
}

const dressed = (chart) => JSON.parse(JSON.stringify(chart), (_, value) =>
  (typeof value === "string" && value.startsWith("token:") ? token(value.slice(6)) : value));

const BRUSHED = ["quarters", "ages"];
const LEAST = 4; // pixels; what is shorter is a press and no window

export class Charts {
  // `boxes` by key of the chart; `told(key, range, done)` hears of a window that was drawn, `pressed(key)` of a row.
  constructor(vega, boxes, told, pressed) {
    Object.assign(this, { vega, boxes, told, pressed, views: {}, rows: {}, signals: {}, windows: {} });
    this.sizes = new ResizeObserver((changes) => {
      for (const { target } of changes) this.fit(target.dataset.chart);
    });
    for (const box of Object.values(boxes)) this.sizes.observe(box);
    for (const key of BRUSHED) {
      const begin = () => { this.drawing = { key, range: this.windows[key] }; };
      boxes[key].addEventListener("pointerdown", begin, { capture: true }); // before Vega hears of it
    }
    const end = (kept) => {
      if (this.drawing) this.finish(kept);
    };
    addEventListener("pointerup", () => end(true));
    addEventListener("pointercancel", () => {
      end(false);
      dispatchEvent(new PointerEvent("pointerup")); // the page scrolls: Vega must let go, too
    });
  }

  // Draws all anew in the colours of now.
  dress() {
    for (const [key, chart] of Object.entries(this.vega.charts)) {
      this.views[key]?.finalize();
      const { View, parse, expressionInterpreter } = this.vega;
      const inside = document.createElement("div"); // Vega names its own box for screen readers: the figure's name stands
      inside.ariaHidden = "true";
      this.boxes[key].replaceChildren(inside);
      const view = new View(parse(dressed(chart), {}, { ast: true }), {
        expr: expressionInterpreter,
        renderer: key === "ages" ? "canvas" : "svg", // there may be thousands of marks
        container: inside,
        hover: false,
      });
      inside.firstElementChild.classList.remove("marks"); // a name that our own sprite has
      this.views[key] = view;
      if (BRUSHED.includes(key)) this.watch(key, view);
      else view.addEventListener("click", (_, item) => item?.datum?.key !== undefined && this.pressed(item.datum.key));
      this.put(key);
      this.fit(key);
    }
  }

  watch(key, view) {
    view.addSignalListener("brush", (_, said) => {
      if (this.drawing?.key !== key) return; // set by us
      const [across] = Object.values(said);
      const [left, right] = view.signal("brush_x");
      const range = across && Math.abs(right - left) >= LEAST ? [Math.floor(Math.min(...across)), Math.ceil(Math.max(...across))] : null;
      if (String(range) === String(this.drawing.range)) return;
      this.drawing.range = range;
      requestAnimationFrame(() => { // Vega is still at it, and a list is dear
        if (this.drawing?.range === range) this.told(key, range, false);
      });
    });
  }

  finish(kept) {
    const { key, range } = this.drawing;
    this.drawing = null;
    this.told(key, kept ? range : this.windows[key], true);
  }

  // Rows of a chart, signals that it needs, and the window that stands in it (or null).
  show(key, rows, signals = {}, window = null) {
    this.rows[key] = rows;
    this.signals[key] = signals;
    if (this.drawing?.key !== key) this.windows[key] = window;
    this.put(key);
  }

  put(key) {
    const view = this.views[key];
    if (!view || !this.rows[key]) return;
    for (const [name, value] of Object.entries(this.signals[key])) view.signal(name, value);
    view.data("rows", this.rows[key]).resize().runAsync().then(() => this.place(key));
  }

  // Puts the window where the choice says; it is never half a quarter.
  place(key) {
    const view = this.views[key]; // of now: it may have been drawn anew meanwhile
    if (this.drawing?.key === key || !BRUSHED.includes(key) || !this.rows[key]?.length) return;
    const across = view.scale("x");
    view.signal("brush_x", this.windows[key] ? this.windows[key].map((value) => across(value)) : [0, 0]).runAsync();
  }

  fit(key) {
    const view = this.views[key];
    const width = this.boxes[key].clientWidth;
    if (!view || !width) return;
    if (key === "modes") view.signal("roomForNames", Math.round(width * (width < 480 ? 0.55 : 0.45)));
    view.width(width).resize().runAsync().then(() => this.place(key));
  }
}
