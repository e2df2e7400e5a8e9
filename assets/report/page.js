"use strict";
// The page is drawn from the document, which is the JSON of the readings, and from what the
// program says of it in words. Text is only ever set as text.
(function () {
  const read = id => JSON.parse(document.getElementById(id).textContent);
  const doc = read("document"), said = read("said"), marked = read("marked") || [];
  const frames = doc.frames.map((f, i) => Object.assign({ i, pictures: {}, masks: {} }, f, said.frames[i]));
  const none = "\u2013";

  // What would turn the direction of writing, or hide, is shown as an escape.
  const steers = /[\u0000-\u0008\u000B-\u001F\u007F-\u009F\u00AD\u061C\u180E\u200B\u200E\u200F\u2028-\u202E\u2060-\u2064\u2066-\u206F\uFEFF\uFFF9-\uFFFB]|\uDB40[\uDC00-\uDC7F]/g;
  const legible = s => String(s).replace(steers, c => {
    const n = c.codePointAt(0), hex = n.toString(16);
    return n < 0x100 ? "\\x" + hex.padStart(2, "0") : n < 0x10000 ? "\\u" + hex.padStart(4, "0") : "\\U" + hex.padStart(8, "0");
  });

  // el makes an element: its class after dots, its attributes, its children.
  function el(name, attributes, ...children) {
    const [tag, ...classes] = name.split(".");
    const e = document.createElement(tag);
    if (classes.length) e.className = classes.join(" ");
    for (const [k, v] of Object.entries(attributes || {})) {
      if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
      else if (v !== null && v !== undefined && v !== false) e.setAttribute(k, v === true ? "" : v);
    }
    e.append(...children.filter(c => c !== null && c !== undefined).map(c => c instanceof Node ? c : document.createTextNode(legible(c))));
    return e;
  }
  function svg(name, attributes, ...children) {
    const e = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [k, v] of Object.entries(attributes || {})) e.setAttribute(k, v);
    e.append(...children);
    return e;
  }

  // Figures as the window writes them.
  const known = v => typeof v === "number" && isFinite(v);
  const fixed = (v, n) => {
    const s = v.toFixed(n);
    return (Number(s) === 0 ? s.replace("-", "") : s).replace("-", "\u2212");
  };
  const signed = (v, n) => (Number(v.toFixed(n)) > 0 ? "+" : "") + fixed(v, n);
  function percent(v) {
    if (!known(v)) return none;
    const p = 100 * v;
    if (p === 0) return "0\u00a0%";
    if (p < 0.05) return "<0.1\u00a0%";
    if (p < 9.95) return fixed(p, 1) + "\u00a0%";
    if (p >= 99.5 && p < 100) return ">99\u00a0%";
    return fixed(p, 0) + "\u00a0%";
  }
  const cell = v => percent(v).replace("\u00a0%", "");
  const figure = (v, n) => known(v) ? fixed(v, n) : none;
  const word = v => v ? v[0].toUpperCase() + v.slice(1) : "Not judged";
  // Stops are spelt by the program; between them, as for the ends of a range, in hundredths.
  const spelt = v => {
    const f = frames.find(f => f.stop === v);
    return f ? f.label : quarters(v);
  };
  function quarters(v) {
    const a = Math.abs(v), whole = Math.floor(a + 1e-9), rest = ["", "\u00bc", "\u00bd", "\u00be"][Math.round((a - whole) * 4)];
    if (rest === undefined || Math.abs((a - whole) * 4 - Math.round((a - whole) * 4)) > 0.02) return signed(v, 2);
    if (a < 1e-9) return "0";
    return (v < 0 ? "\u2212" : "+") + (whole || !rest ? whole : "") + rest;
  }

  // The verdicts' signs: a beam between two posts holds, sags or is broken.
  function sign(v) {
    const s = svg("svg", { viewBox: "0 0 24 16", "aria-hidden": "true" });
    const post = x => s.append(svg("line", { x1: x, x2: x, y1: 1, y2: 15, stroke: "var(--strong)", "stroke-width": 1.6 }));
    const beam = d => s.append(svg("path", { d, fill: "none", stroke: "var(--text)", "stroke-width": 3.2 }));
    if (!v) { s.append(svg("line", { x1: 8, x2: 16, y1: 8, y2: 8, stroke: "var(--strong)" })); return s; }
    post(1.5); post(22.5);
    if (v === "holds") beam("M1.5 8H22.5");
    if (v === "strains") beam("M1.5 5.8Q12 14.8 22.5 5.8");
    if (v === "breaks") beam("M1.5 5L9.6 12.1M22.5 5L14.4 12.1");
    return s;
  }

  // Pictures and masks stand in the page; they are found by frame.
  for (const e of document.querySelectorAll("#plates figure")) {
    const f = frames[e.dataset.frame];
    f.pictures[e.dataset.own === "true" ? "own" : "salvaged"] = { img: e.querySelector("img"), shown: e.querySelector("figcaption").textContent };
    if (Object.keys(f.pictures).length === 1) e.classList.add("lone");
  }
  for (const m of marked) frames[m.frame].masks[m.kind] = m.url;
  const order = frames.slice().reverse(); // over above under
  const pictured = order.filter(f => f.pictures.own);
  const base = frames.find(f => f.base) || pictured[0];

  // What is looked at.
  const view = { x: 0.5, y: 0.5, zoom: 1 }; // zoom 1 fits
  const state = { layout: "edge", frame: pictured.find(f => !f.base && f.suggested === "strains") || pictured.find(f => !f.base) || base, left: base, salvaged: false, masks: new Set(), edge: 0.5, read: null };

  const $ = id => document.getElementById(id);
  let panes = [];

  // A pane shows frames in layers, all with one view.
  function pane() {
    const p = { el: el("div.pane", { tabindex: 0, role: "img" }), halves: [] };
    gestures(p);
    return p;
  }
  function half(p, f, side) {
    const h = { box: el("div.half"), f, side, marks: [] };
    if (f && f.pictures.own) {
      const pic = state.salvaged && f.pictures.salvaged || f.pictures.own;
      h.img = el("img", { alt: "", draggable: "false" });
      h.img.src = pic.img.src;
      h.w = Number(pic.img.getAttribute("width")); h.h = Number(pic.img.getAttribute("height"));
      h.box.append(h.img);
      for (const k of state.masks) if (f.masks[k]) {
        const m = el("div.mark");
        m.style.backgroundImage = `url(${said.patterns[k]})`;
        m.style.maskImage = m.style.webkitMaskImage = `url(${f.masks[k]})`;
        h.marks.push(m); h.box.append(m);
      }
      const rest = pic.shown.slice(pic.shown.indexOf(", ") + 2);
      h.name = el("div.name." + (side === "right" ? "r" : "l"), null, el("b", null, f.label), (f.base ? "base, " : "") + rest);
    } else {
      h.name = el("div.name." + (side === "right" ? "r" : "l"), null, f ? f.label + ": " + (f.error || "no picture") : "no picture");
    }
    p.halves.push(h);
    p.el.append(h.box, h.name);
    return h;
  }
  function build() {
    const box = $("panes");
    box.replaceChildren();
    box.className = state.layout === "two" ? "two" : "";
    panes = [];
    const add = (...fs) => {
      const p = pane();
      fs.forEach((f, i) => half(p, f, fs.length > 1 && i === 1 ? "right" : "left"));
      p.el.setAttribute("aria-label", fs.map(f => f ? "stop " + f.label : "").join(" left and right of the edge, ") + ". Plus and minus zoom, arrow keys move.");
      if (fs.length > 1) {
        p.edge = el("button.edge", { role: "slider", "aria-label": "Edge between the two frames", "aria-valuemin": 0, "aria-valuemax": 100, type: "button" });
        drag(p.edge, e => setEdge((e.clientX - p.el.getBoundingClientRect().left) / p.el.clientWidth));
        p.edge.addEventListener("keydown", e => {
          const d = { ArrowLeft: -0.02, ArrowRight: 0.02, Home: -1, End: 1 }[e.key];
          if (d) { setEdge(state.edge + d); e.preventDefault(); e.stopPropagation(); }
        });
        p.el.append(p.edge);
      }
      panes.push(p);
      box.append(p.el);
    };
    if (state.layout === "one") add(state.frame);
    if (state.layout === "two") { add(state.left); add(state.frame); }
    if (state.layout === "edge") add(state.left, state.frame);
    place();
    $("shown").firstElementChild.hidden = state.layout === "one";
    $("shown").firstElementChild.firstChild.textContent = state.layout === "two" ? "Left picture " : "Left of the edge ";
    $("caption").textContent = state.masks.size ? "Masked: " + [...state.masks].map(k => k + " " + share(state.frame, k) + flatWords(state.frame, k)).join(", ") + " of the image area at " + state.frame.label : "";
  }
  // place lays all layers by the view.
  function place() {
    for (const p of panes) {
      const first = p.halves.find(a => a.img);
      if (first) p.el.style.height = Math.round(clamp(p.el.clientWidth * first.h / first.w, 220, 0.82 * innerHeight)) + "px";
      const w = p.el.clientWidth, h = p.el.clientHeight;
      for (const a of p.halves) {
        if (!a.img) continue;
        const fit = Math.min(w / a.w, h / a.h), z = fit * view.zoom, pw = a.w * z, ph = a.h * z;
        const x = pw <= w ? (w - pw) / 2 : w / 2 - view.x * pw, y = ph <= h ? (h - ph) / 2 : h / 2 - view.y * ph;
        for (const e of [a.img, ...a.marks]) {
          e.style.left = x + "px"; e.style.top = y + "px"; e.style.width = pw + "px"; e.style.height = ph + "px";
        }
        a.img.style.imageRendering = z * devicePixelRatio > 2.5 ? "pixelated" : "";
      }
      if (p.edge) {
        const at = 100 * state.edge;
        p.halves[0].box.style.clipPath = `inset(0 ${100 - at}% 0 0)`;
        p.halves[1].box.style.clipPath = `inset(0 0 0 ${at}%)`;
        p.edge.style.left = at + "%";
        p.edge.setAttribute("aria-valuenow", Math.round(at));
      }
      p.el.classList.toggle("near", view.zoom > 1.001);
    }
  }
  const clamp = (v, a, b) => Math.min(b, Math.max(a, v));
  function setEdge(v) { state.edge = clamp(v, 0, 1); place(); }
  // reach keeps the view on the picture.
  function reach() {
    view.zoom = clamp(view.zoom, 1, 40);
    const p = panes[0], a = p && p.halves.find(a => a.img);
    if (!a) return;
    const w = p.el.clientWidth, h = p.el.clientHeight, z = Math.min(w / a.w, h / a.h) * view.zoom;
    const mx = Math.min(0.5, w / 2 / (a.w * z)), my = Math.min(0.5, h / 2 / (a.h * z));
    view.x = clamp(view.x, mx, 1 - mx); view.y = clamp(view.y, my, 1 - my);
  }
  function zoom(p, factor, cx, cy) {
    const a = p.halves.find(a => a.img);
    if (!a) return;
    const w = p.el.clientWidth, h = p.el.clientHeight, was = Math.min(w / a.w, h / a.h) * view.zoom;
    const to = clamp(view.zoom * factor, 1, 40), now = Math.min(w / a.w, h / a.h) * to;
    const dx = (cx === undefined ? w / 2 : cx) - w / 2, dy = (cy === undefined ? h / 2 : cy) - h / 2;
    view.x += dx / (a.w * was) - dx / (a.w * now); view.y += dy / (a.h * was) - dy / (a.h * now);
    view.zoom = to;
    reach(); place();
  }
  function pan(p, dx, dy) {
    const a = p.halves.find(a => a.img);
    if (!a) return;
    const z = Math.min(p.el.clientWidth / a.w, p.el.clientHeight / a.h) * view.zoom;
    view.x -= dx / (a.w * z); view.y -= dy / (a.h * z);
    reach(); place();
  }
  function own() { // one pixel of the picture on one of the screen
    const p = panes[0], a = p && p.halves.find(a => a.img);
    if (a) zoom(p, 1 / (Math.min(p.el.clientWidth / a.w, p.el.clientHeight / a.h) * view.zoom * devicePixelRatio));
  }
  function drag(e, move) {
    e.addEventListener("pointerdown", d => { e.setPointerCapture(d.pointerId); move(d); d.stopPropagation(); });
    e.addEventListener("pointermove", d => { if (e.hasPointerCapture(d.pointerId)) move(d); d.stopPropagation(); });
  }
  function gestures(p) {
    const at = new Map();
    p.el.addEventListener("wheel", e => {
      if (view.zoom <= 1 && e.deltaY > 0) return; // the page goes on
      const r = p.el.getBoundingClientRect();
      zoom(p, Math.exp(-clamp(e.deltaY, -120, 120) / 400), e.clientX - r.left, e.clientY - r.top);
      e.preventDefault();
    }, { passive: false });
    p.el.addEventListener("pointerdown", e => {
      if (e.target.closest(".edge")) return;
      at.set(e.pointerId, e);
      if (e.pointerType !== "touch" || view.zoom > 1.001 || at.size > 1) p.el.setPointerCapture(e.pointerId);
    });
    p.el.addEventListener("pointermove", e => {
      const was = at.get(e.pointerId);
      if (!was) return;
      if (at.size === 2) {
        const other = [...at.values()].find(o => o.pointerId !== e.pointerId), r = p.el.getBoundingClientRect();
        const d0 = Math.hypot(was.clientX - other.clientX, was.clientY - other.clientY), d1 = Math.hypot(e.clientX - other.clientX, e.clientY - other.clientY);
        if (d0 > 0) zoom(p, d1 / d0, (e.clientX + other.clientX) / 2 - r.left, (e.clientY + other.clientY) / 2 - r.top);
      } else if (e.pointerType !== "touch" || view.zoom > 1.001) {
        pan(p, e.clientX - was.clientX, e.clientY - was.clientY);
      }
      at.set(e.pointerId, e);
    });
    for (const end of ["pointerup", "pointercancel"]) p.el.addEventListener(end, e => at.delete(e.pointerId));
    p.el.addEventListener("dblclick", e => {
      const r = p.el.getBoundingClientRect();
      view.zoom > 1.01 ? fit() : zoom(p, 4, e.clientX - r.left, e.clientY - r.top);
    });
    p.el.addEventListener("keydown", e => {
      const d = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[e.key];
      if (d && view.zoom > 1.001) { pan(p, ...d); e.preventDefault(); e.stopPropagation(); }
    });
  }
  function fit() { view.zoom = 1; view.x = view.y = 0.5; place(); }

  // The toolbar.
  const buttons = {};
  function chip(set, id, words, title, run, icon) {
    const b = el("button", { type: "button", title, "aria-pressed": "false", onclick: run }, icon ? el("i") : null, words);
    if (icon) b.querySelector("i").style.backgroundImage = `url(${said.patterns[icon]})`;
    buttons[id] = b;
    $(set).append(b);
  }
  const layouts = { edge: ["Edge", "Two frames in one picture with an edge that is dragged (5)", "5"], two: ["Two", "Two pictures that zoom together (2)", "2"], one: ["One", "One picture (1)", "1"] };
  const keys = {};
  for (const [k, [words, title, key]] of Object.entries(layouts)) {
    const run = () => { state.layout = k; show(); };
    chip("layouts", k, words, title, run); keys[key] = run;
  }
  chip("grades", "scanned", "As scanned", "The frames as they were scanned (G)", () => { state.salvaged = false; show(); });
  chip("grades", "salvaged", "Salvaged, " + said.grade, "Every frame brought to the base frame (G)", () => { state.salvaged = true; show(); });
  keys.g = () => { state.salvaged = !state.salvaged; show(); };
  const maskKeys = { Blown: "o", Blocked: "u", Noisy: "n", Lost: "x", Dust: "j" };
  for (const [k, key] of Object.entries(maskKeys)) {
    const run = () => { state.masks.has(k) ? state.masks.delete(k) : state.masks.add(k); show(); };
    chip("masks", k, k, "Mask: " + k + " (" + key.toUpperCase() + ")", run, k); keys[key] = run;
  }
  chip("zooms", "fit", "Fit", "The whole picture (F)", fit); keys.f = fit;
  chip("zooms", "own", "1:1", "One pixel of the picture on one of the screen (A)", own); keys.a = own;
  chip("zooms", "in", "+", "Nearer (+)", () => zoom(panes[0], 1.5)); keys["+"] = keys["="] = () => zoom(panes[0], 1.25);
  chip("zooms", "out", "\u2212", "Further (\u2212)", () => zoom(panes[0], 1 / 1.5)); keys["-"] = () => zoom(panes[0], 0.8);
  for (const id of ["fit", "own", "in", "out"]) buttons[id].removeAttribute("aria-pressed");
  buttons.in.setAttribute("aria-label", "Nearer"); buttons.out.setAttribute("aria-label", "Further");
  for (const f of pictured) $("left").append(el("option", { value: f.i }, f.label + (f.base ? ", base" : "")));
  $("left").addEventListener("change", e => { state.left = frames[e.target.value]; show(); });
  document.addEventListener("keydown", e => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest("select, input")) return;
    const step = { ArrowUp: -1, ArrowDown: 1 }[e.key];
    if (step && (e.target === document.body || e.target.closest("#ladder"))) {
      const k = clamp(order.indexOf(state.frame) + step, 0, order.length - 1);
      choose(order[k]); rungs[order[k].i].focus(); e.preventDefault();
      return;
    }
    const run = keys[e.key.length === 1 ? e.key.toLowerCase() : e.key];
    if (run) { run(); e.preventDefault(); }
  });

  // The ladder.
  const cost = f => f.salvage && f.salvage[doc.limits.grade];
  function share(f, k) {
    switch (k) {
      case "Blown": return percent(f.blown && f.blown.any);
      case "Blocked": return percent(f.blocked && f.blocked.any);
      case "Noisy": return percent(f.noisy);
      case "Lost": return f.base ? percent(0) : percent(f.salvage && f.salvage.exposure.lostArea);
      case "Dust": return percent(f.marks && f.marks.area);
    }
  }
  function flatWords(f, k) { // the weaker marks: flat besides
    const v = f.flat && (k === "Blown" ? f.flat.light : k === "Blocked" ? f.flat.dark : 0);
    return known(v) && v >= 0.0005 ? " + " + percent(v) + " flat" : "";
  }
  const rungs = {};
  function bar(name, v, flat) {
    const fill = (to, alpha) => {
      const u = el("u");
      u.style.width = 100 * clamp(to, 0, 1) + "%"; u.style.background = said.colours[name]; u.style.opacity = alpha;
      return u;
    };
    const i = el("i");
    if (known(v) && known(flat) && flat > 0) i.append(fill(v + flat, 0.5));
    if (known(v)) i.append(fill(v, 1));
    return el("span", null, name, el("b", null, cell(v) + (known(v) && flat >= 0.0005 ? " + " + cell(flat) + " flat" : "")), i);
  }
  function verdictWords(f) { return f.verdict ? word(f.verdict) : f.suggested ? "(" + f.suggested + ")" : f.base ? "base" : "not judged"; }
  function rung(f) {
    const flat = f.flat || {};
    const b = el("button.rung", { type: "button", "aria-label": "Stop " + f.label + ". " + verdictWords(f) + ". " + f.decided + ". Blown " + share(f, "Blown") + ", blocked " + share(f, "Blocked") + ", noisy " + share(f, "Noisy") },
      el("span.stop", { "aria-hidden": "true" }, f.label + (f.base ? " base" : "")),
      el("span.bars", null, bar("Blown", f.blown && f.blown.any, flat.light), bar("Blocked", f.blocked && f.blocked.any, flat.dark), bar("Noisy", f.noisy)),
      el("span.verdict", null, sign(f.verdict || f.suggested), verdictWords(f)),
      el("span.why", null, f.error ? "not read" : f.decided));
    if (!f.verdict) b.querySelector(".verdict svg").style.opacity = 0.6;
    b.addEventListener("click", () => {
      choose(f);
      if (innerWidth < 1000) $("panes").scrollIntoView({ block: "nearest" }); // on a phone the picture stands above
    });
    for (const [on, off] of [["pointerenter", "pointerleave"], ["focus", "blur"]]) {
      b.addEventListener(on, () => { state.read = f; reading(); });
      b.addEventListener(off, () => { state.read = null; reading(); });
    }
    rungs[f.i] = b;
    return el("li", null, b);
  }
  function choose(f) { state.frame = f; show(); }
  const judges = doc.judges.filter(j => j.range);
  function axis() {
    const nav = $("ladder"), old = nav.querySelector("svg.axis");
    const top = nav.getBoundingClientRect().top;
    const ys = order.filter(f => known(f.stop)).map(f => { const r = rungs[f.i].getBoundingClientRect(); return [f.stop, r.top + r.height / 2 - top, f]; });
    const at = v => { // between the rungs in proportion, beyond them by as much
      if (ys.length < 2) return ys.length ? ys[0][1] : 0;
      let k = 0;
      while (k < ys.length - 2 && v < ys[k + 1][0]) k++;
      const [s0, y0] = ys[k], [s1, y1] = ys[k + 1];
      return s0 === s1 ? y0 : y0 + (v - s0) / (s1 - s0) * (y1 - y0);
    };
    const s = svg("svg", { class: "axis", "aria-hidden": "true" });
    if (ys.length) s.append(svg("line", { x1: 36.5, x2: 36.5, y1: ys[0][1] - 14, y2: ys[ys.length - 1][1] + 14, stroke: "var(--strong)" }));
    for (const [, y, f] of ys) {
      const t = svg("text", { x: 29, y: y + 5, "text-anchor": "end", fill: "var(--text)", "font-size": f === state.frame ? 16 : 13.5 });
      t.textContent = f.label;
      s.append(svg("line", { x1: 33, x2: 40, y1: y, y2: y, stroke: "var(--strong)" }), t);
    }
    const span = (x, lo, hi, colour) => {
      const g = svg("g", { stroke: colour, "stroke-width": 2.5, fill: "none" });
      g.append(svg("path", { d: `M${x - 3} ${at(lo)}H${x + 3}M${x - 3} ${at(hi)}H${x + 3}M${x} ${at(lo)}V${at(hi)}` }));
      s.append(g);
    };
    if (doc.range.holds) {
      span(46, doc.range.holds[0], doc.range.holds[1], "var(--white)");
      doc.range.holds.forEach((v, k) => { // how certain an end is
        const u = (doc.range.uncertainty.holds || [])[k];
        if (known(u)) s.append(svg("line", { x1: 46, x2: 46, y1: at(v - u), y2: at(v + u), stroke: "var(--white)", "stroke-width": 6, opacity: 0.28 }));
      });
    }
    if (judges.length) span(54, judges[0].range.lo, judges[0].range.hi, "var(--judge)");
    old ? old.replaceWith(s) : nav.append(s);
  }

  // The readings of a frame.
  function rows(...list) {
    const dl = el("dl.rows");
    for (const [k, v] of list) if (v !== null && v !== undefined) dl.append(el("dt", null, k), el("dd", null, v));
    return dl;
  }
  function table(heads, lines) {
    return el("div.wide", { tabindex: 0, role: "region", "aria-label": heads[0] || "table" }, el("table", null, el("thead", null, el("tr", null, ...heads.map(h => el("th", { scope: "col" }, h)))),
      el("tbody", null, ...lines.map(l => el("tr" + (l.kind ? "." + l.kind : ""), null, ...l.cells.map(c => el("td", null, c)))))));
  }
  const decimals = c => c.key === "contrastKept" ? 0 : 1;
  const key = { lostArea: "lostArea", deltaE: "deltaE", noise: "noiseL", crossover: "crossover", contrastKept: "contrastKept" };
  const costCell = (c, k) => { const v = k && k[key[c.key]]; return known(v) ? fixed(v * c.scale, decimals(c)) : none; };
  function reading() {
    const f = state.read || state.frame, box = $("reading");
    const bands = f.bands || {};
    const parts = el("div.parts");
    const a = el("div", null, rows(
      ["Verdict", verdictWords(f)], ["Limits suggest", f.base ? null : f.suggested || none], ["Because", f.decided || null],
      ["Blown", share(f, "Blown")], ["Blocked", share(f, "Blocked")], ["Noisy", share(f, "Noisy")], ["Lost", share(f, "Lost")],
      ["Measured stop", known(f.measuredStop) ? signed(f.measuredStop, 2) + (known(f.measuredStopError) ? " \u00b1 " + fixed(f.measuredStopError, 2) : "") : none],
      ["Crossover left", known(f.crossover) ? fixed(f.crossover, 1) + " \u0394E00" : none]));
    if (f.note) a.append(el("h3", null, "Note"), el("p.note", { dir: "auto" }, f.note));
    if (f.casts) a.append(el("h3", null, "Casts"), el("p", null, f.casts));
    const b = el("div", null, el("h3", null, "What salvage costs"), table(["Grade", ...said.criteria.map(c => c.head)],
      f.base || !f.salvage ? [] : ["exposure", "balance", "curves"].map(g => ({ kind: g === doc.limits.grade ? "now" : "", cells: [g, ...said.criteria.map(c => costCell(c, f.salvage[g]))] }))));
    if (f.base) b.append(el("p", null, "The other frames are brought to this one: it costs nothing."));
    else if (!f.salvage) b.append(el("p", null, "It is not measured; the notes say why."));
    b.append(el("h3", null, "Tonal bands"), table(["Band", "L*", "a*", "b*", "\u0394L*", "noise L*"], ["highlights", "midtones", "shadows"].map(n => {
      const v = bands[n];
      return { cells: [n, figure(v && v.L, 1), v ? signed(v.a, 1) : none, v ? signed(v.b, 1) : none, v ? signed(v.dL, 1) : none, figure(v && v.noiseLSalvaged, 2)] };
    })));
    if (f.error) a.append(el("h3", null, "Not read"), el("p", null, f.error));
    parts.append(a, b);
    box.replaceChildren(el("h2", null, f.label + (f.base ? " base " : " "), el("small", null, f.file)), parts);
    if (f.notes.length) box.append(el("h3", null, "Notes"), el("p", null, f.notes.join("\n")));
  }

  // What the roll comes to.
  function article() {
    const box = $("words");
    const sec = (title, ...c) => box.append(el("section", null, el("h2", null, title), ...c));
    for (const j of doc.judges) if (j.finding) {
      sec(j.judge ? "Finding, in the words of " + j.judge : "Finding, in the judge's words", el("p.own", { dir: "auto" }, j.finding));
    }
    if (doc.finding.length) sec(doc.judges.some(j => j.finding) ? "Finding, as measured" : "Finding", ...doc.finding.map(t => el("p", null, t)));
    const ends = [];
    for (const l of ["holds", "strains"]) {
      const r = doc.range[l];
      if (!r) continue;
      const end = k => signed(r[k], 2), off = k => { const u = (doc.range.uncertainty[l] || [])[k]; return known(u) ? fixed(u, 2) : "open"; };
      const by = k => { const c = said.criteria.find(c => c.key === (doc.range.endedBy[l] || [])[k]); return c ? c.title : "open"; };
      ends.push({ cells: [word(l), end(0), off(0), by(0), end(1), off(1), by(1)] });
    }
    if (ends.length || judges.length) {
      const t = table(["Range, stops", "from", "\u00b1", "ended by", "to", "\u00b1", "ended by"], ends);
      const p = judges.map(j => el("p", null, "Judge's range" + (j.judge ? " (" + j.judge + ")" : "") + ": " + quarters(j.range.lo) + " to " + quarters(j.range.hi) + " stops."));
      sec("Range", t, ...p);
    }
    for (const r of doc.range.reasons) sec("No range", el("p", null, r));
    const lines = order.map(f => ({ kind: f === base ? "now" : "", cells: [f.label + (f.base ? " base" : ""), ...said.criteria.map(c => costCell(c, cost(f))), f.base ? none : word(f.suggested || "") === "Not judged" ? none : word(f.suggested), f.verdict ? word(f.verdict) : none] }));
    for (const l of ["holds", "strains"]) lines.push({ kind: "limit", cells: ["Limit: " + l, ...said.criteria.map(c => fixed(doc.limits.limits[c.key][l] * c.scale, 1)), "", ""] });
    sec("Brought to the base frame by " + doc.limits.grade, table(["Stop", ...said.criteria.map(c => c.head), "suggested", "judge"], lines));
    if (doc.patches.length) {
      sec("Patches", table(["Patch", ...frames.map(f => f.label)], doc.patches.map(p => ({ cells: [p.name, ...p.frames.map(r => known(r.L) ? "L* " + fixed(r.L, 0) : none)] }))));
    }
    const list = t => el("ul", null, ...t.map(s => el("li", null, s)));
    if (doc.assumptions.length) sec("Assumptions", list(doc.assumptions));
    if (doc.notes.length) sec("Notes", list(doc.notes));
    box.hidden = false;
  }
  function block() {
    const add = (k, v, c) => { if (v) $("block").append(el("div" + (c ? "." + c : ""), null, el("dt", null, k), el("dd", { dir: "auto" }, v))); };
    add("Stock", doc.roll.stock);
    add("Scene", doc.roll.scene);
    add("Base exposure", doc.roll.baseExposure);
    add("Metering", doc.roll.metering);
    add("Development", doc.roll.development);
    add("Lab", doc.roll.lab);
    add("Scanner", doc.roll.scanner);
    add("Frames", String(frames.length));
    for (const j of doc.judges) add("Judge", j.judge);
    for (const j of judges) add("Judge's range", quarters(j.range.lo) + " to " + quarters(j.range.hi) + " stops", "judges");
    if (doc.range.holds) add("Measured range", doc.range.holds.map((v, k) => {
      const u = (doc.range.uncertainty.holds || [])[k];
      return signed(v, 2) + (known(u) ? " \u00b1 " + fixed(u, 2) : " or further");
    }).join(" to "));
    add("Limits", said.limits);
    add("Date", doc.roll.date);
  }

  function show() {
    for (const k of Object.keys(layouts)) buttons[k].setAttribute("aria-pressed", state.layout === k);
    buttons.scanned.setAttribute("aria-pressed", !state.salvaged); buttons.salvaged.setAttribute("aria-pressed", state.salvaged);
    for (const k of Object.keys(maskKeys)) buttons[k].setAttribute("aria-pressed", state.masks.has(k));
    for (const f of frames) rungs[f.i].setAttribute("aria-current", f === state.frame);
    if (state.left) $("left").value = state.left.i;
    const salvaged = frames.some(f => f.pictures.salvaged);
    buttons.salvaged.disabled = !salvaged;
    for (const k of Object.keys(maskKeys)) buttons[k].disabled = !frames.some(f => f.masks[k]);
    build(); axis(); reading();
  }

  block();
  $("ladder").append(el("h2", null, el("span", null, "% of the image area"), el("span", null, "Verdict")), el("ol", null, ...order.map(rung)));
  article();
  $("bench").hidden = false;
  document.documentElement.classList.add("drawn");
  if (pictured.length) show(); else { $("stage").hidden = true; state.frame = order[0]; reading(); axis(); }
  addEventListener("resize", () => { reach(); place(); axis(); });
  addEventListener("beforeprint", axis);
  new ResizeObserver(axis).observe($("ladder"));
})();
