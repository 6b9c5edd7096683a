/* The panels of the report: one time axis for all, zoomed and read together. */
(() => {
  "use strict";
  /* A table that is seen whole needs no word on how to see the rest. */
  document.querySelectorAll(".wider").forEach((cue) => {
    const scroll = cue.nextElementSibling;
    new ResizeObserver(() => { cue.hidden = scroll.scrollWidth <= scroll.clientWidth; }).observe(scroll);
  });
  const data = JSON.parse(document.getElementById("ride-data").textContent);
  if (typeof uPlot === "undefined" || !data.length) { return; }
  document.documentElement.classList.add("js");

  const TENTHS = 10, SHORTEST_S = 10, GUTTER = 50, STEPS_S =
    [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400];
  const DASHES = { expected: [6, 4], other: [9, 3, 2, 3], limit: [2, 3], interval: [10, 4] };
  const WIDTHS = { reference: 1.4, unit: 1.6, expected: 1.3, difference: 1 };
  const DIRECTIONS = { ArrowLeft: -1, ArrowRight: 1 };
  const plots = [], groups = [];
  const whole = {
    min: Math.min(...data.map((chart) => chart.start)),
    max: Math.max(...data.map((chart) => chart.start + chart.step * (chart.count - 1))),
  };
  let view = { ...whole }, chosen = null;

  const colour = (role) => getComputedStyle(document.documentElement).getPropertyValue(`--${role}`).trim();
  const faint = (role, share) => `color-mix(in srgb, ${colour(role)} ${share}%, transparent)`;

  function clock(seconds) {
    const whole = Math.round(Math.abs(seconds)), two = (n) => String(n).padStart(2, "0");
    const sign = seconds < 0 && whole ? "\u2212" : "";
    return `${sign}${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
  }

  function spoken(value, unit) {
    if (value === null || value === undefined) { return "\u2013"; }
    const digits = unit === "%" ? 1 : 0;
    const text = Math.abs(value).toFixed(digits);
    const sign = value < 0 && Number(text) !== 0 ? "\u2212" : unit === "%" && Number(text) !== 0 ? "+" : "";
    return `${sign}${text}\u00a0${unit}`;
  }

  /* Steps of a tenth from the last value; [n] stands for n missing ones. */
  function decoded(coded) {
    const values = [];
    let last = 0;
    for (const item of coded) {
      if (Array.isArray(item)) {
        for (let k = 0; k < item[0]; k += 1) { values.push(null); }
      } else {
        last += item;
        values.push(last / TENTHS);
      }
    }
    return values;
  }

  /* Centred mean of the values there are; a missing value stays missing. */
  function meanOf(values, width) {
    if (width <= 1) { return values; }
    const sums = [0], counts = [0];
    values.forEach((value, k) => {
      sums.push(sums[k] + (value === null ? 0 : value));
      counts.push(counts[k] + (value === null ? 0 : 1));
    });
    const before = Math.floor(width / 2), after = width - before;
    return values.map((value, k) => {
      if (value === null) { return null; }
      const from = Math.max(0, k - before), to = Math.min(values.length, k + after);
      return (sums[to] - sums[from]) / (counts[to] - counts[from]);
    });
  }

  function setView(min, max) {
    const span = Math.min(Math.max(max - min, SHORTEST_S), whole.max - whole.min);
    const start = Math.min(Math.max(min, whole.min), whole.max - span);
    view = { min: start, max: start + span };
    plots.forEach((plot) => plot.setScale("x", { ...view }));
  }
  const zoom = (factor, at = (view.min + view.max) / 2) =>
    setView(at - (at - view.min) * factor, at + (view.max - at) * factor);
  const pan = (share) => {
    const by = (view.max - view.min) * share;
    setView(view.min + by, view.max + by);
  };
  const showAll = () => { choose(null); setView(whole.min, whole.max); };

  /* The stretch that was asked for, marked in the panels and in the lists beside them. */
  function choose(stretch) {
    chosen = stretch;
    document.querySelectorAll(".places li button").forEach((button) =>
      button.setAttribute("aria-pressed", String(Boolean(stretch) && button === stretch.button)));
    document.querySelectorAll(".places .back").forEach((button) => { button.disabled = !stretch; });
    plots.forEach((plot) => plot.redraw(false, false));
  }

  function timeTicks(plot, axis, min, max, increment) {
    const found = [];
    for (let at = Math.ceil(min / increment) * increment; at <= max + 1e-6; at += increment) { found.push(at); }
    return found;
  }

  function axes(last) {
    const line = { stroke: () => colour("soft"), font: "12px system-ui, sans-serif",
      grid: { stroke: () => colour("grid"), width: 1 }, ticks: { show: false } };
    return [
      { ...line, size: last ? 28 : 4, gap: 6, space: 76, incrs: STEPS_S, splits: (u, i, min, max, inc) =>
        timeTicks(u, i, min, max, inc), values: (u, places) => places.map((at) => (last ? clock(at) : "")) },
      { ...line, size: GUTTER, gap: 6, space: 30, values: (u, places) =>
        places.map((at) => (at < 0 ? "\u2212" : "") + Math.abs(at)) },
    ];
  }

  function shade(u, from, to, style) {
    const left = Math.max(u.valToPos(from, "x", true), u.bbox.left);
    const right = Math.min(u.valToPos(to, "x", true), u.bbox.left + u.bbox.width);
    if (right < u.bbox.left || left > u.bbox.left + u.bbox.width || right < left) { return null; }
    u.ctx.fillStyle = style;
    u.ctx.fillRect(left, u.bbox.top, Math.max(right - left, 2), u.bbox.height);
    return { left, top: u.bbox.top, width: Math.max(right - left, 2), height: u.bbox.height };
  }

  /* Filling and edges tell who an episode is put down to without colour. */
  function stretch(u, span) {
    const box = shade(u, span.start, span.end, faint(span.role, 18));
    if (!box) { return; }
    const context = u.ctx, ratio = devicePixelRatio, step = 8 * ratio;
    context.save();
    context.beginPath();
    context.rect(box.left, box.top, box.width, box.height);
    context.clip();
    context.strokeStyle = context.fillStyle = faint(span.role, 65);
    context.lineWidth = ratio;
    context.beginPath();
    if (span.shading === "dotted") {
      for (let x = box.left + step / 2; x < box.left + box.width; x += step) {
        for (let y = box.top + step / 2; y < box.top + box.height; y += step) {
          context.moveTo(x + ratio, y);
          context.arc(x, y, ratio, 0, 2 * Math.PI);
        }
      }
      context.fill();
    } else if (span.shading !== "plain") {
      const slope = span.shading === "rising" ? -1 : 1, foot = slope < 0 ? box.top + box.height : box.top;
      for (let x = box.left - box.height + step / 2; x < box.left + box.width; x += step) {
        context.moveTo(x, foot);
        context.lineTo(x + box.height, foot + slope * box.height);
      }
      context.stroke();
    }
    context.restore();
    context.fillStyle = faint(span.role, 75);
    context.fillRect(box.left, box.top, ratio, box.height);
    context.fillRect(box.left + box.width - ratio, box.top, ratio, box.height);
  }

  function behind(u, panel) {
    panel.spans.forEach((span) => stretch(u, span));
    if (chosen && !chosen.listed) { shade(u, chosen.from, chosen.to, faint("spot", 18)); }
    panel.levels.forEach((level) => {
      const y = u.valToPos(level.y, "y", true), context = u.ctx;
      context.save();
      context.beginPath();
      context.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
      context.clip();
      if (level.high > level.low) {
        const top = u.valToPos(level.high, "y", true);
        context.fillStyle = faint(level.role, 14);
        context.fillRect(u.bbox.left, top, u.bbox.width, u.valToPos(level.low, "y", true) - top);
      }
      context.beginPath();
      context.strokeStyle = colour(level.role);
      context.lineWidth = 1.4 * devicePixelRatio;
      context.setLineDash((DASHES[level.role] || []).map((length) => length * devicePixelRatio));
      context.moveTo(u.bbox.left, y);
      context.lineTo(u.bbox.left + u.bbox.width, y);
      context.stroke();
      context.restore();
    });
  }

  const heightOf = (panel, width) => Math.round((width < 560 ? 104 : 124) * Math.max(panel.share, 0.8));

  function makePlot(group, k) {
    const panel = group.chart.panels[k], last = k === group.chart.panels.length - 1;
    const width = group.plots.clientWidth;
    const plot = new uPlot({
      width,
      height: heightOf(panel, width) + (last ? 28 : 4),
      padding: [6, 14, 0, 0],
      legend: { show: false },
      scales: { x: { time: false, range: () => [view.min, view.max] }, y: { range: () => panel.range } },
      axes: axes(last),
      series: [{}, ...panel.lines.map((line) => ({
        label: line.name,
        stroke: () => colour(line.role),
        width: WIDTHS[line.role] || 1.4,
        dash: DASHES[line.role],
        fill: line.filled ? () => faint(line.role, 28) : undefined,
        fillTo: line.filled ? () => 0 : undefined,
        points: { show: false },
      }))],
      cursor: {
        y: false,
        points: { size: 7 },
        drag: { x: true, y: false, setScale: false, dist: 4 },
        sync: { key: "ride", setSeries: false },
        bind: { dblclick: () => () => { showAll(); return null; } },
      },
      hooks: {
        drawClear: [(u) => behind(u, panel)],
        setCursor: [(u) => read(group, u.cursor.idx)],
        setSelect: [(u) => {
          if (u.select.width < 4) { return; }
          const from = u.posToVal(u.select.left, "x"), to = u.posToVal(u.select.left + u.select.width, "x");
          plots.forEach((other) => other.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false));
          setView(from, to);
        }],
      },
    }, [group.times, ...group.means[k]], group.hosts[k]);
    plot.over.addEventListener("wheel", (event) => wheel(event, plot), { passive: false });
    touch(plot);
    plots.push(plot);
    return plot;
  }

  /* The values under the cursor, beside the names of their lines. */
  function read(group, place) {
    const there = place !== null && place !== undefined;
    group.now.textContent = there ? clock(group.times[place]) : "\u2013";
    group.at = there ? place : null;
    group.chart.panels.forEach((panel, k) => panel.lines.forEach((line, j) => {
      group.values[k][j].textContent = there ? spoken(group.means[k][j][place], panel.unit) : "";
    }));
  }

  function wheel(event, plot) {
    const at = plot.posToVal(plot.cursor.left, "x");
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      zoom(Math.exp(Math.sign(event.deltaY) * 0.2), at);
    } else if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      event.preventDefault();
      pan(event.deltaX / plot.over.clientWidth);
    }
  }

  /* One finger reads, two pinch and move. */
  function touch(plot) {
    let start = null;
    const places = (event) => {
      const left = plot.over.getBoundingClientRect().left;
      return [...event.touches].map((finger) => finger.clientX - left).sort((a, b) => a - b);
    };
    plot.over.addEventListener("touchstart", (event) => {
      const fingers = places(event);
      start = fingers.length === 2 ? fingers.map((x) => plot.posToVal(x, "x")) : null;
    }, { passive: true });
    plot.over.addEventListener("touchmove", (event) => {
      const fingers = places(event), width = plot.over.clientWidth;
      if (fingers.length === 1 && !start) {
        plot.setCursor({ left: Math.min(Math.max(fingers[0], 0), width), top: 10 });
      } else if (fingers.length === 2 && start && fingers[1] - fingers[0] > 10) {
        event.preventDefault();
        const pace = (start[1] - start[0]) / (fingers[1] - fingers[0]);
        setView(start[0] - fingers[0] * pace, start[0] + (width - fingers[0]) * pace);
      }
    }, { passive: false });
  }

  function moveReading(group, by) {
    const step = Math.max(1, Math.round((view.max - view.min) / group.chart.step / 100));
    const middle = Math.round(((view.min + view.max) / 2 - group.chart.start) / group.chart.step);
    const place = Math.min(Math.max((group.at ?? middle) + by * step, 0), group.times.length - 1);
    const time = group.times[place];
    if (time < view.min || time > view.max) { pan(by * 0.5); }
    const plot = group.drawn[0];
    plot.setCursor({ left: plot.valToPos(time, "x"), top: 10 });
    read(group, place);
    group.spoken.textContent = group.chart.panels.flatMap((panel, k) => panel.lines.map((line, j) =>
      `${line.name} ${spoken(group.means[k][j][place], panel.unit)}`)).join(", ").replace(/^/, `${clock(time)}: `);
  }

  function key(event, group) {
    const direction = DIRECTIONS[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) { return; }
    if (direction && event.shiftKey) { pan(direction * 0.2); }
    else if (direction) { moveReading(group, direction); }
    else if (event.key === "+" || event.key === "=") { zoom(0.6); }
    else if (event.key === "-" || event.key === "\u2212") { zoom(1 / 0.6); }
    else if (event.key === "0" || event.key === "Home") { showAll(); }
    else { return; }
    event.preventDefault();
  }

  function setMean(width) {
    groups.forEach((group) => {
      group.means = group.raw.map((lines) => lines.map((values) => meanOf(values, width / group.chart.step)));
      group.drawn.forEach((plot, k) => plot.setData([group.times, ...group.means[k]], false));
      group.drawn.forEach((plot) => plot.redraw(true, false));
      group.select.value = String(width);
    });
  }

  function scrollTo(figure) {
    const top = figure.getBoundingClientRect().top;
    if (top > -60 && top < innerHeight * 0.35) { return; }
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    figure.scrollIntoView({ behavior: calm ? "auto" : "smooth", block: "start" });
  }

  /* All panels go to a stretch with room around it. From a list beside the panels the focus stays where it is. */
  function show(button, share, least, group) {
    const from = Number(button.dataset.from), to = Number(button.dataset.to);
    const room = Math.max((to - from) * share, least);
    const listed = Boolean(button.closest(".places"));
    choose({ from, to, button, listed });
    setView(from - room, to + room);
    scrollTo(group.figure);
    group.spoken.textContent = `Panels show ${clock(view.min)} to ${clock(view.max)}`;
    if (!listed) { group.plots.focus({ preventScroll: true }); }
  }

  function leave(event) {
    const { button } = chosen;
    showAll();
    event.preventDefault();
    if (button) { button.focus({ preventScroll: true }); }
  }

  const ACTIONS = { earlier: () => pan(-0.4), later: () => pan(0.4), closer: () => zoom(0.5), wider: () => zoom(2),
    whole: showAll };

  data.forEach((chart) => {
    const figure = document.querySelector(`figure[data-chart="${CSS.escape(chart.name)}"]`);
    const times = Array.from({ length: chart.count }, (_, k) => chart.start + k * chart.step);
    const raw = chart.panels.map((panel) => panel.lines.map((line) => decoded(line.coded)));
    const panels = [...figure.querySelectorAll(".panel")];
    const group = {
      chart, figure, times, raw, means: raw, at: null, drawn: [],
      plots: figure.querySelector(".plots"), now: figure.querySelector(".now"), spoken: figure.querySelector(".spoken"),
      select: figure.querySelector("select"), hosts: panels.map((panel) => panel.querySelector(".plot")),
      values: panels.map((panel) => [...panel.querySelectorAll(".value")]),
    };
    groups.push(group);
    group.drawn = chart.panels.map((_, k) => makePlot(group, k));
    figure.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) { return; }
      if (button.dataset.do) { ACTIONS[button.dataset.do](); }
      else if (button.dataset.from) { show(button, 1, 60, group); }
    });
    figure.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && chosen) { leave(event); }
    });
    group.select.addEventListener("change", () => setMean(Number(group.select.value)));
    group.plots.addEventListener("keydown", (event) => key(event, group));
    new ResizeObserver(() => {
      const width = group.plots.clientWidth;
      if (!width) { return; }
      group.drawn.forEach((plot, k) => {
        const last = k === group.drawn.length - 1;
        plot.setSize({ width, height: heightOf(chart.panels[k], width) + (last ? 28 : 4) });
      });
    }).observe(group.plots);
  });

  /* For who wants to look closer from the browser's console. */
  Object.defineProperty(window, "wattwitnessPanels", { value: Object.freeze([...plots]) });
  setMean(whole.max - whole.min > 1200 ? 10 : 1);
  document.querySelectorAll(".go button").forEach((button) => button.addEventListener("click", () =>
    show(button, 0.15, 15, groups.find((group) => group.chart.name === button.dataset.in) || groups[0])));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () =>
    plots.forEach((plot) => plot.redraw(false, true)));
})();
