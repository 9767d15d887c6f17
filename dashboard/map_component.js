// The pairing map: a small SVG drawing. It draws what it is handed and tells which flavouring was chosen.
const NS = "http://www.w3.org/2000/svg";
const make = (tag, attrs, parent) => {
  const e = document.createElementNS(NS, tag);
  for (const k in attrs) e.setAttribute(k, attrs[k]);
  parent?.appendChild(e);
  return e;
};
const clamp = (v, low, high) => Math.min(Math.max(v, low), Math.max(low, high));
const signed = v => (v > 0 ? "+" : v < 0 ? "−" : "") + Math.abs(v).toFixed(1);
const overlap = (a, b) => Math.min(a.w + b.w - Math.abs(a.x - b.x), a.h + b.h - Math.abs(a.y - b.y));

// ---- layout: boxes of disc and label, pushed apart at real pixel size until none overlaps ----

const pen = document.createElement("canvas").getContext("2d");
function boxes(nodes, small, font) {
  const fs = small ? 13 : 14, most = Math.max(1, ...nodes.map(n => n.trials));
  pen.font = `600 ${fs}px ${font}`;
  return nodes.map(n => {
    const r = (small ? 6 : 7) + 9 * Math.sqrt(n.trials / most), lines = wrap(n.name, small ? 88 : 150);
    const wide = Math.max(...lines.map(l => pen.measureText(l).width), 2 * r), deep = lines.length * (fs + 2);
    return { n, id: n.id, r, fs, lines, w: wide / 2 + 4, h: (2 * r + deep + 6) / 2, drop: (deep + 2) / 2 };
  });
}

// a name in one line or two; what fits in neither ends in an ellipsis (the whole name is told on choosing)
function wrap(name, limit) {
  const fits = t => pen.measureText(t).width <= limit;
  if (fits(name)) return [name];
  const words = name.split(" ");
  let first = words.shift();
  while (words.length && fits(first + " " + words[0])) first += " " + words.shift();
  return [first, words.join(" ")].filter(Boolean).map(line => {
    let cut = line;
    while (!fits(cut) && cut.length > 4) cut = cut.slice(0, -2).trimEnd() + "…";
    return cut;
  });
}

function spread(B, W, H) {
  const xs = B.map(b => b.n.x), ys = B.map(b => b.n.y);
  const scale = (v, all, low, high) => {
    const least = Math.min(...all), range = Math.max(...all) - least;
    return low + (range ? (v - least) / range : .5) * (high - low);
  };
  for (const b of B) { b.x = scale(b.n.x, xs, 60, W - 60); b.y = scale(b.n.y, ys, 30, H - 30); }
  for (let round = 0; round < 500; round++) {
    let hit = false;
    for (let i = 0; i < B.length; i++) for (let j = i + 1; j < B.length; j++) {
      const a = B[i], b = B[j], dx = b.x - a.x || .01 * (j - i), dy = b.y - a.y || .01;
      const ox = a.w + b.w - Math.abs(dx), oy = a.h + b.h - Math.abs(dy);
      if (ox <= 0 || oy <= 0) continue;
      hit = true;
      if (ox < oy) { const s = Math.sign(dx) * (ox * .3 + .2); a.x -= s; b.x += s; }
      else { const s = Math.sign(dy) * (oy * .3 + .2); a.y -= s; b.y += s; }
    }
    for (const b of B) { b.x = clamp(b.x, b.w + 2, W - b.w - 2); b.y = clamp(b.y, b.h + 2, H - b.h - 2); }
    if (!hit) return true;
  }
  return false;
}

function layout(nodes, edges, W, height, font) {
  const small = W < 560, B = boxes(nodes, small, font), tied = B.filter(b => !b.n.loose), loose = B.filter(b => b.n.loose);
  const area = tied.reduce((s, b) => s + 4 * b.w * b.h, 0);
  const room = Math.min(height - 26 * Math.min(loose.length, 8), 70 * tied.length);     // few marks need little
  let H = Math.max(room, area / W * 1.9);
  for (let i = 0; i < 8 && !spread(tied, W, H); i++) H *= 1.15;     // grow rather than print one label over another
  H = rows(loose, W, H);
  turn(B, edges);
  return { B, H };
}

// a name stands below its mark, or above it where fewer lines go up than down
function turn(B, edges) {
  const P = new Map(B.map(b => [b.id, b]));
  const met = b => edges.flatMap(e => e.a === b.id ? [P.get(e.b)] : e.b === b.id ? [P.get(e.a)] : []).filter(Boolean);
  for (const b of B) {
    const hits = up => { const o = { ...b, up }, p = eye(o); return met(b).filter(q => crosses(p, p, q, label(o))).length; };
    b.up = hits(true) < hits(false);
  }
}

