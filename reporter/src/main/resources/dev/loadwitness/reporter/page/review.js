// SPDX-License-Identifier: Apache-2.0
// The review page: unpacks the readings, draws them, and moves charts and lists together.
"use strict";
(() => {
  // ---- Reading what Column.java packed ----------------------------------------------------------------------------

  async function inflate(base64) {
    const text = atob(base64);
    const bytes = new Uint8Array(text.length);
    for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  }

  function unpack(bytes, values) {
    let p = 0;
    const number = () => {
      let result = 0, weight = 1, b;
      do {
        b = bytes[p++];
        result += (b & 127) * weight;
        weight *= 128;
      } while (b > 127);
      return result;
    };
    let n = 0;
    while (p < bytes.length) {
      const exponent = bytes[p] > 127 ? bytes[p] - 256 : bytes[p];
      p++;
      const power = Math.pow(10, Math.abs(exponent));
      let count = number(), sum = 0;
      while (count-- > 0) {
        const word = number();
        if (word === 0) {
          values[n++] = NaN;
          continue;
        }
        const zigzag = word - 1;
        sum += zigzag % 2 ? -(zigzag + 1) / 2 : zigzag / 2;
        values[n++] = exponent < 0 ? sum / power : sum * power;
      }
    }
    return values;
  }

  // ---- Thinning without loss of an extreme ------------------------------------------------------------------------

  const FIRST_LEVEL = 4;

  /** Lowest and highest of every 4, 8, 16 … readings, and which of the two came first. */
  function pyramid(values) {
    const levels = [];
    let size = FIRST_LEVEL;
    let n = Math.ceil(values.length / size);
    let level = { size, low: new Float32Array(n), high: new Float32Array(n), lowFirst: new Uint8Array(n) };
    for (let b = 0; b < n; b++) {
      let low = NaN, high = NaN, lowAt = 0, highAt = 0;
      for (let i = b * size, end = Math.min(values.length, i + size); i < end; i++) {
        const v = values[i];
        if (v !== v) continue;
        if (!(v >= low)) { low = v; lowAt = i; }
        if (!(v <= high)) { high = v; highAt = i; }
      }
      level.low[b] = low;
      level.high[b] = high;
      level.lowFirst[b] = lowAt <= highAt ? 1 : 0;
    }
    levels.push(level);
    while (n > 1) {
      const below = level;
      n = Math.ceil(n / 2);
      size *= 2;
      level = { size, low: new Float32Array(n), high: new Float32Array(n), lowFirst: new Uint8Array(n) };
      for (let b = 0; b < n; b++) {
        const l = 2 * b, r = 2 * b + 1;
        const alone = r >= below.low.length;
        const lowRight = !alone && (below.low[r] < below.low[l] || below.low[l] !== below.low[l]);
        const highRight = !alone && (below.high[r] > below.high[l] || below.high[l] !== below.high[l]);
        level.low[b] = below.low[lowRight ? r : l];
        level.high[b] = below.high[highRight ? r : l];
        level.lowFirst[b] = lowRight === highRight ? below.lowFirst[lowRight ? r : l] : lowRight ? 0 : 1;
      }
      levels.push(level);
    }
    return levels;
  }

  /** How many readings one group holds when about {@code columns} groups are to be drawn; 1 draws each. */
  function groupSize(readings, columns) {
    if (readings <= 4 * columns) return 1;
    let size = FIRST_LEVEL;
    while (readings / size > columns) size *= 2;
    return size;
  }

  /** First index whose time is not before {@code x}. */
  function lowerBound(times, x) {
    let a = 0, b = times.length;
    while (a < b) {
      const m = (a + b) >> 1;
      if (times[m] < x) a = m + 1; else b = m;
    }
    return a;
  }

  /**
   * What to draw of one piece between two times: the numbers of the first reading, of the one after the last, and the
   * size of a group. One more reading on each side lets lines run to the edge.
   */
  function range(piece, from, to, columns) {
    let first = lowerBound(piece.times, from);
    let end = lowerBound(piece.times, to);
    while (end < piece.times.length && piece.times[end] <= to) end++;
    const visible = end - first;
    const size = groupSize(visible, columns);
    first = Math.max(0, first - 1);
    end = Math.min(piece.times.length, end + 1);
    if (size > 1) {
      first -= first % size;
      end = Math.min(piece.times.length, Math.ceil(end / size) * size);
    }
    return { first, end, size };
  }

  function timesOf(piece, r, shift, out) {
    if (r.size === 1) {
      for (let i = r.first; i < r.end; i++) out.push(piece.times[i] + shift);
      return;
    }
    for (let i = r.first; i < r.end; i += r.size) {
      out.push(piece.times[i] + shift);
      out.push(piece.times[Math.min(r.end - 1, i + r.size / 2)] + shift);
    }
  }

  /**
   * The values of one channel for the same places as {@link timesOf}. No reading where one was due is null, which breaks
   * the line; none because the channel is asked less often is undefined, over which the line goes on.
   */
  function valuesOf(column, r, scale, offset, out, times) {
    const begin = out.length;
    fillValues(column, r, scale, offset, out);
    if (!column || !times) return;
    const slack = column.late + (r.size > 1 ? 2 * (times[Math.min(times.length - 1, begin + 2)] - times[begin]) : 0);
    let last = -1;
    for (let i = begin; i < out.length; i++) {
      if (out[i] === null) continue;
      if (last >= 0 && i - last > 1 && times[i] - times[last] <= slack) out.fill(undefined, last + 1, i);
      last = i;
    }
  }

  function fillValues(column, r, scale, offset, out) {
    if (!column) {
      const n = r.size === 1 ? r.end - r.first : 2 * Math.ceil((r.end - r.first) / r.size);
      for (let i = 0; i < n; i++) out.push(null);
      return;
    }
    if (r.size === 1) {
      for (let i = r.first; i < r.end; i++) {
        const v = column.values[i];
        out.push(v === v ? v * scale + offset : null);
      }
      return;
    }
    if (!column.levels) column.levels = pyramid(column.values);
    const level = column.levels[Math.log2(r.size / FIRST_LEVEL)];
    for (let b = r.first / r.size, end = Math.ceil(r.end / r.size); b < end; b++) {
      const low = level.low[b], high = level.high[b];
      if (low !== low) {
        out.push(null, null);
      } else {
        const l = low * scale + offset, h = high * scale + offset;
        if (level.lowFirst[b]) out.push(l, h); else out.push(h, l);
      }
    }
  }

  // ---- The runs ---------------------------------------------------------------------------------------------------

  const data = JSON.parse(document.getElementById("data").textContent);
  const runs = data.runs;
  const $ = (id) => document.getElementById(id);
  const make = (name, cssClass, text) => {
    const e = document.createElement(name);
    if (cssClass) e.className = cssClass;
    if (text !== undefined) e.textContent = text;
    return e;
  };

  /** Median time between readings of a channel: some are asked less often than the others of their sample. */
  function usualSpacing(times, values) {
    const found = [];
    let last = NaN;
    for (let i = 0; i < values.length && found.length < 999; i++) {
      if (values[i] !== values[i]) continue;
      if (last === last) found.push(times[i] - last);
      last = times[i];
    }
    found.sort((a, b) => a - b);
    return found.length ? found[found.length >> 1] : 0;
  }

  async function open(run) {
    // A reading that comes this late leaves a gap.
    const late = 2.5 * run.period + 0.1;
    run.pieces = [];
    run.byId = new Map(run.channels.map((c) => [c.id, c]));
    for (const s of run.stretches) {
      const times = unpack(await inflate(s.millis), new Float64Array(s.samples));
      for (let i = 0; i < times.length; i++) times[i] /= 1000;
      const columns = new Map();
      for (const id of Object.keys(s.columns)) {
        columns.set(id, unpack(await inflate(s.columns[id]), new Float32Array(s.samples)));
        s.columns[id] = null;
      }
      const lateness = new Map();
      columns.forEach((v, id) => lateness.set(id, Math.max(late, 2.5 * usualSpacing(times, v))));
      let begin = 0;
      for (let i = 1; i <= times.length; i++) {
        if (i < times.length && times[i] - times[i - 1] <= late) continue;
        const piece = { segment: s.segment, times: times.subarray(begin, i), first: begin, utc: s.utc, columns: new Map() };
        columns.forEach((v, id) => piece.columns.set(id, { values: v.subarray(begin, i), late: lateness.get(id) }));
        run.pieces.push(piece);
        begin = i;
      }
    }
    place(run);
  }

  /** Boots side by side: each has its own clock, so what lies between them has no length of its own. */
  function place(run) {
    const lengths = new Map();
    const longer = (segment, t) => lengths.set(segment, Math.max(lengths.get(segment) || 0, t));
    run.segments.forEach((s) => longer(s.segment, 1));
    run.pieces.forEach((p) => longer(p.segment, p.times[p.times.length - 1]));
    run.stages.forEach((s) => longer(s.segment, s.to));
    run.moments.forEach((m) => longer(m.segment, m.to));
    const total = [...lengths.values()].reduce((a, b) => a + b, 0);
    const between = Math.max(2, 0.02 * total);
    run.spans = [];
    let x = 0;
    for (const segment of [...lengths.keys()].sort((a, b) => a - b)) {
      run.spans.push({ segment, from: x, to: x + lengths.get(segment) });
      x += lengths.get(segment) + between;
    }
    run.shift = 0;
    run.end = Math.max(1, x - between);
  }

  const toX = (run, segment, t) => (run.spans.find((s) => s.segment === segment) || run.spans[0]).from + t + run.shift;

  /** The boot that lies at a place of the axis, and the time on its clock; null between boots. */
  function fromX(run, x) {
    const own = x - run.shift;
    const span = run.spans.find((s) => own >= s.from && own <= s.to);
    return span ? { segment: span.segment, t: own - span.from } : null;
  }

  function clock(seconds, tenths) {
    const s = tenths ? Math.round(seconds * 10) / 10 : Math.floor(seconds + 1e-6);
    const h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60, r = s - 60 * Math.floor(s / 60);
    const rest = tenths ? r.toFixed(1).padStart(4, "0") : String(Math.floor(r)).padStart(2, "0");
    return h ? h + ":" + String(m).padStart(2, "0") + ":" + rest : m + ":" + rest;
  }

  const bootClock = (at, tenths) => (at.segment ? "boot " + (at.segment + 1) + " " : "") + clock(at.t, tenths);

  function nearest(run, at) {
    let best = null, distance = Infinity;
    for (const p of run.pieces) {
      if (p.segment !== at.segment) continue;
      const i = lowerBound(p.times, at.t);
      for (const k of [i - 1, i]) {
        if (k >= 0 && k < p.times.length && Math.abs(p.times[k] - at.t) < distance) {
          distance = Math.abs(p.times[k] - at.t);
          best = { piece: p, index: k };
        }
      }
    }
    return best && distance <= 2.5 * run.period + 0.1 ? best : null;
  }

  function utcOf(hit) {
    const number = hit.piece.first + hit.index;
    let offset = hit.piece.utc[1];
    for (let i = 0; i < hit.piece.utc.length && hit.piece.utc[i] <= number; i += 2) offset = hit.piece.utc[i + 1];
    return new Date(hit.piece.times[hit.index] * 1000 + offset).toISOString().replace("T", " ").slice(0, 19) + " UTC";
  }

  function digits(v) {
    if (v === null || v !== v) return "–";
    const a = Math.abs(v);
    const rounded = v.toFixed(a >= 1000 || Math.abs(v - Math.round(v)) < 1e-6 * Math.max(1, a) ? 0 : a >= 100 ? 1 : a >= 1 ? 2 : 4);
    return rounded.includes(".") ? rounded.replace(/0+$/, "").replace(/\.$/, "") : rounded;
  }

  // ---- Drawing ----------------------------------------------------------------------------------------------------

  const as = (u, min, max) => [min, max];
  const MARGIN = 22, HEIGHT = 158, LANE = 22, AXIS = 58;
  const DASHES = [[], [7, 3], [2, 3], [9, 3, 2, 3], [5, 2, 1, 2, 1, 2]];
  const ROLES = ["gpu-discrete", "cpu", "gpu-integrated", "battery", "adapter", "fan", "memory", "board"];
  const charts = [];
  let view = { from: 0, to: 1 };
  let whole = { from: 0, to: 1 };
  let before = [];
  let cursor = null;
  let marked = null;

  const style = () => getComputedStyle(document.body);
  const ink = (name) => style().getPropertyValue("--" + name).trim();
  let inks = {};
  function readInks() {
    for (const n of ["text", "quiet", "grid", "band", "band2", "fault", "notice", "limit", "mark", "gap", ...ROLES.map((_, i) => "c" + i), "c8"]) {
      inks[n] = ink(n);
    }
  }
  const colour = (role) => inks["c" + (ROLES.indexOf(role) < 0 ? 8 : ROLES.indexOf(role))];

  function ticks(min, max, width) {
    const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400, 172800, 604800];
    const least = (max - min) / Math.max(2, width / 90);
    const step = steps.find((s) => s >= least) || steps[steps.length - 1];
    const found = [];
    const run = runs[0];
    for (const s of run.spans) {
      const seen = Math.min(s.to, max) - Math.max(s.from, min);
      if (seen < (30 / width) * (max - min) && run.spans.length > 1) continue;
      const a = Math.max(0, min - s.from), b = Math.min(s.to, max) - s.from;
      for (let k = Math.ceil(a / step); k * step <= b; k++) found.push(s.from + k * step);
    }
    return found.length ? found : [min];
  }

  function tickText(x) {
    const at = fromX(runs[0], x);
    return at ? clock(at.t, view.to - view.from < 10) : "";
  }

  class Chart {
    constructor(element) {
      this.element = element;
      this.key = element.dataset.chart;
      this.lanes = this.key === "states";
      this.zero = element.dataset.zero === "true";
      this.plot = element.querySelector(".plot");
      this.legend = element.querySelector(".legend");
      this.lines = [];
      runs.forEach((run, r) => {
        const seen = new Map();
        for (const c of run.channels.filter((c) => c.chart === this.key)) {
          const n = seen.get(c.role) || 0;
          seen.set(c.role, n + 1);
          this.lines.push({ run, r, channel: c, n, shown: true });
        }
      });
      this.limits = [];
      for (const line of this.lines) {
        for (const limit of line.channel.limits) {
          if (!this.limits.some((l) => l.value === limit.value && l.text === limit.text)) this.limits.push(limit);
        }
      }
      const ids = [...new Set(this.lines.map((l) => l.channel.id))];
      this.lines.forEach((l) => {
        l.lane = ids.length - 1 - ids.indexOf(l.channel.id);
        l.scale = this.lanes ? 0.74 / Math.max(1, l.channel.highest) : l.channel.scale;
        l.offset = this.lanes ? l.lane + 0.1 : 0;
      });
      this.rows = ids.length;
      this.fill();
    }

    height() {
      return this.lanes ? Math.max(60, this.rows * LANE + 30) : Math.max(HEIGHT, Math.min(320, 28 + this.lines.length * 30));
    }

    fill() {
      this.legend.textContent = "";
      for (const line of this.lines) {
        const item = make("li");
        const button = make("button", "key");
        button.type = "button";
        button.setAttribute("aria-pressed", "true");
        button.title = line.channel.about;
        const swatch = document.createElementNS("http://www.w3.org/2000/svg", "svg");
        swatch.setAttribute("class", "swatch");
        swatch.setAttribute("viewBox", "0 0 24 8");
        swatch.setAttribute("aria-hidden", "true");
        const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
        path.setAttribute("d", "M0 4H24");
        swatch.append(path);
        line.swatch = path;
        const name = make("span", "name");
        if (runs.length > 1) name.append(make("b", "", line.r ? "B " : "A "));
        name.append(make("bdi", "", line.channel.name));
        line.value = make("span", "value", "");
        line.span = make("span", "span", "");
        button.append(swatch, name, line.value, line.span);
        button.addEventListener("click", () => {
          line.shown = !line.shown;
          button.setAttribute("aria-pressed", String(line.shown));
          this.draw();
        });
        button.addEventListener("mouseenter", () => this.stress(line));
        button.addEventListener("mouseleave", () => this.stress(null));
        item.append(button);
        this.legend.append(item);
      }
    }

    stress(line) {
      this.stressed = line;
      if (this.u) this.u.redraw(false);
    }

    paint() {
      // A part has one colour on the whole page; its further lines in a chart take those that no part of the chart has.
      const taken = new Set(this.lines.map((l) => colour(l.channel.role)));
      const free = [...ROLES.map((_, i) => inks["c" + i]), inks.c8].filter((c) => !taken.has(c));
      for (const line of this.lines) {
        line.stroke = line.channel.limit ? inks.limit
          : line.n === 0 || this.lanes || !free.length ? colour(line.channel.role) : free[(line.n - 1) % free.length];
        line.dash = this.lanes ? [] : line.channel.limit ? [3, 4] : line.r ? [1, 2.5] : DASHES[line.n % DASHES.length];
        line.swatch.setAttribute("stroke", line.stroke);
        line.swatch.setAttribute("stroke-dasharray", line.dash.join(" "));
        line.swatch.setAttribute("stroke-width", line.r ? 1.6 : 2);
      }
    }

    /** The arrays for the library: times that all lines share, then the values of each; null breaks a line. */
    arrays(columns) {
      const tables = [];
      runs.forEach((run) => {
        const mine = this.lines.filter((l) => l.run === run);
        const table = [[], ...mine.map(() => [])];
        for (const piece of run.pieces) {
          const shift = toX(run, piece.segment, 0);
          const r = range(piece, view.from - shift, view.to - shift, columns);
          if (r.first >= r.end || piece.times[r.first] > view.to - shift || piece.times[r.end - 1] < view.from - shift) continue;
          const start = piece.times[r.first] + shift;
          if (table[0].length) {
            table[0].push((table[0][table[0].length - 1] + start) / 2);
            mine.forEach((_, i) => table[i + 1].push(null));
          }
          timesOf(piece, r, shift, table[0]);
          mine.forEach((l, i) => valuesOf(piece.columns.get(l.channel.id), r, l.scale, l.offset, table[i + 1], table[0]));
        }
        tables.push(table);
      });
      return tables.length === 1 ? tables[0] : uPlot.join(tables, tables.map((t) => t.map(() => 1)));
    }

    draw() {
      const width = Math.max(240, this.plot.clientWidth);
      const columns = Math.max(100, width - AXIS - MARGIN);
      const arrays = this.arrays(columns);
      this.lines.forEach((l, i) => { if (!l.shown) arrays[i + 1] = arrays[i + 1].map(() => null); });
      this.drawn = arrays;
      const range = this.bounds(arrays);
      const size = { width, height: this.height() };
      if (!this.u) {
        this.u = new uPlot(this.options(size), arrays, this.plot);
        this.u.over.addEventListener("mouseleave", () => setCursor(null));
        this.u.over.addEventListener("dblclick", () => show(whole.from, whole.to));
      } else if (this.u.width !== size.width || this.u.height !== size.height) {
        this.u.setSize(size);
      }
      this.u.batch(() => {
        this.u.setData(arrays, false);
        this.u.setScale("x", { min: view.from, max: view.to });
        this.u.setScale("y", range);
      });
      this.spans();
    }

    bounds(arrays) {
      if (this.lanes) return { min: 0, max: this.rows };
      let min = Infinity, max = -Infinity;
      for (let i = 1; i < arrays.length; i++) {
        for (const v of arrays[i]) {
          if (v === null || v === undefined) continue;
          if (v < min) min = v;
          if (v > max) max = v;
        }
      }
      if (min > max) { min = 0; max = 1; }
      if (this.zero && min > 0) min = 0;
      const reach = max + 0.35 * Math.max(1, max - min);
      for (const l of this.limits) if (l.value > max && l.value <= reach) max = l.value + 0.05 * (max - min);
      const room = Math.max((max - min) * 0.06, Math.abs(max) * 1e-3, 1e-6);
      return { min: this.zero && min === 0 ? 0 : min - room, max: max + room };
    }

    options(size) {
      const chart = this;
      return {
        ...size,
        legend: { show: false },
        padding: [6, MARGIN, 0, 0],
        scales: { x: { time: false, auto: false, range: as }, y: { auto: false, range: as } },
        cursor: { y: false, drag: { x: true, y: false, setScale: false }, points: { size: 6 }, bind: { dblclick: () => null } },
        axes: [
          { size: 22, gap: 3, font: FONT, stroke: () => inks.quiet, grid: { stroke: () => inks.grid, width: 1 }, ticks: { show: false },
            splits: (u, _, min, max) => ticks(min, max, u.bbox.width / devicePixelRatio), values: (u, splits) => splits.map(tickText) },
          { size: AXIS, gap: 4, font: FONT, stroke: () => inks.quiet, grid: { stroke: () => inks.grid, width: 1 }, ticks: { show: false },
            space: 34,
            ...(chart.lanes ? { splits: () => Array.from({ length: chart.rows + 1 }, (_, i) => i), values: () => [] } : { values: (u, splits) => splits.map(digits) }) },
        ],
        series: [{}, ...this.lines.map((line) => ({
          stroke: () => line.stroke,
          width: chart.lanes ? 1 : line.r ? 1.25 : 1.5,
          dash: line.dash,
          points: { show: (u, i, i0, i1) => (i1 - i0) * 8 < u.bbox.width / devicePixelRatio && !chart.lanes, size: 3, filter: (u, i, shown) => shown ? null : alone(u.data[i]) },
          paths: line.channel.limit || chart.lanes ? uPlot.paths.stepped({ align: 1 }) : uPlot.paths.linear(),
          ...(chart.lanes ? { fill: () => line.stroke + "40", fillTo: () => line.offset, dash: [] } : {}),
        }))],
        hooks: {
          drawClear: [(u) => chart.under(u)],
          draw: [(u) => chart.over(u)],
          drawSeries: [(u, i) => chart.emphasise(u, i)],
          setCursor: [(u) => {
            if (!moving && u.cursor.left >= 0) setCursor(u.posToVal(u.cursor.left, "x"), chart);
          }],
          setSelect: [(u) => {
            if (u.select.width < 4) return;
            const a = u.posToVal(u.select.left, "x"), b = u.posToVal(u.select.left + u.select.width, "x");
            u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
            show(a, b);
          }],
        },
      };
    }

    emphasise() {}

    /** Stage bands, the time between boots, and what was picked from a list: below the lines. */
    under(u) {
      const c = u.ctx, b = u.bbox;
      const X = (x) => u.valToPos(x, "x", true);
      c.save();
      c.beginPath();
      c.rect(b.left, b.top, b.width, b.height);
      c.clip();
      runs[0].stages.forEach((s, i) => {
        const a = X(toX(runs[0], s.segment, s.from)), e = X(toX(runs[0], s.segment, s.to));
        c.fillStyle = i % 2 ? inks.band2 : inks.band;
        c.fillRect(a, b.top, e - a, b.height);
      });
      for (let i = 1; i < runs[0].spans.length; i++) {
        const a = X(runs[0].spans[i - 1].to), e = X(runs[0].spans[i].from);
        hatch(c, a, b.top, e - a, b.height);
      }
      if (marked) {
        c.fillStyle = inks.mark;
        const a = X(marked.from), e = X(marked.to);
        c.fillRect(a - 1, b.top, Math.max(2 * devicePixelRatio, e - a), b.height);
      }
      c.restore();
    }

    /** Limits that the device states, and marks of what happened: above the lines. */
    over(u) {
      const c = u.ctx, b = u.bbox, d = devicePixelRatio;
      c.save();
      c.beginPath();
      c.rect(b.left, b.top, b.width, b.height);
      c.clip();
      c.font = 11 * d + "px " + FONT_NAME;
      c.textBaseline = "bottom";
      c.textAlign = "right";
      const labelled = [];
      c.textBaseline = "middle";
      for (const l of this.limits) {
        const y = u.valToPos(l.value, "y", true);
        if (y < b.top || y > b.top + b.height) continue;
        c.strokeStyle = inks.limit;
        c.lineWidth = d;
        c.setLineDash([8 * d, 4 * d]);
        c.beginPath();
        c.moveTo(b.left, y);
        c.lineTo(b.left + b.width, y);
        c.stroke();
        labelled.push({ y, text: l.text + ", " + digits(l.value), first: l.slowdown ? 0 : 1 });
      }
      // Where lines lie close, the one at which the part slows itself down is named.
      const taken = [];
      for (const l of labelled.sort((p, q) => p.first - q.first)) {
        if (taken.some((y) => Math.abs(y - l.y) < 13 * d)) continue;
        taken.push(l.y);
        const w = c.measureText(l.text).width;
        c.fillStyle = inks.band;
        c.fillRect(b.left + b.width - w - 10 * d, l.y - 7 * d, w + 8 * d, 14 * d);
        c.fillStyle = inks.limit;
        c.fillText(l.text, b.left + b.width - 6 * d, l.y + 0.5 * d);
      }
      c.setLineDash([]);
      runs.forEach((run) => run.moments.forEach((m) => {
        // What lasts has its place in the strip above and in the lanes; lines are for moments.
        if (m.weight !== "fault" || m.to > m.from) return;
        const x = u.valToPos(toX(run, m.segment, m.from), "x", true);
        if (x < b.left || x > b.left + b.width) return;
        c.strokeStyle = inks.fault;
        c.lineWidth = d;
        c.setLineDash([1 * d, 3 * d]);
        c.beginPath();
        c.moveTo(x, b.top);
        c.lineTo(x, b.top + b.height);
        c.stroke();
      }));
      c.restore();
      if (this.stressed) {
        // The line that the legend points at, drawn again on top.
        const i = this.lines.indexOf(this.stressed) + 1;
        const paths = u.series[i]._paths;
        if (paths && paths.stroke) {
          c.save();
          c.beginPath();
          c.rect(b.left, b.top, b.width, b.height);
          c.clip();
          c.strokeStyle = this.stressed.stroke;
          c.lineWidth = 3 * d;
          c.stroke(paths.stroke);
          c.restore();
        }
      }
    }

    /** Lowest and highest of what is in view, from the drawing, which holds them all. */
    spans() {
      this.lines.forEach((l, i) => {
        let min = Infinity, max = -Infinity;
        const x = this.drawn[0], y = this.drawn[i + 1];
        for (let k = 0; k < x.length; k++) {
          if (y[k] === null || y[k] === undefined || x[k] < view.from || x[k] > view.to) continue;
          if (y[k] < min) min = y[k];
          if (y[k] > max) max = y[k];
        }
        if (this.lanes) {
          l.span.textContent = max > l.offset + 1e-3 ? "seen" : "";
        } else {
          l.span.textContent = min > max ? "no reading" : digits(min) + " … " + digits(max);
        }
      });
    }

    read(x) {
      for (const l of this.lines) {
        const hit = x === null ? null : hits[l.r];
        const column = hit && hit.piece.columns.get(l.channel.id);
        const v = column ? column.values[hit.index] : NaN;
        l.value.textContent = x === null ? "" : v !== v ? "–" : this.lanes ? digits(v) : digits(v * l.channel.scale);
      }
    }
  }

  /** Places of readings without a neighbour to be joined to: no line shows them. */
  function alone(values) {
    const found = [];
    let last = -1, length = 0;
    for (let i = 0; i <= values.length; i++) {
      const v = i < values.length ? values[i] : null;
      if (v === undefined) continue;
      if (v !== null) {
        last = i;
        length++;
      } else {
        if (length === 1) found.push(last);
        length = 0;
      }
    }
    return found.length ? found : null;
  }

  function hatch(c, x, y, w, h) {
    if (w <= 0) return;
    c.save();
    c.beginPath();
    c.rect(x, y, w, h);
    c.clip();
    c.strokeStyle = inks.gap;
    c.lineWidth = devicePixelRatio;
    c.beginPath();
    for (let k = -h; k < w; k += 7 * devicePixelRatio) {
      c.moveTo(x + k, y + h);
      c.lineTo(x + k + h, y);
    }
    c.stroke();
    c.restore();
  }

  const FONT_NAME = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', 'Liberation Sans', sans-serif";
  const FONT = "11px " + FONT_NAME;

  // ---- One view, one crosshair ------------------------------------------------------------------------------------

  let pending = false;
  function redraw() {
    if (pending) return;
    pending = true;
    requestAnimationFrame(() => {
      pending = false;
      charts.forEach((c) => c.draw());
      timeline();
      setCursor(cursor);
    });
  }

  function show(from, to, keep) {
    const least = Math.max(0.05, 2 * Math.min(...runs.map((r) => r.period)));
    let length = Math.min(Math.max(to - from, least), whole.to - whole.from);
    let start = Math.min(Math.max((from + to - length) / 2, whole.from), whole.to - length);
    if (!keep && (Math.abs(start - view.from) > 1e-6 || Math.abs(length - view.to + view.from) > 1e-6)) {
      before.push({ view: { ...view }, marked });
      if (before.length > 100) before.shift();
    }
    view = { from: start, to: start + length };
    redraw();
  }

  let moving = false;
  let hits = [];
  function setCursor(x, source) {
    cursor = x;
    hits = runs.map((run) => {
      const at = x === null ? null : fromX(run, x);
      return at && nearest(run, at);
    });
    moving = true;
    for (const c of charts) {
      if (c !== source && c.u) c.u.setCursor({ left: x === null ? -10 : c.u.valToPos(x, "x"), top: x === null ? -10 : 10 }, false);
      c.read(x);
    }
    moving = false;
    $("readout").textContent = readout(x);
  }

  function stageAt(run, at) {
    const s = at && run.stages.find((s) => s.segment === at.segment && at.t >= s.from && at.t <= s.to);
    return s ? s.id : "";
  }

  function edge(run, x) {
    const ends = run.spans[run.spans.length - 1];
    const at = fromX(run, Math.min(Math.max(x, run.shift), ends.to + run.shift));
    return at ? bootClock(at) : "the interruption";
  }

  function readout(x) {
    const run = runs[0];
    if (x === null) {
      return edge(run, view.from) + " to " + edge(run, view.to);
    }
    const at = fromX(run, x);
    if (!at) return "between two boots";
    const stage = stageAt(run, at);
    return bootClock(hits[0] ? { segment: at.segment, t: hits[0].piece.times[hits[0].index] } : at, true) +
      (hits[0] ? "  ·  " + utcOf(hits[0]) : "  ·  no reading here") + (stage ? "  ·  " + stage : "");
  }

  function speak() {
    const first = charts[0];
    $("spoken").textContent = readout(cursor) + (first ? ". " + first.lines.map((l) => l.channel.name + " " + l.value.textContent).join(", ") : "");
  }

  function lastMinute() {
    const run = runs[0];
    if (run.cut) {
      const end = toX(run, run.cut.segment, run.cut.at);
      // A little of what comes after, so that the end is seen as one.
      show(end - 60, end + 4);
    } else {
      show(run.end - 60, run.end);
    }
  }

  function back() {
    const last = before.pop();
    if (!last) return;
    view = last.view;
    marked = last.marked;
    picked(null);
    redraw();
  }

  function zoom(factor) {
    const middle = cursor !== null && cursor >= view.from && cursor <= view.to ? cursor : (view.from + view.to) / 2;
    show(middle - (middle - view.from) * factor, middle + (view.to - middle) * factor);
  }

  function pan(share) {
    const by = (view.to - view.from) * share;
    const from = Math.min(Math.max(view.from + by, whole.from), whole.to - (view.to - view.from));
    show(from, from + view.to - view.from);
  }

  /** To the next reading; ten with Shift. */
  function step(direction, far) {
    const run = runs[0];
    if (cursor === null) {
      setCursor(direction > 0 ? view.from : view.to);
    } else {
      const dots = (view.to - view.from) / Math.max(100, charts.length ? charts[0].u.bbox.width / devicePixelRatio : 600);
      setCursor(Math.min(whole.to, Math.max(whole.from, cursor + direction * (far ? 10 : 1) * Math.max(run.period, dots))));
    }
    if (cursor < view.from || cursor > view.to) show(cursor - (view.to - view.from) / 2, cursor + (view.to - view.from) / 2, true);
    speak();
  }

  const DOES = {
    whole: () => show(whole.from, whole.to),
    last: lastMinute,
    back,
    in: () => zoom(0.5),
    out: () => zoom(2),
    left: () => pan(-0.5),
    right: () => pan(0.5),
  };

  function keys(e) {
    if (e.ctrlKey || e.metaKey || e.altKey || /^(INPUT|SELECT|TEXTAREA)$/.test(e.target.tagName)) return;
    const inCharts = $("charts").contains(e.target) || e.target === document.body;
    const does = {
      "+": DOES.in, "=": DOES.in, "-": DOES.out, "0": DOES.whole, l: DOES.last, L: DOES.last, b: back, B: back,
      ...(inCharts ? {
        ArrowLeft: () => step(-1, e.shiftKey), ArrowRight: () => step(1, e.shiftKey),
        PageUp: DOES.left, PageDown: DOES.right,
        Home: () => setCursor(view.from), End: () => setCursor(view.to), Escape: () => setCursor(null),
      } : {}),
    }[e.key];
    if (does) {
      e.preventDefault();
      does();
    }
  }

  // ---- The strip above the charts: stages, what happened, and which part is in view --------------------------------

  function timeline() {
    const strip = $("timeline");
    strip.textContent = "";
    const lengthOf = (v) => v.to - v.from;
    const put = (cssClass, from, to, parent, range) => {
      const e = make("div", cssClass);
      e.style.left = ((from - range.from) / lengthOf(range)) * 100 + "%";
      e.style.width = Math.max(0, (to - from) / lengthOf(range)) * 100 + "%";
      parent.append(e);
      return e;
    };
    runs.forEach((run, r) => {
      const row = make("div", "row");
      strip.append(row);
      run.stages.forEach((s, i) => {
        const a = toX(run, s.segment, s.from), b = toX(run, s.segment, s.to);
        const band = put("band" + (i % 2 ? " other" : "") + (s.why === "completed" ? "" : " cut"), a, b, row, whole);
        band.append(make("span", "", (runs.length > 1 ? (r ? "B " : "A ") : "") + s.id));
        band.title = s.id + ", " + clock(s.from) + " to " + clock(s.to) + ", " + s.why;
        band.addEventListener("click", () => show(a, b));
      });
      for (let i = 1; i < run.spans.length; i++) {
        put("gap", run.spans[i - 1].to + run.shift, run.spans[i].from + run.shift, row, whole).title = "between boots";
      }
      const marks = make("div", "row marks");
      strip.append(marks);
      run.moments.forEach((m, n) => {
        if (m.weight === "detail") return;
        const a = toX(run, m.segment, m.from), b = toX(run, m.segment, m.to);
        const e = put("tick " + m.weight, a, b, marks, whole);
        e.title = bootClock({ segment: m.segment, t: m.from }) + " " + m.title;
        e.addEventListener("click", () => {
          const button = document.querySelector(`.moments[data-run="${r}"] .moment[data-number="${n}"]`);
          if (button) { button.click(); button.scrollIntoView({ block: "nearest" }); }
        });
      });
    });
    put("window", view.from, view.to, strip, whole);
  }

  // ---- Lists -------------------------------------------------------------------------------------------------------

  function picked(button) {
    document.querySelectorAll(".jump[aria-current]").forEach((b) => b.removeAttribute("aria-current"));
    if (button) button.setAttribute("aria-current", "true");
  }

  function jump(button) {
    if (button.getAttribute("aria-current")) {
      back();
      return;
    }
    const d = button.dataset;
    const run = runs[Number(d.run)];
    const a = toX(run, Number(d.segment), Number(d.from)), b = toX(run, Number(d.segment), Number(d.to));
    const lead = Math.max(15, 15 * run.period, (b - a) * 0.4);
    const was = marked;
    const last = { view: { ...view }, marked: was };
    before.push(last);
    marked = { from: a, to: b };
    show(a - lead, b + lead, true);
    cursor = a;
    picked(button);
    const chart = d.chart && $("chart-" + d.chart);
    if (chart) chart.scrollIntoView({ block: "nearest" });
  }

  // ---- Beginning ---------------------------------------------------------------------------------------------------

  function limitsOfAxis() {
    whole = {
      from: Math.min(...runs.map((r) => r.shift)),
      to: Math.max(...runs.map((r) => r.end + r.shift)),
    };
  }

  function align(stage) {
    const b = runs[1];
    b.shift = 0;
    const [mine, other] = runs.map((r) => r.stages.find((s) => s.id === stage));
    if (mine && other) b.shift = toX(runs[0], mine.segment, mine.from) - toX(b, other.segment, other.from);
    limitsOfAxis();
    show(whole.from, whole.to);
  }

  async function begin() {
    for (const run of runs) await open(run);
    limitsOfAxis();
    view = { ...whole };
    readInks();
    document.querySelectorAll(".chart").forEach((e) => charts.push(new Chart(e)));
    charts.forEach((c) => c.paint());
    document.querySelectorAll("[data-do]").forEach((b) => b.addEventListener("click", () => DOES[b.dataset.do]()));
    document.querySelectorAll(".jump").forEach((b) => b.addEventListener("click", () => jump(b)));
    document.querySelectorAll("[data-all]").forEach((box) => box.addEventListener("change", () =>
      document.querySelector(`.moments[data-run="${box.dataset.all}"]`).classList.toggle("all", box.checked)));
    if ($("align")) $("align").addEventListener("change", () => align($("align").value));
    document.addEventListener("keydown", keys);
    $("charts").addEventListener("wheel", (e) => {
      if (!e.ctrlKey) return;
      e.preventDefault();
      zoom(e.deltaY < 0 ? 0.8 : 1.25);
    }, { passive: false });
    new ResizeObserver(redraw).observe($("charts"));
    const repaint = () => {
      readInks();
      charts.forEach((c) => c.paint());
      charts.forEach((c) => c.u && c.u.redraw(false));
    };
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { repaint(); redraw(); });
    addEventListener("beforeprint", repaint);
    addEventListener("afterprint", repaint);
    if (runs.length === 1 && runs[0].cut) lastMinute(); else redraw();
    requestAnimationFrame(() => requestAnimationFrame(() => { document.body.dataset.ready = "yes"; }));
  }

  // What the tests look at.
  window.review = {
    view: () => ({ ...view }), whole: () => ({ ...whole }), show, charts, runs, range, timesOf, valuesOf, pyramid, cursor: () => cursor,
  };

  begin().catch((e) => {
    const p = make("p", "stamp", "The readings cannot be drawn: " + e.message + ". A browser not older than 2023 is needed.");
    $("charts").prepend(p);
    document.body.dataset.ready = "failed";
  });
})();
