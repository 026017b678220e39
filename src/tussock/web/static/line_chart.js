// A line chart: curves told apart by colour, dash and marker, named at their ends, read at the pointer or by arrow keys.
import { echarts } from "nicegui-echart";

const SYMBOLS = {
  o: "circle",
  s: "rect",
  D: "diamond",
  v: "path://M-1,-1L1,-1L0,1Z",
  X: "path://M-0.5,-1L0,-0.5L0.5,-1L1,-0.5L0.5,0L1,0.5L0.5,1L0,0.5L-0.5,1L-1,0.5L-0.5,0L-1,-0.5Z",
};
const MARKERS = 7; // on one curve
const NARROW = 520; // px; below it names stand over the plot
const LONG = 400; // points of a curve that is looked at in parts
const FONT = "'Source Sans 3', sans-serif";

const token = (name) => getComputedStyle(document.body).getPropertyValue("--" + name).trim();
const still = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches;

function figure(value, axis) {
  if (value === null || Number.isNaN(value)) return "none";
  const text = value.toFixed(axis.digits);
  const plain = Number(text) === 0 ? text.replace("-", "") : text.replace("-", "\u2212");
  return axis.unit ? plain + "\u00a0" + axis.unit : plain;
}
// The ends of the figures get their label only where they are round.
const tick = (low, high) => (v) =>
  +v.toPrecision(3) === +v.toPrecision(6) && (v === 0 || Math.abs(v) > 0.005 * (high - low))
    ? String(+v.toPrecision(3)).replace("-", "\u2212")
    : "";
const clean = (text) =>
  text.replace(/[&<>"']/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" })[c]);

// Flat rows of x and y; a gap is NaN.
function rows(x, y) {
  const flat = new Float64Array(2 * x.length);
  for (let i = 0; i < x.length; i++) {
    flat[2 * i] = x[i] === null ? NaN : x[i];
    flat[2 * i + 1] = y[i] === null ? NaN : y[i];
  }
  return flat;
}

function wrapped(text, most) {
  const lines = [];
  for (const word of text.split(" ")) {
    const last = lines[lines.length - 1];
    if (last !== undefined && last.length + word.length < most) lines[lines.length - 1] = last + " " + word;
    else lines.push(word);
  }
  return lines.join("\n");
}

function textWidth(text) {
  const pen = (textWidth.pen ??= document.createElement("canvas").getContext("2d"));
  pen.font = `600 14px ${FONT}`;
  return Math.max(0, ...text.split("\n").map((line) => pen.measureText(line).width));
}

