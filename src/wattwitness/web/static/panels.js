/* Panels of a ride over one time axis: read, zoomed, moved and marked together. Lines come in as they are ready. */
import { columnTimes, columnsOf, meansOf, sampleAt } from "./extremes.js";

const SHORTEST_S = 5, GUTTER = 52, STEPS_S =
  [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400];
const DASHES = { other: [9, 3, 2, 3], limit: [5, 3], expected: [6, 4] };
const ARROWS = { ArrowLeft: -1, ArrowRight: 1 };
const READS_WITHIN_S = 3;
const MINUS = "\u2212", NONE = "\u2013";

export function clock(seconds) {
  const whole = Math.round(Math.abs(seconds)), two = (n) => String(n).padStart(2, "0");
  const sign = seconds < 0 && whole ? MINUS : "";
  return `${sign}${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/* h:mm:ss, m:ss or seconds as typed; NaN for anything else. */
export function secondsOf(text) {
  const parts = text.trim().split(":");
  if (!parts[0] || parts.length > 3 || parts.some((part) => !/^\d+(\.\d+)?$/.test(part))) { return NaN; }
  return parts.reduce((sum, part) => sum * 60 + Number(part), 0);
}

const colour = (role) => getComputedStyle(document.documentElement).getPropertyValue(`--${role}`).trim();
const faint = (role, share) => `color-mix(in srgb, ${colour(role)} ${share}%, transparent)`;

function spoken(value, unit) {
  if (Number.isNaN(value)) { return NONE; }
  const text = Math.abs(value).toFixed(unit === "%" ? 1 : 0), zero = Number(text) === 0;
  const sign = value < 0 && !zero ? MINUS : unit === "%" && !zero ? "+" : "";
  return `${sign}${text}\u00a0${unit}`.trimEnd();
}

export class Panels {
  /* `host` gets the panels; `kinds` are { name, label, unit, share, floor, zero } in their order. */
  constructor(host, kinds, { onChoose, onRead } = {}) {
    this.host = host;
    this.onChoose = onChoose;
    this.onRead = onRead;
    this.panels = kinds.map((kind) => ({ ...kind, lines: [], plot: null }));
    this.spans = [];
    this.chosen = null;
    this.meanS = 1;
    this.whole = { min: 0, max: 1 };
    this.view = { ...this.whole };
    this.at = null;
    host.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.fit()).observe(host);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.redraw());
  }

  /* A line for the panel called `kind`; one of the same place takes the place of the old: two may bear one name. */
  add(kind, line) {
    const panel = this.panels.find((one) => one.name === kind);
    if (!panel || !line.time.length) { return; }
    panel.lines = [...panel.lines.filter((one) => one.order !== line.order), { shift: 0, ...line, mean: meansOf(line, this.meanS) }];
    panel.lines.sort((a, b) => a.order - b.order);
    const first = line.time[0], last = line.time[line.time.length - 1], was = { ...this.whole };
    const all = this.view.min === was.min && this.view.max === was.max;
    this.whole = was.max === 1 && was.min === 0 ? { min: Math.min(0, first), max: last }
      : { min: Math.min(was.min, first), max: Math.max(was.max, last) };
    if (all) { this.view = { ...this.whole }; }
    this.build(panel);
    this.later();
  }

  build(panel) {
    panel.plot?.destroy();
    panel.box?.remove();
    panel.box = document.createElement("div");
    panel.box.className = "panel";
    const legend = document.createElement("div");
    legend.className = "legend";
    const axis = Object.assign(document.createElement("span"), { className: "axis-name", textContent: panel.label });
    const list = document.createElement("ul");
    panel.outputs = panel.lines.map((line) => {
      const item = document.createElement("li"), sample = document.createElement("span");
      sample.className = `sample ${line.role}`;
      const value = Object.assign(document.createElement("output"), { className: "value" });
      item.append(sample, Object.assign(document.createElement("span"), { textContent: line.name }), value);
      list.append(item);
      return value;
    });
    legend.append(axis, list);
    const drawing = document.createElement("div");
    drawing.className = "plot";
    panel.box.append(legend, drawing);
    const next = this.panels.slice(this.panels.indexOf(panel) + 1).find((one) => one.box?.isConnected);
    this.host.insertBefore(panel.box, next?.box ?? null);
    panel.plot = this.plot(panel, drawing);
  }

  plot(panel, drawing) {
    const width = Math.max(this.host.clientWidth, 240);
    const plot = new uPlot({
      width,
      height: this.height(panel, width),
      padding: [6, 14, 0, 0],
      legend: { show: false },
      scales: { x: { time: false, range: () => [this.view.min, this.view.max] }, y: { range: () => this.range(panel) } },
      axes: this.axes(panel),
      series: [{}, ...panel.lines.map((line) => ({
        label: line.name,
        stroke: () => colour(line.role),
        width: line.filled ? 1 : 1.5,
        dash: DASHES[line.role],
        fill: line.filled ? () => faint(line.role, 28) : undefined,
        fillTo: line.filled ? () => 0 : undefined,
        points: { show: false },
      }))],
      cursor: {
        y: false,
        points: { show: false },
        drag: { x: true, y: false, setScale: false, dist: 4 },
        sync: { key: "ride", setSeries: false },
        bind: { dblclick: () => () => { this.showAll(); return null; } },
      },
      hooks: {
        drawClear: [(u) => this.behind(u)],
        draw: [(u) => { if (u === this.plots()[0]) { this.spans.forEach((span) => this.numbered(u, span)); } }],
        setCursor: [(u) => { if (u.cursor.event) { this.read(u.cursor.left < 0 ? null : u.posToVal(u.cursor.left, "x")); } }],
        setSelect: [(u) => this.selected(u)],
      },
    }, this.data(panel, width), drawing);
    plot.over.addEventListener("wheel", (event) => this.wheel(event, plot), { passive: false });
    this.touch(plot);
    return plot;
  }

  height(panel, width) { return Math.round((width < 560 ? 96 : 118) * panel.share) + (this.isLast(panel) ? 28 : 6); }

  isLast(panel) { return panel === [...this.panels].reverse().find((one) => one.lines.length); }

  data(panel, width) {
    const count = Math.max(60, Math.round(width - GUTTER - 14)), { min, max } = this.view;
    return [columnTimes(min, max, count), ...panel.lines.map((line) => columnsOf(line.mean, min, max, count, line.shift))];
  }

  /* What is seen of the values: from the whole ride, so that an axis does not jump while one moves along it. */
  range(panel) {
    let low = Infinity, high = -Infinity;
    for (const line of panel.lines) {
      if (!line.extent) { line.extent = extentOf(line.values); }
      low = Math.min(low, line.extent[0]);
      high = Math.max(high, line.extent[1]);
    }
    if (low > high) { return [0, 1]; }
    if (panel.zero) { low = Math.min(low, 0); high = Math.max(high, 0); }
    if (panel.floor !== undefined) { low = panel.floor; }
    const room = (high - low || 1) * 0.05;
    return [panel.floor === undefined ? low - room : low, high + room];
  }

  axes(panel) {
    const last = this.isLast(panel);
    const line = { stroke: () => colour("soft"), font: "12px system-ui, sans-serif",
      grid: { stroke: () => colour("grid"), width: 1 }, ticks: { show: false } };
    const places = (u, axis, min, max, step) => {
      const found = [];
      for (let at = Math.ceil(min / step) * step; at <= max + 1e-6; at += step) { found.push(at); }
      return found;
    };
    return [
      { ...line, size: last ? 28 : 6, gap: 6, space: 76, incrs: STEPS_S, splits: places,
        values: (u, at) => at.map((one) => (last ? clock(one) : "")) },
      { ...line, size: GUTTER, gap: 6, space: 30, values: (u, at) => at.map((one) => (one < 0 ? MINUS : "") + Math.abs(one)) },
    ];
  }

  behind(u) {
    this.spans.forEach((span) => this.stretch(u, span));
    if (this.chosen) { this.stretch(u, { start: this.chosen.from, end: this.chosen.to, role: "spot", shading: "plain" }); }
    if (this.at !== null) {
      const x = u.valToPos(this.at, "x", true);
      if (x >= u.bbox.left && x <= u.bbox.left + u.bbox.width) {
        u.ctx.fillStyle = colour("soft");
        u.ctx.fillRect(x, u.bbox.top, devicePixelRatio, u.bbox.height);
      }
    }
  }

  /* Filling and edges tell kinds of stretches apart without colour. */
  stretch(u, span) {
    const left = Math.max(u.valToPos(span.start, "x", true), u.bbox.left);
    const right = Math.min(u.valToPos(span.end, "x", true), u.bbox.left + u.bbox.width);
    if (right < u.bbox.left || left > u.bbox.left + u.bbox.width) { return; }
    const { ctx } = u, ratio = devicePixelRatio, step = 8 * ratio, { top, height } = u.bbox, width = Math.max(right - left, 2);
    ctx.save();
    ctx.beginPath();
    ctx.rect(left, top, width, height);
    ctx.clip();
    ctx.fillStyle = faint(span.role, 20);
    ctx.fillRect(left, top, width, height);
    ctx.strokeStyle = ctx.fillStyle = faint(span.role, 70);
    ctx.lineWidth = ratio;
    ctx.beginPath();
    if (span.shading === "dotted") {
      for (let x = left + step / 2; x < left + width; x += step) {
        for (let y = top + step / 2; y < top + height; y += step) { ctx.moveTo(x + ratio, y); ctx.arc(x, y, ratio, 0, 7); }
      }
      ctx.fill();
    } else if (span.shading !== "plain") {
      const slopes = span.shading === "crossed" ? [1, -1] : span.shading === "rising" ? [-1] : [1];
      for (const slope of slopes) {
        const foot = slope < 0 ? top + height : top;
        for (let x = left - height + step / 2; x < left + width; x += step) { ctx.moveTo(x, foot); ctx.lineTo(x + height, foot + slope * height); }
      }
      ctx.stroke();
    }
    ctx.fillRect(left, top, ratio, height);
    ctx.fillRect(left + width - ratio, top, ratio, height);
    ctx.restore();
  }

  /* The number an episode has in the list beside the panels, at its start; a row for each unit. */
  numbered(u, span) {
    const ratio = devicePixelRatio, size = 13 * ratio, x = Math.max(u.valToPos(span.start, "x", true), u.bbox.left);
    if (!span.number || u.valToPos(span.end, "x", true) < u.bbox.left || x > u.bbox.left + u.bbox.width - size) { return; }
    const { ctx } = u, y = u.bbox.top + span.row * size;
    ctx.save();
    ctx.font = `bold ${11 * ratio}px system-ui, sans-serif`;
    ctx.textBaseline = "top";
    ctx.textAlign = "left";
    const width = ctx.measureText(span.number).width + 4 * ratio;
    ctx.fillStyle = colour("card");
    ctx.fillRect(x, y, width, size);
    ctx.fillStyle = colour("ink");
    ctx.fillText(span.number, x + 2 * ratio, y + ratio);
    ctx.restore();
  }

  selected(u) {
    if (u.select.width < 4) { return; }
    const from = u.posToVal(u.select.left, "x"), to = u.posToVal(u.select.left + u.select.width, "x");
    this.plots().forEach((plot) => plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false));
    this.choose({ from, to });
  }

  /* The stretch that is spoken about; null: none. */
  choose(stretch, { quiet = false } = {}) {
    this.chosen = stretch && stretch.to > stretch.from ? { from: Math.round(stretch.from), to: Math.round(stretch.to) } : null;
    this.redraw();
    if (!quiet) { this.onChoose?.(this.chosen); }
  }

  plots() { return this.panels.map((panel) => panel.plot).filter(Boolean); }

  /* Values at a time, beside the names of the lines. */
  read(at) {
    this.panels.forEach((panel) => panel.outputs?.forEach((output, k) => {
      const line = panel.lines[k];
      output.textContent = at === null ? "" : spoken(sampleAt(line.mean, at - line.shift, READS_WITHIN_S), panel.unit);
    }));
    this.onRead?.(at === null ? NONE : clock(at));
  }

  words() {
    return this.panels.flatMap((panel) => panel.lines.map((line, k) => `${line.name} ${panel.outputs[k].textContent}`)).join(", ");
  }

  setView(min, max) {
    const span = Math.min(Math.max(max - min, SHORTEST_S), this.whole.max - this.whole.min);
    const start = Math.min(Math.max(min, this.whole.min), this.whole.max - span);
    this.view = { min: start, max: start + span };
    this.later();
  }

  /* About a time; without one about the reading while it is in view, else about the middle. */
  zoom(factor, at = this.middle()) {
    this.setView(at - (at - this.view.min) * factor, at + (this.view.max - at) * factor);
  }

  middle() {
    const { min, max } = this.view, seen = this.at !== null && this.at >= min && this.at <= max;
    return seen ? this.at : (min + max) / 2;
  }

  pan(share) {
    const by = (this.view.max - this.view.min) * share;
    this.setView(this.view.min + by, this.view.max + by);
  }

  showAll() { this.setView(this.whole.min, this.whole.max); }

  show(from, to) {
    const room = Math.max((to - from) * 0.6, 20);
    this.setView(from - room, to + room);
  }

  setMean(seconds) {
    this.meanS = seconds;
    this.panels.forEach((panel) => panel.lines.forEach((line) => { line.mean = meansOf(line, seconds); }));
    this.later();
  }

  shift(order, by) {
    this.panels.forEach((panel) => panel.lines.forEach((line) => { if (line.order === order && panel.name !== "difference") { line.shift = by; } }));
    this.later();
  }

  /* One drawing a frame, however many events come. */
  later() {
    if (this.waiting) { return; }
    this.waiting = requestAnimationFrame(() => {
      this.waiting = null;
      this.panels.forEach((panel) => panel.plot?.setData(this.data(panel, panel.plot.width)));
    });
  }

  redraw() { this.plots().forEach((plot) => plot.redraw(false, true)); }

  fit() {
    const width = Math.max(this.host.clientWidth, 240);
    this.panels.forEach((panel) => {
      if (panel.plot && panel.plot.width !== width) { panel.plot.setSize({ width, height: this.height(panel, width) }); }
    });
    this.later();
  }

  wheel(event, plot) {
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      this.zoom(Math.exp(Math.sign(event.deltaY) * 0.2), plot.posToVal(plot.cursor.left, "x"));
    } else if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      event.preventDefault();
      this.pan(event.deltaX / plot.over.clientWidth);
    }
  }

  /* One finger reads, two zoom and move. */
  touch(plot) {
    let start = null;
    const places = (event) => {
      const { left } = plot.over.getBoundingClientRect();
      return [...event.touches].map((finger) => finger.clientX - left).sort((a, b) => a - b);
    };
    plot.over.addEventListener("touchstart", (event) => {
      const fingers = places(event);
      start = fingers.length === 2 ? fingers.map((x) => plot.posToVal(x, "x")) : null;
    }, { passive: true });
    plot.over.addEventListener("touchmove", (event) => {
      const fingers = places(event), width = plot.over.clientWidth;
      if (fingers.length === 1 && !start) { this.readAt(plot.posToVal(Math.min(Math.max(fingers[0], 0), width), "x")); }
      if (fingers.length !== 2 || !start || fingers[1] - fingers[0] <= 10) { return; }
      event.preventDefault();
      const pace = (start[1] - start[0]) / (fingers[1] - fingers[0]);
      this.setView(start[0] - fingers[0] * pace, start[0] + (width - fingers[0]) * pace);
    }, { passive: false });
  }

  readAt(at) {
    this.at = Math.min(Math.max(at, this.whole.min), this.whole.max);
    if (this.at < this.view.min || this.at > this.view.max) { this.pan(this.at < this.view.min ? -0.5 : 0.5); }
    this.read(this.at);
    this.redraw();
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target !== this.host) { return; }
    const direction = ARROWS[event.key], { min, max } = this.view;
    if (direction && event.shiftKey) { this.pan(direction * 0.2); }
    else if (direction) { this.readAt((this.at ?? (min + max) / 2) + direction * Math.max(1, Math.round((max - min) / 100))); }
    else if (event.key === "+" || event.key === "=") { this.zoom(0.6); }
    else if (event.key === "-" || event.key === MINUS) { this.zoom(1 / 0.6); }
    else if (event.key === "0" || event.key === "Home") { this.showAll(); }
    else if (event.key === "[" && this.at !== null) { this.from = this.at; this.choose({ from: this.at, to: Math.max(this.chosen?.to ?? 0, this.at + 1) }); }
    else if (event.key === "]" && this.at !== null) { this.choose({ from: Math.min(this.chosen?.from ?? this.at - 1, this.at - 1), to: this.at }); }
    else { return; }
    event.preventDefault();
  }
}

function extentOf(values) {
  let low = Infinity, high = -Infinity;
  for (const value of values) { if (value < low) { low = value; } if (value > high) { high = value; } }
  return [low, high];
}