// the middle of a mark
const eye = b => ({ x: b.x, y: b.y + (b.up ? b.drop : -b.drop) });

// what hangs on nothing stands in rows below
function rows(B, W, top) {
  let x = 6, y = top, deep = 0;
  for (const b of B) {
    if (x + 2 * b.w > W - 6 && x > 6) { x = 6; y += deep; deep = 0; }
    Object.assign(b, { x: x + b.w, y: y + b.h + 2 });
    x += 2 * b.w + 4;
    deep = Math.max(deep, 2 * b.h + 6);
  }
  return B.length ? y + deep + 4 : top;
}

// a weight goes where it covers no label and no other weight; if there is no such place, it may cover a faded label
function weightPlaces(edges, P, B, from) {
  const lit = new Set(edges.flatMap(e => [e.a, e.b])), put = [];
  const free = (box, all) => !B.some(b => (all || lit.has(b.id)) && overlap(box, b) > 0) && !put.some(q => overlap(box, q) > 0);
  for (const e of edges) {
    const spots = [...along(P.get(from), P.get(e.a === from ? e.b : e.a))];
    const spot = spots.find(s => free(s, true)) ?? spots.find(s => free(s, false));
    if (spot) put.push({ ...spot, e });
  }
  return put;
}

function* along(a, b) {
  const d = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  for (const side of [0, 16, -16, 30, -30, 46, -46, 64, -64]) for (const t of [.5, .58, .42, .66, .34, .74, .26, .82, .18]) {
    yield { x: a.x + (b.x - a.x) * t - (b.y - a.y) / d * side, y: a.y + (b.y - a.y) * t + (b.x - a.x) / d * side, w: 20, h: 12 };
  }
}

// a line keeps clear of the marks that it does not join and of all labels: it bends as little as that takes
const BOW = .7;                                                 // of its length: a wider one is worse than what it avoids
const BENDS = [0, 24, -24, 48, -48, 80, -80, 120, -120, 170, -170];
function route(a, b, B) {
  const p = eye(a), q = eye(b), d = Math.hypot(q.x - p.x, q.y - p.y) || 1;
  const near = B.filter(o => o !== a && o !== b && Math.abs(o.x - (p.x + q.x) / 2) < d / 2 + 200);
  const others = near.flatMap(o => [label(o), { ...eye(o), w: o.r + 3, h: o.r + 3 }]);
  others.push(label(a), label(b));
  let best = null;
  for (const bend of BENDS.filter(bend => Math.abs(bend) <= BOW * d)) {
    const c = { x: (p.x + q.x) / 2 - (q.y - p.y) / d * bend, y: (p.y + q.y) / 2 + (q.x - p.x) / d * bend };
    const hits = others.filter(o => crosses(p, c, q, o)).length;
    if (!best || hits < best.hits) best = { c, hits, bend };
    if (!hits) break;
  }
  const { c, bend } = best;
  return bend ? `M${p.x} ${p.y}Q${c.x} ${c.y} ${q.x} ${q.y}` : `M${p.x} ${p.y}L${q.x} ${q.y}`;
}

// where the words of a mark stand
function label(o) {
  const h = o.drop - 1, away = o.r + 4 + h;
  return { x: o.x, y: eye(o).y + (o.up ? -away : away), w: o.w - 4, h };
}

function crosses(p, c, q, o) {
  for (let t = .04; t < 1; t += .04) {
    const u = 1 - t, x = u * u * p.x + 2 * u * t * c.x + t * t * q.x, y = u * u * p.y + 2 * u * t * c.y + t * t * q.y;
    if (Math.abs(x - o.x) < o.w && Math.abs(y - o.y) < o.h) return true;
  }
  return false;
}

// ---- drawing ----

function draw(S) {
  const { svg, data } = S, W = Math.max(S.wrap.clientWidth || 600, 280);
  S.W = W;
  const { B, H } = layout(data.nodes, data.edges, W, data.height, getComputedStyle(S.wrap).fontFamily);
  Object.assign(S, { B, H, P: new Map(B.map(b => [b.id, b])), fit: { x: 0, y: 0, w: W, h: H } });
  svg.style.height = H + "px";
  const held = svg.getRootNode().activeElement?.dataset?.id;     // drawn anew at another width: the focus stays
  svg.replaceChildren();
  const gEdges = make("g", {}, svg), gNodes = make("g", {}, svg);
  S.gWeights = make("g", { "aria-hidden": "true" }, svg);
  const top = Math.max(.5, ...data.edges.map(e => Math.abs(e.synergy)));
  S.E = data.edges.filter(e => S.P.has(e.a) && S.P.has(e.b)).map(e => {
    const a = S.P.get(e.a), b = S.P.get(e.b), s = Math.abs(e.synergy) / top;
    const kind = "edge" + (e.synergy < 0 ? " clash" : e.tested ? "" : " guess");
    return { ...e, kind, line: make("path", { d: route(a, b, B), class: kind,
      "stroke-width": 1 + 7 * s, "stroke-opacity": .2 + .45 * s }, gEdges) };
  });
  S.N = B.map(b => node(b, S, gNodes));
  view(S, S.fit);
  paint(S);
  S.N.find(n => n.id === held)?.g.focus({ preventScroll: true });
}

