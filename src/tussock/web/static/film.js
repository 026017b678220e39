// A film to scale: nothing moves until it is started; it can be stopped, scrubbed and slowed.
const SPEEDS = [
  [1, "real time"],
  [0.5, "half"],
  [0.25, "a quarter"],
  [0.1, "a tenth"],
];
const GAP = 24; // px between two views
const NARROW = 560; // px; below it views stand one below the other
const FAINT = 0.14;

const token = (name) => getComputedStyle(document.body).getPropertyValue("--" + name).trim();

export default {
  template: `
    <div>
      <h2 class="chart-title">{{ film ? film.title : title }}</h2>
      <canvas ref="sheet" role="img" :aria-label="about"></canvas>
      <div class="film-tools" v-if="film">
        <button type="button" class="main-button" @click="toggle">{{ playing ? "Stop" : "Play" }}</button>
        <label class="film-speed">Speed
          <select v-model.number="speed"><option v-for="s in speeds" :value="s[0]">{{ s[1] }}</option></select></label>
        <label class="film-at"><span class="sr">Moment of the drive</span>
          <input type="range" min="0" :max="last" step="1" v-model.number="frame" @input="stop" :aria-valuetext="place"></label>
        <output class="film-place">{{ place }}</output>
      </div>
      <p class="note" v-if="film">{{ film.note }}</p>
      <p v-if="fault" class="says">{{ fault }}</p>
    </div>`,
  props: { source: String, title: String },
  data: () => ({ film: null, frame: 0, playing: false, speed: 1, speeds: SPEEDS, fault: "" }),
  computed: {
    last() {
      return this.film ? this.film.along.length - 1 : 0;
    },
    place() {
      if (!this.film) return "";
      return `${(this.frame * this.film.step).toFixed(2)}\u00a0s, ${this.film.along[this.frame].toFixed(1)}\u00a0m`;
    },
    lost() {
      return this.film ? this.film.parts.filter((p) => p.governs[this.frame]).map((p) => p.label) : [];
    },
    about() {
      if (!this.film) return this.title;
      const off = this.lost.length ? `; off the ground: ${this.lost.join(", ")}` : "";
      return `Drawing to scale: ${this.film.title}, seen from ${this.film.views.map((v) => v.title).join(" and ")}, at ${this.place}${off}`;
    },
  },
  watch: {
    source() {
      this.load();
    },
    frame() {
      this.draw();
    },
  },
  mounted() {
    this.themes = new MutationObserver(() => this.draw());
    this.themes.observe(document.body, { attributes: true, attributeFilter: ["class"] });
    this.sizes = new ResizeObserver(() => this.draw());
    this.sizes.observe(this.$el);
    this.load();
  },
  beforeUnmount() {
    this.stop();
    this.themes.disconnect();
    this.sizes.disconnect();
  },
  methods: {
    async load() {
      this.stop();
      const asked = this.source;
      try {
        const answer = await fetch(asked);
        if (!answer.ok) throw new Error();
        const film = await answer.json();
        if (asked !== this.source) return;
        this.film = Object.freeze(film);
        this.frame = film.still;
        this.$nextTick(() => this.draw());
      } catch {
        this.fault = "The frames of this film did not arrive; load the page again.";
      }
    },
    toggle() {
      if (this.playing) return this.stop();
      if (this.frame >= this.last) this.frame = 0;
      this.playing = true;
      let before = null;
      let exact = this.frame;
      const go = (now) => {
        if (!this.playing) return;
        if (before !== null) exact += ((now - before) / 1000 / this.film.step) * this.speed;
        before = now;
        this.frame = Math.min(Math.floor(exact), this.last);
        if (this.frame >= this.last) this.stop();
        else this.request = requestAnimationFrame(go);
      };
      this.request = requestAnimationFrame(go);
    },
    stop() {
      this.playing = false;
      cancelAnimationFrame(this.request);
    },
    draw() {
      const { film } = this;
      const sheet = this.$refs.sheet;
      if (!film || !sheet) return;
      const wide = this.$el.clientWidth;
      const narrow = wide < NARROW;
      const across = film.views.map((v) => v.right - v.left);
      const metres = narrow ? Math.max(...across) : across.reduce((a, b) => a + b, 0);
      const scale = (wide - (narrow ? 0 : GAP * (film.views.length - 1))) / metres; // px a metre, the same in every view
      const tall = film.views.map((v) => (v.top - v.bottom) * scale + 20);
      const height = (narrow ? tall.reduce((a, b) => a + b, 0) : Math.max(...tall)) + 24;
      const dots = window.devicePixelRatio || 1;
      if (sheet.width !== Math.round(wide * dots) || sheet.height !== Math.round(height * dots)) {
        sheet.width = Math.round(wide * dots);
        sheet.height = Math.round(height * dots);
        sheet.style.width = wide + "px";
        sheet.style.height = height + "px";
      }
      const pen = sheet.getContext("2d");
      pen.setTransform(dots, 0, 0, dots, 0, 0);
      pen.clearRect(0, 0, wide, height);
      pen.font = "14px 'Source Sans 3', sans-serif";
      pen.lineJoin = "round";
      let left = 0, top = 0;
      film.views.forEach((view, i) => {
        pen.fillStyle = token("soft");
        pen.fillText(view.title, left, top + 14);
        pen.save();
        pen.beginPath();
        pen.rect(left, top + 20, across[i] * scale, tall[i] - 20);
        pen.clip();
        this.view(pen, view, left - view.left * scale, top + 20 + view.top * scale, scale);
        pen.restore();
        if (narrow) top += tall[i];
        else left += across[i] * scale + GAP;
      });
      this.bar(pen, wide, height, scale);
    },
    view(pen, view, x0, y0, scale) {
      const { film, frame } = this;
      const x = (m) => x0 + m * scale, y = (m) => y0 - m * scale;
      if (view.ground.length) {
        const from = Math.max(0, Math.floor((film.along[frame] + view.left - view.start) / view.spacing));
        const to = Math.min(view.ground.length - 1, Math.ceil((film.along[frame] + view.right - view.start) / view.spacing));
        pen.beginPath();
        for (let k = from; k <= to; k++)
          pen.lineTo(x(view.start + k * view.spacing - film.along[frame]), y(view.ground[k] - film.level[frame]));
        pen.strokeStyle = token("ink");
        pen.lineWidth = 1.6;
        pen.setLineDash([]);
        pen.stroke();
      }
      for (const part of film.parts) {
        if (part.view !== view.key) continue;
        const bad = part.governs[frame];
        const c = Math.cos(part.turn[frame]), s = Math.sin(part.turn[frame]);
        const at = ([a, b]) => [x(part.across[frame] + c * a - s * b), y(part.up[frame] + s * a + c * b)];
        for (const shape of part.shapes) {
          pen.strokeStyle = token(bad ? "attention" : shape.token);
          pen.lineWidth = shape.width * (bad ? 1.8 : 1.3);
          pen.setLineDash(shape.dash);
          pen.beginPath();
          if (shape.circle) for (const p of shape.points) {
            const [cx, cy] = at(p);
            pen.moveTo(cx + shape.circle * scale, cy);
            pen.arc(cx, cy, shape.circle * scale, 0, 2 * Math.PI);
          } else for (const p of shape.points) pen.lineTo(...at(p));
          if (shape.closed) {
            pen.closePath();
            pen.fillStyle = pen.strokeStyle;
            pen.globalAlpha = FAINT;
            pen.fill();
            pen.globalAlpha = 1;
          }
          pen.stroke();
        }
        if (bad) {
          pen.fillStyle = token("attention");
          const [cx, cy] = at([0, 0]);
          pen.fillText("\u25b2", cx - 6, cy + 5);
        }
      }
    },
    bar(pen, wide, height, scale) {
      pen.setLineDash([]);
      pen.strokeStyle = pen.fillStyle = token("soft");
      pen.lineWidth = 1.2;
      const right = wide - 2, y = height - 6;
      pen.beginPath();
      pen.moveTo(right - scale, y - 4);
      pen.lineTo(right - scale, y);
      pen.lineTo(right, y);
      pen.lineTo(right, y - 4);
      pen.stroke();
      pen.textAlign = "right";
      pen.fillText("1 m, to scale across and up", right - scale - 8, y);
      pen.textAlign = "left";
    },
  },
};