export default {
  template: `
    <div>
      <h2 class="chart-title">{{ chart ? chart.title : title }}</h2>
      <p class="chart-axis">{{ chart ? chart.y.words : "" }}</p>
      <ul v-if="names.length" class="chart-names"><li v-for="n in names"><svg viewBox="0 0 34 12" aria-hidden="true">
        <line x1="0" y1="6" x2="34" y2="6" :stroke="n.colour" :stroke-width="n.width" :stroke-dasharray="n.dash"/>
        </svg>{{ n.label }}</li></ul>
      <div class="chart-plot" ref="plot" tabindex="0" role="group" :aria-label="about" :aria-describedby="saysId"
           @keydown="key" @blur="leave"></div>
      <p class="sr" :id="saysId" role="status">{{ said || help }}</p>
      <p v-if="fault" class="says">{{ fault }}</p>
    </div>`,
  props: { source: String, title: String },
  data: () => ({ chart: null, names: [], said: "", fault: "", at: -1, saysId: "says-" + Math.random().toString(36).slice(2) }),
  computed: {
    about() {
      if (!this.chart) return this.title;
      const named = this.chart.lines.map((l) => l.label).filter((l, i, all) => l && all.indexOf(l) === i);
      return `Chart: ${this.chart.title}. ${this.chart.y.words} over ${this.chart.x.words}. Curves: ${named.join("; ")}`;
    },
    help: () => "Left and right arrow keys read the values.",
  },
  watch: {
    source() {
      this.load();
    },
  },
  mounted() {
    this.themes = new MutationObserver(() => this.draw());
    this.themes.observe(document.body, { attributes: true, attributeFilter: ["class"] });
    this.sizes = new ResizeObserver(() => {
      if (this.view && this.$refs.plot.clientWidth !== this.wide) this.draw();
    });
    this.sizes.observe(this.$refs.plot);
    this.load();
  },
  beforeUnmount() {
    this.themes.disconnect();
    this.sizes.disconnect();
    this.view?.dispose();
  },
  methods: {
    async load() {
      const asked = this.source;
      try {
        const [answer] = await Promise.all([fetch(asked), document.fonts.load(`14px ${FONT}`)]);
        if (!answer.ok) throw new Error();
        const chart = await answer.json();
        if (asked !== this.source || !this.$refs.plot) return;
        this.chart = chart;
        this.fault = "";
        this.at = -1;
        this.said = "";
        this.draw();
      } catch {
        this.fault = "The figures of this chart did not arrive; load the page again.";
      }
    },
    draw() {
      if (!this.chart || !this.$refs.plot) return;
      this.wide = this.$refs.plot.clientWidth;
      const narrow = this.wide < NARROW;
      const listed = this.chart.lines.filter((l, i, all) => l.label && all.findIndex((o) => o.label === l.label) === i);
      this.names =
        narrow && listed.length > 1
          ? listed.map((l) => ({ label: l.label, colour: token(l.stroke.token), width: l.stroke.width + 0.5, dash: l.stroke.dash.join(" ") }))
          : [];
      const points = this.chart.lines.reduce((n, l) => n + l.x.length, 0);
      this.view ??= echarts.init(this.$refs.plot, null, { renderer: points > 4000 ? "canvas" : "svg" });
      this.view.resize();
      this.view.setOption(this.option(narrow), { notMerge: true });
    },
    option(narrow) {
      const { chart } = this;
      const ink = token("ink"), soft = token("soft"), line = token("line"), card = token("card");
      const text = { color: soft, fontFamily: FONT, fontSize: 14 };
      const named = new Set();
      let right = 16;
      const series = chart.bands.map((band) => this.band(band));
      let longest = 0;
      const xs = chart.lines.flatMap((l) => l.x).filter((v) => v !== null);
      const ends = [Math.min(...xs), Math.max(...xs)];
      const ys = [...chart.lines.map((l) => l.y), ...chart.bands.flatMap((b) => [b.low, b.high])].flat().filter((v) => v !== null);
      const heights = [Math.min(...ys), Math.max(...ys)];
      for (const l of chart.lines) {
        const colour = token(l.stroke.token);
        const first = l.label && !named.has(l.label);
        named.add(l.label);
        const label = wrapped(l.label, 18);
        const ended = first && !narrow && !l.dots;
        if (ended) right = Math.max(right, textWidth(label) + 16);
        longest = Math.max(longest, l.x.length);
        const every = Math.max(1, Math.round((l.x.length - 1) / (MARKERS - 1)));
        const marked = l.marked && l.stroke.marker;
        series.push({
          type: l.dots ? "scatter" : "line",
          name: l.label,
          data: rows(l.x, l.y),
          dimensions: ["x", "y"],
          encode: { x: 0, y: 1 },
          symbol: SYMBOLS[l.stroke.marker || "o"] ?? "circle",
          showSymbol: Boolean(marked),
          showAllSymbol: true,
          symbolSize: l.dots ? 7 : (_, p) => (marked && p.dataIndex % every === 0 ? 7 : 0),
          connectNulls: false,
          animation: false,
          clip: true,
          z: l.stroke.bold ? 5 : 3,
          lineStyle: { color: colour, width: l.stroke.width * 1.35, type: l.stroke.dash.length ? l.stroke.dash.map((d) => d * 1.35) : "solid" },
          itemStyle: l.dots ? { color: card, borderColor: colour, borderWidth: 1.6 } : { color: colour },
          emphasis: { disabled: true },
          endLabel: ended
            ? { show: true, formatter: label, color: ink, fontFamily: FONT, fontSize: 14, fontWeight: l.stroke.bold ? 600 : 400, lineHeight: 16, distance: 8 }
            : undefined,
          labelLayout: { moveOverlap: "shiftY" },
        });
      }
      if (chart.marks.length) series.push(...this.marks(narrow, text, ink));
      if (chart.marks.some((m) => m.x === null && m.text) && !narrow)
        right = Math.max(right, ...chart.marks.filter((m) => m.x === null).map((m) => textWidth(wrapped(m.text, 18)) + 16));
      const tall = chart.marks.some((m) => m.y === null && m.text) ? 26 : 10;
      const axis = (at, more) => ({
        type: "value",
        scale: true,
        axisLine: { show: false },
        axisTick: { show: false },
        axisLabel: { ...text, formatter: tick(...(at ? heights : ends)), hideOverlap: true },
        splitLine: { lineStyle: { color: line, width: 1 } },
        ...more,
      });
      return {
        animation: false,
        textStyle: { fontFamily: FONT },
        aria: { enabled: false },
        grid: { left: 6, right, top: tall, bottom: longest > LONG ? 64 : 30, containLabel: true },
        xAxis: axis(0, {
          min: ends[0], max: ends[1], name: chart.x.words, nameLocation: "middle", nameGap: 30, nameTextStyle: text,
          splitNumber: narrow ? 4 : 8,
          axisPointer: { show: true, snap: false, lineStyle: { color: soft, width: 1, type: "solid" }, label: { show: false } },
        }),
        yAxis: axis(1, { splitNumber: 6 }),
        dataZoom: longest > LONG
          ? [{ type: "slider", filterMode: "none", height: 22, bottom: 4, brushSelect: false, borderColor: line, fillerColor: "transparent",
               backgroundColor: "transparent", dataBackground: { lineStyle: { color: soft }, areaStyle: { color: "transparent" } },
               selectedDataBackground: { lineStyle: { color: ink }, areaStyle: { color: "transparent" } },
               handleStyle: { color: ink, borderColor: ink }, moveHandleStyle: { color: soft }, textStyle: text,
               labelFormatter: (v) => figure(v, chart.x) }]
          : [],
        tooltip: {
          trigger: "axis",
          transitionDuration: still() ? 0 : 0.15,
          confine: true,
          backgroundColor: card,
          borderColor: line,
          extraCssText: "box-shadow:none",
          textStyle: { color: ink, fontFamily: FONT, fontSize: 15 },
          formatter: (read) => this.words(read).map(([a, b]) => `${clean(a)}${a ? " " : ""}<b>${clean(b)}</b>`).join("<br>"),
        },
        series,
      };
    },
    band(band) {
      const colour = token(band.stroke.token);
      const corners = band.x.map((x, i) => [x, band.high[i]]).concat(band.x.map((x, i) => [x, band.low[i]]).reverse());
      return {
        type: "custom",
        name: band.label,
        silent: true,
        animation: false,
        clip: true,
        z: 1,
        tooltip: { show: false },
        data: [[band.x[0], band.low[0]]],
        renderItem: (_, api) => ({
          type: "polygon",
          shape: { points: corners.map((c) => api.coord(c)) },
          style: { fill: colour, opacity: 0.16 },
        }),
      };
    },
    marks(narrow, text, ink) {
      const lines = [], points = [];
      for (const m of this.chart.marks) {
        const style = { color: token(m.stroke.token), width: m.stroke.width * 1.35, type: m.stroke.dash.length ? m.stroke.dash : "solid" };
        const said = { color: ink, fontFamily: FONT, fontSize: 14, fontWeight: m.stroke.bold ? 600 : 400 };
        if (m.x !== null && m.y !== null)
          points.push({ value: [m.x, m.y], itemStyle: { color: token("card"), borderColor: style.color, borderWidth: 1.6 },
            label: { show: Boolean(m.text) && !narrow, position: "top", formatter: m.text, ...said } });
        else if (m.x !== null)
          lines.push({ xAxis: m.x, lineStyle: style, label: { show: Boolean(m.text), position: "end", formatter: m.text, ...said } });
        else
          lines.push({ yAxis: m.y, lineStyle: style,
            label: { show: Boolean(m.text), position: narrow ? "insideEndTop" : "end", formatter: wrapped(m.text, 18), ...said } });
      }
      return [
        { type: "line", data: [], silent: true, animation: false, tooltip: { show: false },
          markLine: { silent: true, symbol: "none", animation: false, data: lines } },
        { type: "scatter", data: points, symbolSize: 9, silent: true, animation: false, tooltip: { show: false }, labelLayout: { moveOverlap: "shiftY" } },
      ];
    },
    words(read) {
      const { chart } = this;
      const found = read.filter((r) => r.seriesType === "line" || r.seriesType === "scatter");
      if (!found.length) return [];
      const lead = found[0].value[0];
      return [[chart.x.title, figure(lead, chart.x)], ...found.filter((r) => !Number.isNaN(r.value[1]))
        .map((r) => [r.seriesName || chart.y.title, figure(r.value[1], chart.y)])];
    },
    key(event) {
      if (!this.chart || !["ArrowLeft", "ArrowRight", "Home", "End", "Escape"].includes(event.key)) return;
      if (event.key === "Escape") return this.leave();
      event.preventDefault();
      const longest = this.chart.lines.reduce((a, l) => (l.x.length > a.x.length ? l : a));
      const last = longest.x.length - 1;
      const step = Math.max(1, Math.round(last / 60)) * (event.shiftKey ? 5 : 1);
      const to = { ArrowLeft: this.at - step, ArrowRight: this.at < 0 ? 0 : this.at + step, Home: 0, End: last }[event.key];
      this.at = Math.min(Math.max(to, 0), last);
      const index = this.chart.bands.length + this.chart.lines.indexOf(longest);
      this.view.dispatchAction({ type: "showTip", seriesIndex: index, dataIndex: this.at });
      const x = longest.x[this.at];
      const near = this.chart.lines.map((l) => {
        let best = -1;
        for (let i = 0; i < l.x.length; i++)
          if (l.x[i] !== null && l.y[i] !== null && (best < 0 || Math.abs(l.x[i] - x) < Math.abs(l.x[best] - x))) best = i;
        return best < 0 ? "" : `${l.label || this.chart.y.title} ${figure(l.y[best], this.chart.y)}`;
      });
      this.said = [`${this.chart.x.title} ${figure(x, this.chart.x)}`, ...near.filter(Boolean)].join(", ");
    },
    leave() {
      this.at = -1;
      this.said = "";
      this.view?.dispatchAction({ type: "hideTip" });
    },
  },
};