function node(b, S, parent) {
  const n = b.n, with_ = S.E.filter(e => e.a === n.id || e.b === n.id)
    .map(e => [S.P.get(e.a === n.id ? e.b : e.a).n.name, e.synergy]).sort((p, q) => q[1] - p[1]);
  const g = make("g", { class: "node", tabindex: -1, role: "button", "data-id": n.id, transform: `translate(${b.x} ${eye(b).y})` }, parent);
  const said = with_.slice(0, 3).map(([name, s]) => `${name} ${signed(s)}`).join(", ");
  const about = `${n.name}, ${n.family}, ${n.trials} ${n.trials === 1 ? "cup" : "cups"}, ${with_.length} ${with_.length === 1 ? "pairing" : "pairings"} shown` + (said ? `: ${said} points` : "");
  g.setAttribute("aria-label", about);
  make("circle", { class: "hit", r: Math.max(24, b.r) }, g);
  make(...mark(n, b.r), g);
  make("circle", { class: "ring", r: b.r + 4 }, g);
  const words = make("text", { "text-anchor": "middle", "font-size": b.fs }, g);
  const first = b.up ? -b.r - 6 - (b.lines.length - 1) * (b.fs + 2) : b.r + b.fs;
  b.lines.forEach((line, i) => { make("tspan", { x: 0, y: first + i * (b.fs + 2) }, words).textContent = line; });
  return { id: n.id, g, about };
}

// families beyond the colours get another outline: disc, square, diamond
function mark(n, r) {
  const look = { class: "dot", fill: n.color }, s = r * .9;
  if (!n.shape) return ["circle", { ...look, r }];
  return ["rect", { ...look, x: -s, y: -s, width: 2 * s, height: 2 * s, rx: 2, transform: n.shape === 2 ? "rotate(45)" : "" }];
}

function paint(S) {
  const keep = new Set([S.sel]);
  S.gWeights.replaceChildren();
  for (const e of S.E) {
    const on = !S.sel || e.a === S.sel || e.b === S.sel;
    e.line.setAttribute("class", e.kind + (on ? "" : " off"));
    if (S.sel && on) { keep.add(e.a); keep.add(e.b); }
  }
  if (S.sel) for (const { e, x, y } of weightPlaces(S.E.filter(e => e.a === S.sel || e.b === S.sel), S.P, S.B, S.sel)) {
    const g = make("g", { class: "weight", transform: `translate(${x} ${y})` }, S.gWeights);
    make("rect", { x: -19, y: -11, width: 38, height: 22, rx: 6 }, g);
    make("text", { "text-anchor": "middle", y: 5, "font-size": 14 }, g).textContent = signed(e.synergy);
  }
  const home = S.N.some(n => n.id === S.sel) ? S.sel : S.N[0]?.id;
  for (const n of S.N) {
    n.g.setAttribute("class", "node" + (n.id === S.sel ? " on" : "") + (S.sel && !keep.has(n.id) ? " off" : ""));
    n.g.setAttribute("aria-pressed", String(n.id === S.sel));
    n.g.setAttribute("tabindex", n.id === home ? 0 : -1);     // one stop for the tab key, arrows move inside
  }
  say(S, S.N.find(n => n.id === S.sel));
}

const say = (S, n) => { S.tip.textContent = n ? n.about : "Choose a flavouring to see what goes with it."; };
function choose(S, id) { S.sel = id === S.sel ? null : id; paint(S); S.emit("selected", S.sel); }

// ---- looking around: buttons, wheel, drag, pinch ----

function view(S, v) {
  S.view = v;
  S.svg.setAttribute("viewBox", `${v.x} ${v.y} ${v.w} ${v.h}`);
  S.svg.classList.toggle("zoomed", v.w < S.W * .99);           // unzoomed, a finger scrolls the page past the map
}
function zoom(S, f, cx = S.view.x + S.view.w / 2, cy = S.view.y + S.view.h / 2) {
  const w = clamp(S.view.w * f, S.W / 6, S.W), k = w / S.view.w;
  move(S, { x: cx - (cx - S.view.x) * k, y: cy - (cy - S.view.y) * k, w, h: S.view.h * k });
}
const move = (S, v) => view(S, { ...v, x: clamp(v.x, 0, S.W - v.w), y: clamp(v.y, 0, S.H - v.h) });
const at = (S, ev) => {
  const r = S.svg.getBoundingClientRect();
  return [S.view.x + (ev.clientX - r.left) / r.width * S.view.w, S.view.y + (ev.clientY - r.top) / r.height * S.view.h];
};

function listen(S, bar) {
  const { svg } = S, fingers = new Map();
  let moved = 0, start = null;
  bar.querySelectorAll("[data-z]").forEach(b => { b.onclick = () => b.dataset.z === "all" ? view(S, S.fit) : zoom(S, b.dataset.z === "in" ? .7 : 1.43); });
  svg.onwheel = ev => { if (ev.ctrlKey || ev.metaKey) { ev.preventDefault(); zoom(S, ev.deltaY > 0 ? 1.1 : .9, ...at(S, ev)); } };
  svg.onpointerdown = ev => { fingers.set(ev.pointerId, ev); moved = 0; start = ev.target.closest(".node"); };
  svg.onpointermove = ev => {
    const was = fingers.get(ev.pointerId);
    if (!was) { if (ev.pointerType === "mouse") say(S, S.N.find(n => n.g === ev.target.closest?.(".node")) ?? S.N.find(n => n.id === S.sel)); return; }
    moved += Math.hypot(ev.clientX - was.clientX, ev.clientY - was.clientY);
    const k = S.view.w / svg.getBoundingClientRect().width;
    if (fingers.size === 2) {
      const other = [...fingers.entries()].find(([id]) => id !== ev.pointerId)[1];
      const apart = p => Math.hypot(p.clientX - other.clientX, p.clientY - other.clientY);
      zoom(S, apart(was) / Math.max(apart(ev), 1));
    } else if (moved > 8) move(S, { ...S.view, x: S.view.x - (ev.clientX - was.clientX) * k, y: S.view.y - (ev.clientY - was.clientY) * k });
    fingers.set(ev.pointerId, ev);
  };
  svg.onpointerup = ev => { fingers.delete(ev.pointerId); if (moved <= 8 && start) choose(S, start.dataset.id); start = null; };
  svg.onpointercancel = svg.onpointerleave = ev => { fingers.delete(ev.pointerId); start = null; };
  svg.onkeydown = ev => keys(S, ev);
}

const WAYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
function keys(S, ev) {
  const here = S.N.find(n => n.g === ev.target);
  if (!here) return;
  if (ev.key === "Enter" || ev.key === " ") { ev.preventDefault(); choose(S, here.id); }
  if (ev.key === "Escape" && S.sel) choose(S, S.sel);
  const way = WAYS[ev.key];
  if (!way) return;
  ev.preventDefault();
  const p = S.P.get(here.id);
  const near = S.N.filter(n => n !== here).map(n => {
    const q = S.P.get(n.id), dx = q.x - p.x, dy = q.y - p.y, d = Math.hypot(dx, dy) || 1;
    return { n, cos: (dx * way[0] + dy * way[1]) / d, d };
  }).filter(o => o.cos > .5).sort((a, b) => a.d / a.cos - b.d / b.cos)[0];
  if (!near) return;
  S.N.forEach(n => n.g.setAttribute("tabindex", n === near.n ? 0 : -1));
  near.n.g.focus();
  say(S, near.n);
}

export default function (component) {
  const data = JSON.parse(typeof component.data === "string" ? component.data : new TextDecoder().decode(component.data));
  const root = component.parentElement, svg = root.querySelector("svg");
  const S = svg.pairingMap ?? (svg.pairingMap = { svg, wrap: root.querySelector(".wrap"), tip: root.querySelector(".tip") });
  S.emit = component.setStateValue;
  const drawing = JSON.stringify([data.nodes, data.edges, data.height]), selected = data.selected ?? null;
  // redraw only when the drawing changed: an echo of the selection must not take the keyboard focus away
  if (S.drawing === drawing) { if (S.sel !== selected) { S.sel = selected; paint(S); } return; }
  Object.assign(S, { data, drawing, sel: selected });
  draw(S);
  if (!S.watch) {
    listen(S, root.querySelector(".bar"));
    S.watch = new ResizeObserver(() => { if (Math.abs(S.wrap.clientWidth - S.W) > 2) draw(S); });
    S.watch.observe(S.wrap);
    document.fonts?.ready.then(() => draw(S));
  }
  return () => { S.watch?.disconnect(); svg.pairingMap = undefined; };
}
